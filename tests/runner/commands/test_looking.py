"""`show`, `verify`, `doctor`, `enrol` and `keys trust`: what is there, and what it proves."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from audit.people import new_key
from runner.host import machine, places, wakefulness
from runner.host.machine import Battery, Feed, Found, Zone
from tests.audit.agents import add, lock, make_key, needs_ssh_agent, real_agent
from tests.runner.commands.conftest import DATA, Command, logs

Script = Callable[..., Path]
START = ("commander: page read", "copilot: page read")
ALSO = ("--also", "scripted,demonstration")


@pytest.fixture
def log(command: Command, short: str, script: Script) -> Path:
    """A closed scripted run with a refusal, a correction and a snag."""
    path = script(*START, "roger", "released", "snag smell of oil", "30", "affirm", "correction 64",
                  "released", "released", "released", "closed")  # fmt: skip
    said = command("run", short, "--answers", path)
    assert said.code == 0, said
    (found,) = logs(short).glob("*.jsonl")
    return found


def test_a_timeline_can_be_read(command: Command, log: Path) -> None:
    said = command("show", log)
    assert said.code == 0
    assert said.lines[0].endswith("This shows what was answered, not that it was done.")
    assert "OPEN  crew, scripted; commander Ines Marlow, copilot Tom Aske" in said.out
    rows = [row for row in said.lines if "roger" in row.lower()]
    assert any("REFUSED: Roger answers a caution and nothing else." in row for row in rows)
    assert any("smell of oil" in row for row in said.lines)
    assert any("correct" in row.lower() and "64" in row for row in said.lines)
    assert sum("SIGNED" in row for row in said.lines) == 6
    for word in ((), (log.stem,)):
        assert command("show", *word).out == said.out
    assert command("show", log.stem[:-1] + "x").code == 4


def test_a_timeline_names_each_speaker_once(command: Command, log: Path) -> None:
    said = command("show", log)
    assert "PAGE READ  copilot Tom Aske: page read  ->" in said.out
    for role, name in (("commander", "Ines Marlow"), ("copilot", "Tom Aske")):
        assert f"{role} {name}: {role}:" not in said.out
    assert "ONLY  " not in said.out


def test_a_run_of_one_list_shows_that_the_others_are_not_done(
    command: Command, tiny: str, script: Script
) -> None:
    command("run", tiny, "--solo", "--only", "Outside", "--answers", script("page read"))
    (found,) = logs(tiny).glob("*.jsonl")
    said = command("show", found)
    assert "ONLY  Outside (outside): every other list of the day is not done" in said.out


def test_an_engine_that_nobody_stopped_is_shown_as_running(
    command: Command, tiny: str, script: Script
) -> None:
    firing = ("tick hook", "tick tie-downs", "tick nose cowl latches", "closed", "roger",
              "released", "engaged", "firing", "60")  # fmt: skip
    command("run", tiny, "--answers", script(*START, *firing, "@+85min", "say again"))
    (found,) = logs(tiny).glob("*.jsonl")
    last = command("show", found).lines[-1]
    assert last.startswith("TIMES  engine still running, so far 85 min (1.4 h), rotor 0 min")


def test_an_engine_that_was_stopped_is_not_shown_as_running(command: Command, log: Path) -> None:
    last = command("show", log).lines[-1]
    assert last.startswith("TIMES  engine ")
    assert "running" not in last


def test_a_broken_log_is_shown_up_to_where_it_breaks(command: Command, log: Path) -> None:
    whole = log.read_bytes()
    rows = whole.splitlines(keepends=True)
    log.write_bytes(whole + b'{"body":{"bo')
    torn = command("show", log)
    assert torn.code == 0
    assert "(torn: 12 bytes behind the last whole line)" in torn.out
    log.write_bytes(b"".join(rows[:6]) + b"{}\n" + b"".join(rows[7:]))
    said = command("show", log)
    assert said.code == 1
    assert "line 6 is none that a run writes" in said.err
    log.write_bytes(b"".join(rows).replace(b'"outcome":[["met"', b'"outcome":[["refused"', 1))
    assert command("show", log).code == 1
    log.write_bytes(b"\x00" * 4096)
    assert command("show", log).code in (0, 1)


def test_the_result_word_comes_first_and_only_closed_counts(command: Command, log: Path) -> None:
    whole = log.read_bytes()
    rows = whole.splitlines(keepends=True)
    said = command("verify", log, "--level", "replayed", *ALSO)
    assert (said.code, said.lines[0].split(" ")[0]) == (0, "closed")
    cases = {
        b"".join(rows[:-1]): "unclosed",
        whole[:-30]: "torn",
        whole.replace(b"smell of oil", b"smell of gas"): "rejected",
        whole + b"\n": "rejected",
    }
    for content, result in cases.items():
        log.write_bytes(content)
        said = command("verify", log, "--level", "replayed", *ALSO)
        assert (said.code, said.lines[0].split(" ")[0]) == (1, result)
        found = json.loads(command("verify", log, "--json", *ALSO).out)
        assert found["result"] == result
        assert found["path"] == str(log)
    log.write_bytes(whole)
    places.trust_file().unlink()
    said = command("verify", log, *ALSO)
    assert (said.code, said.lines[0].split(" ")[0]) == (1, "untrusted")
    assert "nobody is trusted" in said.err


def test_every_log_of_a_folder_must_count(
    command: Command, log: Path, short: str, script: Script
) -> None:
    assert command("verify", log.parent, *ALSO).code == 0
    command("run", short, "--answers", script(*START))
    said = command("verify", log.parent, *ALSO)
    assert said.code == 1
    assert sorted(line.split(" ")[0] for line in said.lines) == ["closed", "unclosed"]
    assert command("verify", log, log, *ALSO).code == 0
    open_one = next(path for path in log.parent.glob("*.jsonl") if path != log)
    assert command("verify", open_one, log, *ALSO).code == 1


def test_a_closed_log_that_does_not_count_says_why_and_what_counts_it(
    command: Command, log: Path
) -> None:
    said = command("verify", log)
    assert (said.code, said.lines[0].split(" ")[0]) == (1, "closed")
    assert said.lines[0].endswith(
        "; DOES NOT COUNT: demonstration and scripted must be named to count: "
        "--also demonstration,scripted"
    )
    said = command("verify", log, "--also", "scripted")
    assert said.code == 1
    assert "DOES NOT COUNT: demonstration must be named to count: --also demonstration," in said.out
    said = command("verify", log, *ALSO)
    assert (said.code, "COUNT" in said.out) == (0, False)
    for document in (log.parent / "documents").iterdir():
        document.unlink()
    said = command("verify", log, "--level", "replayed", *ALSO)
    assert said.code == 1
    assert said.lines[0].endswith(
        "DOES NOT COUNT: replayed was asked and full is what was verified"
    )


def test_an_empty_folder_proves_nothing(command: Command, tmp_path: Path) -> None:
    said = command("verify", tmp_path)
    assert said.code == 4
    assert "there is no log" in said.err


def test_a_missing_document_is_full_not_replayed(command: Command, log: Path) -> None:
    next((log.parent / "documents").iterdir()).unlink()
    said = command("verify", log, "--level", "replayed", *ALSO)
    assert said.code == 1
    assert "full, not replayed" in said.out


def test_the_doctor_looks_and_changes_nothing(command: Command) -> None:
    said = command("doctor", "--json")
    rows = {row["what"]: row for row in map(json.loads, said.lines)}
    assert said.code == 0
    for what in ("python", "packages", "folders", "demo documents"):
        assert rows[what]["ok"] is True
    for what in ("aircraft", "trusted keys"):
        assert rows[what]["ok"] is None
        assert rows[what]["todo"].startswith("latchword")
    assert rows["battery and heat"]["ok"] in (True, None)
    assert rows["kept awake during a run"]["ok"] in (True, None)
    assert not places.state().exists()
    assert not places.config().exists()
    plain = command("doctor")
    assert plain.code == 0
    assert len(plain.lines) == len(said.lines)
    assert plain.lines[0].startswith("ok ")


def test_the_doctor_tells_of_battery_heat_and_sleep(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = Found((Battery(34, Feed.DRAINED),), (Zone(95, 100),))
    monkeypatch.setattr(machine, "look", lambda: found)
    monkeypatch.setattr(wakefulness, "can", lambda environment: "systemd-inhibit")
    lines = command("doctor").lines
    assert lines[-2:] == [
        "ok      battery and heat: battery 34 %, not charging; hottest place 95 C, shuts down at "
        "100 C; BATTERY 34 %, NOT CHARGING; HOT: 5 C BELOW SHUTTING ITSELF DOWN",
        "ok      kept awake during a run: systemd-inhibit",
    ]
    monkeypatch.setattr(machine, "look", Found)
    monkeypatch.setattr(wakefulness, "can", lambda environment: "")
    said = command("doctor")
    assert said.code == 0
    assert said.lines[-2:] == [
        "absent  battery and heat: this system tells of none",
        "absent  kept awake during a run: nothing here can; set it never to sleep nor blank its "
        "screen",
    ]


@needs_ssh_agent
def test_the_doctor_tells_whom_an_agent_signs_for(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def told() -> tuple[int, str]:
        said = command("doctor")
        (row,) = [row for row in said.lines if " ssh-agent: " in row]
        return said.code, row

    monkeypatch.delenv("SSH_AUTH_SOCK", raising=False)
    assert told() == (0, "absent  ssh-agent: none (SSH_AUTH_SOCK)")
    hers = make_key(tmp_path / "hers", "x")
    assert command("keys", "new", "Ida Moe", "--key", f"{hers}.pub").code == 0
    new_key("Tor Moe", None, places.keys())
    assert told() == (0, "absent  ssh-agent: none (SSH_AUTH_SOCK)")
    with real_agent() as address:
        monkeypatch.setenv("SSH_AUTH_SOCK", address)
        assert told() == (0, f"ok      ssh-agent: {address}, 0 ed25519 keys, not for Ida Moe, Tor "
                          "Moe; ssh-add the key file, or sign with passphrases")  # fmt: skip
        add(address, hers, make_key(tmp_path / "ecdsa", "x", kind="ecdsa"))
        hers.rename(tmp_path / "away")
        assert told() == (0, f"ok      ssh-agent: {address}, 1 ed25519 key, signs for Ida Moe, "
                          "not for Tor Moe; ssh-add the key file, or sign with passphrases"
        )  # fmt: skip
        lock(address, "word")
        code, row = told()
        assert code == 1
        assert row.startswith(f"NOT OK  ssh-agent: {address}, 0 ed25519 keys, not for Ida Moe, Tor")
        assert "nothing here can sign for Ida Moe; ssh-add" in row
    code, row = told()
    assert code == 1
    assert "cannot be spoken to" in row
    monkeypatch.delenv("SSH_AUTH_SOCK")
    assert told() == (1, "NOT OK  ssh-agent: none (SSH_AUTH_SOCK); nothing here can sign for Ida "
                      "Moe; start one and ssh-add the key file")  # fmt: skip


def test_the_doctor_finds_what_is_wrong(
    command: Command, tiny: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert json.loads(command("doctor", "--json").lines[4])["found"] == "TV-T1"
    monkeypatch.setattr(places, "shipped", lambda: tmp_path)
    said = command("doctor")
    assert said.code == 1
    assert "NOT OK  demo documents" in said.out


def test_enrolling_again_says_so(command: Command) -> None:
    said = command("enrol", DATA / "tiny", "--registration", " tv-t1 ")
    assert said.code == 0
    assert said.out.startswith("TV-T1 enrolled: Wren T-1, revision 1, ")
    again = command("enrol", DATA / "short", "--registration", "TV-T1")
    assert again.out.startswith("TV-T1 enrolled again: Wren T-2")
    listed = command("run")
    assert (listed.code, len(listed.lines)) == (0, 1)
    assert "short" in listed.out
    assert not places.state().exists()


def test_trusting_a_key(command: Command, tmp_path: Path) -> None:
    new_key("Åsa Holt", None, places.keys())
    said = command("keys", "trust", "Åsa Holt")
    assert said.code == 0
    assert said.out.startswith("Åsa Holt is trusted: ")
    assert command("keys", "trust", "Åsa Holt").out.startswith("Åsa Holt is trusted already")
    public = new_key("R Byrne", None, tmp_path).with_name("r-byrne.pub")
    assert command("keys", "trust", "R Byrne", "--key", public).code == 0
    assert places.trust_file().read_text("utf-8").count("ssh-ed25519") == 2
