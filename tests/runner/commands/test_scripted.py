"""Scripted runs: what they print, how they end, what they leave."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from audit.folder import LogFolder
from runner.host.places import shipped
from runner.host.scripted import parse
from tests.runner.commands.conftest import Command, logs

Script = Callable[..., Path]
READ = ("commander: page read", "copilot: page read")
DAY = (*READ, "released", "64", "released", "released", "released", "closed")


def test_the_demonstration_day_from_the_first_challenge_to_closed(
    command: Command, tmp_path: Path
) -> None:
    answers = shipped() / "corvane_c4" / "answers" / "normal.txt"
    place = tmp_path / "logs"
    said = command("demo", "--answers", answers, "--json", "--log-dir", place)
    assert (said.code, said.err) == (0, "")
    rows = [json.loads(line) for line in said.lines]
    assert all(row.keys() == {"at", "kind", "text"} for row in rows)
    assert [row["at"] for row in rows] == sorted(row["at"] for row in rows)
    assert {"answer", "call", "echo", "outcome", "status"} <= {row["kind"] for row in rows}
    assert not [row for row in rows if row["kind"] == "refused"]
    assert rows[-1]["kind"] == "closed"
    one = command("verify", place, "--level", "replayed", "--also", "demonstration,scripted")
    assert one.code == 0
    assert one.out.startswith("closed ")
    assert "demonstration, scripted" in one.out
    for also in ((), ("--also", "demonstration"), ("--also", "scripted")):
        assert command("verify", place, "--level", "replayed", *also).code == 1


def test_lines_come_a_second_apart_and_time_passes_where_it_is_told(
    command: Command, short: str, script: Script
) -> None:
    path = script("# a crew", *READ, "@+90s", "released  # the brake", "@+2min 64", "", "@+500ms")
    said = command("run", short, "--answers", path, "--json")
    assert said.code == 75
    at = {row["text"]: row["at"] for row in map(json.loads, said.lines) if row["kind"] == "answer"}
    assert at == {
        "commander: page read": 1000, "copilot: page read": 2000, "released": 93_000,
        "64": 214_000,
    }  # fmt: skip
    assert json.loads(said.lines[-1])["at"] == 214_500


def test_the_plain_form_has_a_time_and_a_kind(command: Command, short: str, script: Script) -> None:
    said = command("run", short, "--answers", script(*DAY))
    assert said.code == 0
    assert said.lines[0] == "0:00:01  ANSWER     commander: page read"
    assert said.lines[-1].startswith("0:00:08  CLOSED     head ")


def test_an_answer_to_another_question_is_not_taken_for_this_one(
    command: Command, short: str, script: Script
) -> None:
    said = command("run", short, "--answers", script(*READ, "ask 1: released"))
    assert said.code == 75
    assert "That answered an earlier question" in said.out


@pytest.mark.parametrize(
    ("line", "kind", "text"),
    [
        ("copilot: released", "REFUSED", "The commander answers this."),
        ("wilco", "REFUSED", "Allowed: RELEASED, OFF."), ("roger", "REFUSED", "Roger answers"),
        ("relaesed", "REFUSED", "Allowed: RELEASED, OFF."),
        ("say again", "CALL", "ROTOR BRAKE?"), ("stand by", "STATUS", "STANDING BY"),
        ("not so", "OUTCOME", "Rotor brake: NOT SO, STILL ASKED"),
        ("drill nothing", "REFUSED", "no drill is called"), ("off", "ECHO", "RELEASED"),
        ("end of day", "REFUSED", "open"),
    ],
)  # fmt: skip
def test_what_a_word_comes_to(
    line: str, kind: str, text: str, command: Command, short: str, script: Script
) -> None:
    said = command("run", short, "--answers", script(*READ, line))
    assert said.code == 75
    after = said.out.partition("ANSWER     " + line)[2]
    assert any(kind in row and text in row for row in after.splitlines()), said.out


def test_a_script_that_ends_early_is_left_open_and_goes_on_later(
    command: Command, short: str, script: Script
) -> None:
    said = command("run", short, "--answers", script(*DAY[:4]))
    assert said.code == 75
    assert "LEFT OPEN" in said.lines[-1]
    half = command("verify", logs(short), "--level", "replayed", "--also", "scripted")
    assert half.code == 1
    assert half.out.startswith("unclosed ")
    more = script("engine stopped", "rotor stopped", "on the ground", "resume here", *DAY[4:])
    said = command("resume", "--answers", more)
    assert said.code == 0, said
    assert "ANSWERED BEFORE: Rotor brake, RELEASED" in said.out
    assert "ANSWERED BEFORE: Fuel, SIX FOUR" in said.out
    whole = command("verify", logs(short), "--level", "replayed", "--also", "scripted")
    assert whole.out.startswith("closed ")
    # Signed by keys that are marked as the demonstration's, in a run that was not one.
    assert "demonstration" in whole.out
    assert (
        command("verify", logs(short), "--level", "replayed", "--also", "scripted,demonstration")
    ).code == 0
    said = command("resume", "--answers", more)
    assert said.code == 4
    assert "no run that was left open" in said.err


def test_a_scripted_start_leaves_an_open_run_for_good_and_says_so(
    command: Command, short: str, script: Script
) -> None:
    command("run", short, "--answers", script(*DAY[:4]))
    first = next(logs(short).glob("*.jsonl")).stem
    said = command("run", short, "--answers", script(*DAY))
    assert said.code == 0
    assert f"{first} was left open; it is left so for good" in said.err
    said = command("resume", first, "--answers", script(*DAY))
    assert said.code == 4
    assert "left for good" in said.err
    second = max(p.stem for p in logs(short).glob("*.jsonl") if p.stem != first)
    said = command("resume", second, "--answers", script(*DAY))
    assert (said.code, said.out) == (1, "")
    assert f"{second} is closed" in said.err


def test_whoever_was_in_the_crew_signs(command: Command, short: str, script: Script) -> None:
    path = script(*DAY[:3], "crew copilot: R Byrne", "crew copilot: S Hall", *DAY[3:])
    said = command("run", short, "--answers", path)
    assert said.code == 0, said
    verdict = command("verify", logs(short), "--also", "scripted,demonstration")
    assert verdict.code == 0
    for name in ("Ines Marlow", "Tom Aske", "R Byrne", "S Hall"):
        assert name in verdict.out


@pytest.mark.parametrize("mode", ["--solo", "--single-pilot"])
def test_one_person_for_every_role(mode: str, command: Command, short: str, script: Script) -> None:
    said = command("run", short, mode, "--answers", script("page read", *DAY[2:]))
    assert said.code == 0
    verdict = command("verify", logs(short), "--level", "replayed", "--also",
                      "scripted,demonstration,solo")  # fmt: skip
    assert verdict.code == 0
    assert ("not crew-verified" in verdict.out) == (mode == "--solo")


def test_only_one_list_and_the_others_read_not_done(
    command: Command, tiny: str, script: Script
) -> None:
    path = script("page read", "tick hook", "tick tie-downs", "fault nose cowl latches")
    said = command("run", tiny, "--solo", "--only", "Outside", "--answers", path)
    assert said.code == 75
    assert "Rotor brake" not in said.out


JUNK = bytes(range(256)) * 40


@pytest.mark.parametrize(
    "junk",
    [JUNK, b"\x00" * 5000, b"x" * 1_000_000, b"released " * 130_000, b"\xff\xfe\x00r", b"",
     b"\x1b[2J\x1b]0;x\x07\n", "\u202ereleased\n".encode(), b'"' * 70_000, b"ask 9999999999: x\n",
     b"@+9999999h released\n", b"@+9999999h " * 9 + b"released\noff\n"],
    ids=["every byte", "nul", "1 MB", "1 MB of words", "utf-16", "empty", "escapes",
         "right to left", "quotes", "ask", "a long time", "no time"],
)  # fmt: skip
def test_junk_answers_nothing_and_the_log_stays_whole(
    junk: bytes, command: Command, short: str, tmp_path: Path
) -> None:
    path = tmp_path / "junk.txt"
    path.write_bytes("\n".join(READ).encode() + b"\n" + junk)
    said = command("run", short, "--answers", path)
    assert said.code == 75
    assert "\x1b" not in said.out
    verdict = command("verify", logs(short), "--level", "replayed", "--json")
    found = json.loads(verdict.out)
    assert (found["result"], found["level"]) == ("unclosed", "replayed")


def test_a_script_is_read_before_a_run_begins(command: Command, short: str, tmp_path: Path) -> None:
    missing = command("run", short, "--answers", tmp_path / "nothing.txt")
    assert missing.code == 4
    assert "nothing.txt: cannot be read" in missing.err
    assert command("run", short, "--answers", tmp_path).code == 4
    huge = tmp_path / "huge.txt"
    with huge.open("wb") as stream:
        stream.truncate(17 * 1024 * 1024)
    assert command("run", short, "--answers", huge).code == 2
    assert not list(logs(short).glob("*.jsonl")) if logs(short).exists() else True
    assert command("resume", "--answers", tmp_path / "nothing.txt").code == 4


def test_one_active_run_a_folder(command: Command, short: str, script: Script) -> None:
    path = script(*DAY)
    assert command("run", short, "--answers", path).code == 0
    with LogFolder.open(logs(short)):
        said = command("run", short, "--answers", path)
        assert said.code == 4
        assert "is in use by another process" in said.err
        assert command("verify", logs(short), "--also", "scripted,demonstration").code == 0
    command("run", short, "--answers", script(*DAY[:3]))
    with LogFolder.open(logs(short)):
        assert command("resume", "--answers", path).code == 4


@pytest.mark.parametrize(
    ("line", "passes", "text"),
    [
        ("released", 1000, "released"), ("  released  ", 1000, "released"),
        ("@+90s", 90_000, ""), ("@+90s released", 91_000, "released"), ("@+5", 5000, ""),
        ("@+1h @+2min @+3s @+4ms x", 3_724_004, "x"), ("@+90", 90_000, ""),
        ("@-90s", 1000, "@-90s"), ("@+x", 1000, "@+x"), ("snag \"a # b\"", 1000, 'snag "a # b"'),
        ("snag a # b", 1000, "snag a"),
    ],
)  # fmt: skip
def test_a_line_of_a_script(line: str, passes: int, text: str) -> None:
    (given,) = parse([line])
    assert (given.passes, given.text) == (passes, text)


def test_comments_and_empty_lines_are_no_input() -> None:
    assert list(parse(["", "   ", "# x", "  # y"])) == []


def test_what_is_due_on_the_way_happens_at_its_own_time(
    command: Command, tiny: str, script: Script
) -> None:
    path = script(
        *READ, "tick hook", "tick tie-downs", "tick nose cowl latches", "closed", "roger",
        "released", "engaged", "@+120s",
    )  # fmt: skip
    said = command("run", tiny, "--answers", path, "--json")
    rows = [json.loads(line) for line in said.lines]
    began = next(row["at"] for row in rows if row["text"] == "engaged")
    timer = [(row["at"] - began, row["text"]) for row in rows if row["kind"] == "timer"]
    assert [at for at, _ in timer] == [0, 10_000, 20_000, 30_000]
    assert timer[1][1].startswith("ONE ZERO SECONDS")
    assert timer[3][1].startswith("NO OIL PRESSURE, STOP ENGINE. DRILL OIL PRESSURE LOW")


def test_a_script_of_the_demonstration_is_the_same_day_each_time(
    command: Command, tmp_path: Path
) -> None:
    """What the first playing leaves (an engine just stopped) would make the second another day."""
    answers = shipped() / "corvane_c4" / "answers" / "drill_fire_in_start.txt"
    place = tmp_path / "logs"
    first, second = (command("demo", "--answers", answers, "--log-dir", place) for _ in range(2))
    assert (first.code, second.code) == (0, 0)
    assert [r for r in first.lines if "CLOSED" not in r] == [
        r for r in second.lines if "CLOSED" not in r
    ]
