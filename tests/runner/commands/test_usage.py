"""Bad input: a clear message, the right exit code, no traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from audit.people import new_key
from runner import cli
from runner.host import places
from tests.runner.commands.conftest import DATA, ROOT, Command, logs

Script = Callable[..., Path]


@pytest.mark.parametrize(
    ("words", "code", "text"),
    [
        (("vreify", "x"), 2, "Did you mean verify?"),
        (("keys", "trsut", "x"), 2, "Did you mean trust?"),
        (("run", "TV-T9"), 2, "nearest: TV-T1; enrolled: TV-T1"),
        (("run", "nothing like it"), 2, "enrolled: TV-T1"),
        (("run", "TV-T1"), 2, "needs a terminal"),
        (("demo",), 2, "needs a terminal"),
        (("resume",), 2, "needs a terminal"),
        (("demo", "--json"), 2, "--json goes with --answers"),
        (("demo", "--theme", "pink"), 2, "'pink' is not one of"),
        (("demo", "--nonsense"), 2, "--nonsense"),
        (("demo", "--only", "Befor start", "--answers", "A"), 2, "nearest: Before start"),
        (("demo", "--crew", "commander=X", "--answers", "A"), 2, "crew of its own"),
        (("run", "TV-T1", "--only", "start", "--answers", "A"), 2, "with --solo"),
        (("run", "TV-T1", "--crew", "commander=X", "--answers", "A"), 2, "leave --crew out"),
        (("verify",), 2, "Missing argument"),
        (("verify", "nowhere.jsonl"), 4, "nowhere.jsonl: cannot be read"),
        (("verify", "A", "--level", "deep"), 2, "'deep' is not one of"),
        (("verify", "A", "--also", "scirpted"), 2, "allowed are demonstration, draft"),
        (("verify", "A", "--trust", "nobody"), 4, "nobody: cannot be read"),
        (("show", "20261125"), 4, "no run '20261125'"),
        (("enrol", "nowhere", "--registration", "TV-X"), 4, "nowhere: there is no such folder"),
        (("enrol", "D/tiny"), 2, "--registration"),
        (("enrol", "D/tiny", "--registration", "TV X!"), 2, "letters, digits and hyphens"),
        (("enrol", "D/tiny", "--registration", "TV-X", "--fit", "hok"), 2, "allowed: hook"),
        (("enrol", "D/bad", "--registration", "TV-X"), 3,
         "aircraft.yaml:1:1: the key 'operator' is missing"),
        (("keys", "new", "A Holt"), 2, "at a terminal"),
        (("keys", "trust", "A Holt"), 4, "latchword keys new 'A Holt'"),
        (("keys", "trust", "A Holt", "--key", "A"), 4, "not trusted"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_with_what_can(
    words: tuple[str, ...], code: int, text: str, command: Command, tiny: str, script: Script
) -> None:
    answers = script("page read")
    bad = answers.parent / "bad"
    (bad / "lists").mkdir(parents=True)
    (bad / "aircraft.yaml").write_text("aircraft: bad\ntitle: Bad\nday: [nothing]\n")
    given = [
        str(answers) if w == "A" else str(bad) if w == "D/bad" else w.replace("D/", f"{DATA}/")
        for w in words
    ]
    said = command(*given)
    assert said.code == code, said
    assert text in said.err
    assert said.out == ""


def test_faults_of_documents_say_where(command: Command, tmp_path: Path) -> None:
    import shutil

    shutil.copytree(DATA / "tiny", tmp_path / "tiny")
    path = tmp_path / "tiny" / "lists" / "start.yaml"
    text = path.read_text("utf-8").replace("answer: RELEASED", "anwser: RELEASED")
    path.write_text(text, "utf-8")
    said = command("enrol", tmp_path / "tiny", "--registration", "TV-X")
    assert said.code == 3
    assert "start.yaml" in said.err
    assert "anwser" in said.err
    assert "answer" in said.err
    assert command("run").err.startswith("no aircraft is enrolled")


def test_a_place_that_cannot_be_written(
    command: Command, tiny: str, script: Script, tmp_path: Path
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    said = command("run", tiny, "--answers", script("page read"), "--log-dir", blocked / "logs")
    assert said.code == 4
    assert str(blocked) in said.err


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="nothing here is read-only for all")
def test_a_read_only_place(command: Command, tiny: str, script: Script) -> None:
    said = command("run", tiny, "--answers", script("page read"), "--log-dir", "/proc/latchword")
    assert said.code == 4
    assert "/proc/latchword" in said.err


def test_a_configuration_that_cannot_be_written(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    monkeypatch.setattr(places, "config", lambda: blocked)
    said = command("enrol", DATA / "tiny", "--registration", "TV-T1")
    assert said.code == 4
    assert "cannot be written" in said.err
    assert command("demo", "--answers", os.devnull).code == 4


def test_an_enrolment_that_somebody_broke(command: Command, tiny: str, script: Script) -> None:
    path = places.config() / "aircraft" / "TV-T1.json"
    for text in ("", "{", "[]", '{"registration": "x y"}', '{"registration": 5}', "\xff"):
        path.write_bytes(text.encode("latin-1"))
        said = command("run")
        assert said.code in (2, 4)
        assert said.err
        assert "TV-T1" in said.err or "registration" in said.err
        assert command("doctor").code == 1


def test_documents_that_went_away(command: Command, script: Script, tmp_path: Path) -> None:
    import shutil

    shutil.copytree(DATA / "short", tmp_path / "short")
    command("enrol", tmp_path / "short", "--registration", "TV-T3")
    shutil.rmtree(tmp_path / "short")
    said = command("run", "TV-T3", "--answers", script("page read"))
    assert said.code == 4
    assert f"{tmp_path / 'short'}: there is no such folder" in said.err
    assert command("doctor").code == 1


def test_a_key_that_is_no_key(command: Command, tiny: str) -> None:
    new_key("A Holt", None, places.keys())
    (places.keys() / "a-holt.pub").write_text("ssh-ed25519 AAAA")
    assert command("keys", "trust", "A Holt").code == 4
    (places.keys() / "a-holt.pub").write_bytes(b"\xff\xfe")
    assert command("keys", "trust", "A Holt").code == 4


def test_a_trust_file_that_somebody_broke(command: Command, short: str, script: Script) -> None:
    command("run", short, "--answers", script("commander: page read"))
    with places.trust_file().open("a") as stream:
        stream.write("what is this\n")
    said = command("verify", logs(short))
    assert said.code == 4
    assert "allowed_signers, line" in said.err


def test_ctrl_c_in_a_scripted_run_leaves_it_open(
    command: Command, short: str, script: Script, monkeypatch: pytest.MonkeyPatch
) -> None:
    from runner.host.run import Run

    def interrupted(run: Run, text: str, ask: int | None = None) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(Run, "say_line", interrupted)
        said = command("run", short, "--answers", script("page read"))
    assert (said.code, said.err.strip()) == (130, "interrupted")
    assert command("verify", logs(short)).out.startswith("unclosed ")
    said = command("resume", "--answers", script("engine stopped", "rotor stopped"))
    assert said.code == 75


def test_a_bug_of_ours_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from runner.commands import setting

    def broken() -> int:
        raise RuntimeError("no such thing")

    monkeypatch.setattr(setting, "listed", broken)
    monkeypatch.setattr(sys, "argv", ["latchword", "run"])
    assert cli._main() == 1
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "a fault of the program: RuntimeError: no such thing" in err


def test_a_reader_that_goes_away_is_no_fault(short: str, script: Script) -> None:
    path = script(*["snag smell of oil"] * 20_000)
    running = subprocess.Popen(
        [sys.executable, "-m", "runner.cli", "run", short, "--solo", "--answers", str(path)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert running.stdout is not None
    assert running.stderr is not None
    running.stdout.readline()
    running.stdout.close()
    err = running.stderr.read().decode()
    running.stderr.close()
    assert running.wait(60) == 1
    assert err == ""


def test_no_command_and_help_show_examples(process: Command) -> None:
    for words in ((), ("--help",), ("-h",)):
        said = process(*words)
        assert said.code in (0, 2)
        assert "latchword demo --plain" in said.out + said.err
        assert "no substitute for" in " ".join((said.out + said.err).split())
    assert process("--version").out.startswith("latchword")


def test_the_demonstration_offers_no_crew(process: Command) -> None:
    for command, offered in (("demo", False), ("run", True)):
        told = process(command, "--help").out
        assert "--theme" in told
        assert ("--crew" in told) == offered


def test_a_terminal_without_a_degree_sign(
    short: str, script: Script, monkeypatch: pytest.MonkeyPatch, process: Command
) -> None:
    monkeypatch.setenv("PYTHONIOENCODING", "ascii")
    said = process("run", short, "--solo", "--answers", script("page read", "snag 5 °C off"))
    assert said.code == 75
    assert "5 ?C OFF" in said.out.upper()
