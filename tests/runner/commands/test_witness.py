"""`receipt`, `countersign`, `attach`, and what `verify` says of them, as at a desk."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from audit.people import new_key
from runner.host import places
from tests.audit.agents import add, make_key, needs_ssh_agent, real_agent, ssh
from tests.runner.commands.conftest import Command, logs
from tests.runner.commands.test_scripted import DAY

Script = Callable[..., Path]
ALSO = ("--also", "scripted,demonstration")
NOTE = "read against the paper"
GOING_ON = ("engine stopped", "rotor stopped", "on the ground", "resume here")


@pytest.fixture
def log(command: Command, short: str, script: Script) -> Path:
    """A closed scripted run."""
    assert command("run", short, "--answers", script(*DAY)).code == 0
    (found,) = logs(short).glob("*.jsonl")
    return found


@pytest.fixture
def left_open(command: Command, short: str, script: Script) -> Path:
    """A scripted run left open."""
    assert command("run", short, "--answers", script(*DAY[:4])).code == 75
    (found,) = logs(short).glob("*.jsonl")
    return found


@pytest.fixture
def boss(command: Command, tmp_path: Path) -> Path:
    """The key of a supervisor who is trusted here."""
    path = new_key("Ida Rask", None, tmp_path / "boss")
    assert command("keys", "trust", "Ida Rask", "--key", f"{path}.pub").code == 0
    return path


def test_a_receipt_in_words_and_in_a_file(command: Command, log: Path, tmp_path: Path) -> None:
    out = tmp_path / "receipt.txt"
    said = command("receipt", log, "--out", out)
    assert said.code == 0
    assert said.out == out.read_text("utf-8")
    assert said.lines[0] == f"run     {log.stem}, number 1 of its device"
    assert said.lines[-1].startswith("LATCHWORD/1/")
    assert "keep it away from this machine" in said.err
    for words in ((), (log.stem,)):
        assert command("receipt", *words).out == said.out
    assert command("receipt", log, "--out", out).code == 4
    assert command("receipt", log, "--out", tmp_path / "no" / "folder").code == 4
    for given in (out, said.lines[-1]):
        checked = command("verify", log.parent, "--receipt", given, *ALSO)
        assert checked.code == 0
        assert checked.lines[1].startswith(f"witnessed {log}: lines 0 to ")
        assert checked.err == ""
        (_, row) = command("verify", log, "--receipt", given, "--json", *ALSO).lines
        assert json.loads(row)["witnessed"] == checked.lines[1]


def test_the_code_is_drawn_at_a_terminal_or_when_asked(
    command: Command, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bare = command("receipt", log).lines
    drawn = command("receipt", log, "--qr", "--color", "never").lines
    assert drawn[: len(bare)] == bare
    assert len(drawn) == len(bare) + 21
    assert {len(row) for row in drawn[len(bare) :]} == {41}
    negative = command("receipt", log, "--qr", "--color", "never", "--theme", "night").lines
    assert negative[len(bare)] == "█" * 41
    coloured = command("receipt", log, "--qr", "--color", "always").lines
    assert all(row.startswith("\x1b[30;47m") for row in coloured[len(bare) :])
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    assert len(command("receipt", log).lines) == len(drawn)
    assert command("receipt", log, "--no-qr").lines == bare
    # a code that would be broken over two rows is none
    monkeypatch.setenv("COLUMNS", "40")
    said = command("receipt", log)
    assert (said.code, said.lines) == (0, bare)
    assert "no QR code: it needs 41 columns, here are 40" in said.err
    monkeypatch.setenv("COLUMNS", "41")
    monkeypatch.setenv("LINES", "22")
    said = command("receipt", log)
    assert (len(said.lines), said.err) == (len(drawn), "")
    # one that is higher than the screen has rolled away in part, and that is said
    monkeypatch.setenv("LINES", "21")
    said = command("receipt", log)
    assert (said.code, len(said.lines)) == (0, len(drawn))
    assert said.err == (
        "the code is 21 lines high, here are 21: for a phone make the window higher or its letters "
        f"smaller, then: latchword receipt {log.stem}\n"
    )
    # without the package the receipt is given all the same
    monkeypatch.setitem(sys.modules, "segno", None)
    said = command("receipt", log)
    assert (said.code, said.lines) == (0, bare)
    assert "segno is not installed" in said.err
    assert command("receipt", log, "--qr").code == 1


def test_a_deleted_newest_run_shows_against_its_receipt_only(
    command: Command, log: Path, short: str, script: Script, tmp_path: Path
) -> None:
    assert command("run", short, "--answers", script(*DAY)).code == 0
    newest = next(path for path in log.parent.glob("*.jsonl") if path != log)
    out = tmp_path / "receipt.txt"
    assert command("receipt", newest, "--out", out).code == 0
    newest.unlink()
    blind = command("verify", log.parent, *ALSO)
    assert blind.code == 0
    assert "shows only against a receipt kept elsewhere" in blind.err
    said = command("verify", log.parent, "--receipt", out, *ALSO)
    assert said.code == 1
    assert said.lines[-1].startswith("missing: run 2 of device ")
    assert newest.stem in said.lines[-1]


def test_a_deleted_middle_run_is_a_line_with_its_code(
    command: Command, log: Path, short: str, script: Script
) -> None:
    for _ in range(2):
        assert command("run", short, "--answers", script(*DAY)).code == 0
    runs = sorted(log.parent.glob("*.jsonl"), key=lambda path: path.stat().st_mtime_ns)
    runs[1].unlink()
    said = command("verify", log.parent, *ALSO)
    assert said.code == 1
    assert said.lines[-1].startswith("missing: run 2 of device ")
    row = json.loads(command("verify", log.parent, "--json", *ALSO).lines[-1])
    assert (row["code"], row["run_seq"]) == ("missing", 2)
    assert row["why"] in said.lines[-1]


@pytest.mark.parametrize("given", ["LATCHWORD/1/x", "LATCHWORD/2/"])
def test_what_is_no_receipt_is_said(command: Command, log: Path, given: str) -> None:
    said = command("verify", log, "--receipt", given)
    assert said.code in (1, 4)
    assert "receipt" in said.err
    assert said.out == ""


def test_a_receipt_is_not_given_of_what_does_not_hold(command: Command, log: Path) -> None:
    log.write_bytes(log.read_bytes()[:900] + b"x" + log.read_bytes()[900:])
    said = command("receipt", log)
    assert (said.code, said.out) == (1, "")
    assert "no receipt: line " in said.err


def test_a_run_is_countersigned(command: Command, log: Path, boss: Path) -> None:
    words = ("countersign", log.stem, "--note", NOTE)
    said = command(*words, "--verdict", "accepted", "--key", boss)
    assert said.code == 0
    assert said.out == f"{log.with_suffix('.countersign')}: {log.stem} accepted by Ida Rask\n"
    checked = command("verify", log, "--level", "replayed", *ALSO)
    assert checked.code == 0
    assert f"countersigned accepted by Ida Rask ({NOTE})" in checked.out
    assert command(*words, "--verdict", "returned", "--key", boss).code == 0
    assert "countersigned returned by Ida Rask" in command("verify", log, *ALSO).out


def test_only_a_closed_log_is_accepted(command: Command, left_open: Path, boss: Path) -> None:
    words = ("countersign", left_open, "--note", NOTE, "--key", boss)
    said = command(*words, "--verdict", "accepted")
    assert said.code == 1
    assert "only a closed log is accepted: unclosed" in said.err
    assert not left_open.with_suffix(".countersign").exists()
    assert command(*words, "--verdict", "returned").code == 0
    checked = command("verify", left_open, *ALSO)
    assert checked.code == 1
    assert checked.out.startswith("unclosed")
    assert "countersigned returned by Ida Rask" in checked.out


def test_a_log_by_strangers_is_not_accepted(command: Command, log: Path, boss: Path) -> None:
    places.trust_file().unlink()
    said = command("countersign", log, "--note", NOTE, "--key", boss, "--verdict", "accepted")
    assert said.code == 1
    assert "only a closed log is accepted: untrusted" in said.err


def test_a_log_that_does_not_hold_is_not_countersigned(
    command: Command, log: Path, boss: Path
) -> None:
    log.write_bytes(log.read_bytes().replace(b"released", b"relaesed", 1))
    said = command("countersign", log, "--note", NOTE, "--key", boss, "--verdict", "returned")
    assert said.code == 1
    assert "not countersigned: rejected" in said.err


def test_a_passphrase_of_the_supervisor_is_asked_for(
    command: Command, log: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = new_key("Ida Rask", "long enough", tmp_path)
    asked: list[str] = []

    def ask(prompt: str) -> str:
        asked.append(prompt)
        return "mistyped" if len(asked) == 1 else "long enough"

    monkeypatch.setattr("getpass.getpass", ask)
    said = command("countersign", log, "--note", NOTE, "--key", path, "--verdict", "accepted")
    assert said.code == 0
    assert asked == ["Passphrase of Ida Rask: "] * 2
    assert "try again, 2 more" in said.err


@needs_ssh_agent
def test_a_supervisors_agent_signs_and_the_named_file_stays_shut(
    command: Command, log: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = make_key(tmp_path / "id_ed25519", "Ida Rask")
    assert command("keys", "trust", "Ida Rask", "--key", f"{made}.pub").code == 0
    opened: list[str] = []
    monkeypatch.setattr("getpass.getpass", opened.append)
    word = ("countersign", log, "--note", NOTE, "--verdict", "accepted", "--key")
    with real_agent() as address:
        add(address, made)
        monkeypatch.setenv("SSH_AUTH_SOCK", address)
        ssh("ssh-keygen", "-q", "-p", "-N", "a long phrase", "-f", made)
        assert command(*word, made).code == 0
        made.unlink()
        assert command(*word, f"{made}.pub").code == 0
    said = command("verify", log, *ALSO)
    assert (said.code, opened) == (0, [])
    assert said.out.count(f"countersigned accepted by Ida Rask ({NOTE})") == 2
    # without the agent the public half signs nothing
    monkeypatch.delenv("SSH_AUTH_SOCK")
    said = command(*word, f"{made}.pub")
    assert said.code == 4
    assert "nothing here can sign for Ida Rask: no ssh-agent is known" in said.err


@needs_ssh_agent
def test_a_key_whose_comment_is_no_name_wants_one(
    command: Command, log: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SSH_AUTH_SOCK", raising=False)
    made = make_key(tmp_path / "id_ed25519", "ida@home")
    word = ("countersign", log, "--note", NOTE, "--verdict", "accepted", "--key")
    for path in (made, f"{made}.pub"):
        said = command(*word, path)
        assert said.code == 4
        assert said.err == (
            f"{made}.pub: its comment 'ida@home' is no person's name; say whose key it is: --name "
            "NAME\n"
        )
    assert command(*word, made, "--name", "Ida Rask").code == 0


def test_a_supervisor_by_name_has_a_key_known_here(
    command: Command, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ("countersign", log, "--note", NOTE, "--verdict", "accepted")
    assert command(*words).code == 2
    assert command(*words, "--name", "Ida Rask").code == 4
    new_key("Ida Rask", None, places.keys())
    monkeypatch.delenv("SSH_AUTH_SOCK", raising=False)
    said = command(*words, "--name", "Ida Rask")
    assert (said.code, "accepted by Ida Rask" in said.out) == (0, True), said


def test_evidence_is_attached_to_a_run_left_open(
    command: Command, left_open: Path, script: Script, tmp_path: Path
) -> None:
    photo, clip = tmp_path / "Späne am Stopfen.jpg", tmp_path / "clip.wav"
    photo.write_bytes(b"\xff\xd8\xff" * 400)
    clip.write_bytes(b"RIFF")
    said = command("attach", left_open.stem, photo, clip)
    assert said.code == 0
    kept = left_open.parent / f"{left_open.stem}.attached-Spane-am-Stopfen.jpg"
    assert said.lines[0] == f"{kept}: attached to {left_open.stem}, 1200 bytes"
    assert kept.read_bytes() == photo.read_bytes()
    assert "Ines Marlow, Tom Aske, Per Lund will sign when it is closed" in said.err
    # the run goes on, its crew vouches for the entry, and everything replays
    more = script(*GOING_ON, *DAY[4:])
    assert command("resume", "--answers", more).code == 0
    checked = command("verify", left_open, "--level", "replayed", *ALSO)
    assert checked.code == 0, checked
    assert "resumed 2 times" in checked.out
    assert [row for row in command("show", left_open).lines if "ATTACH  " in row]
    # changed, missing, and one more that no line names
    (left_open.parent / f"{left_open.stem}.attached-other.jpg").write_bytes(b"x")
    assert command("verify", left_open, *ALSO).code == 0
    kept.write_bytes(photo.read_bytes()[:-1])
    checked = command("verify", left_open, *ALSO)
    assert (checked.code, checked.out.split(" ")[0]) == (1, "rejected")
    assert "is not what the log says" in checked.out
    kept.unlink()
    checked = command("verify", left_open, *ALSO)
    assert checked.code == 0
    assert f"attachment {kept.name} is not beside the log" in checked.out


def test_the_same_file_twice_and_another_of_its_name(
    command: Command, left_open: Path, tmp_path: Path
) -> None:
    clip = tmp_path / "clip.wav"
    clip.write_bytes(b"RIFF")
    assert command("attach", left_open, clip).code == 0
    assert command("attach", left_open, clip).code == 0
    lines = left_open.read_bytes()
    clip.write_bytes(b"WAVE")
    said = command("attach", left_open, clip)
    assert said.code == 4
    assert "another file stands there already" in said.err
    for missing in (tmp_path / "nowhere", tmp_path):
        assert command("attach", left_open, missing).code == 4
    (tmp_path / "empty").write_bytes(b"")
    assert (
        "1 to 67108864 bytes, this is empty" in command("attach", left_open, tmp_path / "empty").err
    )
    assert left_open.read_bytes() == lines


def test_nothing_is_attached_to_a_run_that_is_over(
    command: Command, log: Path, tmp_path: Path, short: str, script: Script
) -> None:
    clip = tmp_path / "clip.wav"
    clip.write_bytes(b"RIFF")
    before = log.read_bytes()
    said = command("attach", log, clip)
    assert said.code == 4
    assert "is closed, and nothing more is attached to it" in said.err
    assert log.read_bytes() == before
    assert not list(log.parent.glob("*attached*"))
    # nor is it called left, when another run has followed it
    assert command("run", short, "--answers", script(*DAY)).code == 0
    said = command("attach", log, clip)
    assert (said.code, "is closed, and" in said.err) == (4, True)
