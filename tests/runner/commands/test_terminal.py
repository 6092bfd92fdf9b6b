"""The command at a terminal of its own: keys, passphrases, plain lines, and what does not end it.

Answers are said again until they are taken: a line within 0.4 s of a new question belongs to the
one before it, and no test waits for time to pass.
"""

from __future__ import annotations

import os
import re
import shlex
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from audit.people import load_signer
from runner.host import places
from tests.runner.commands.conftest import ROOT, Command, logs

pexpect = pytest.importorskip("pexpect")
pytestmark = pytest.mark.skipif(os.name == "nt", reason="there are no pseudo-terminals there")

SECRET = "correct horse"


def _interruptible() -> None:
    """A shell that starts the tests in the background hands down an ignored Ctrl-C."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


@contextmanager
def terminal(*words: str) -> Iterator[Any]:
    """The command in a pseudo-terminal."""
    child = pexpect.spawn(
        sys.executable, ["-m", "runner.cli", *words], timeout=30, encoding="utf-8",
        dimensions=(24, 160), env={**os.environ, "PYTHONPATH": str(ROOT), "TERM": "dumb"},
        preexec_fn=_interruptible,
    )  # fmt: skip
    child.delaybeforesend = None
    try:
        yield child
    finally:
        child.close(force=True)


def end(child: Any) -> tuple[int, str]:
    """Waits until it ends: its exit code and the last it said."""
    child.expect(pexpect.EOF)
    child.close()
    assert "Traceback" not in child.before
    return child.exitstatus, child.before


def answer(child: Any, line: str, taken: str) -> None:
    """Says a line until it is taken: what it brought is seen, as an echo alike is not."""
    late = time.monotonic() + 30
    while time.monotonic() < late:
        child.sendline(line)
        found = child.expect([taken, "earlier question", "Nothing is asked now"])
        if found == 0:
            return
    raise AssertionError(f"{line} was never taken")


def make_key(name: str, secret: str = SECRET) -> None:
    with terminal("keys", "new", name) as child:
        child.expect("New passphrase for")
        child.sendline(secret)
        child.expect("The same again")
        child.sendline(secret)
        code, said = end(child)
        assert code == 0, said


@pytest.mark.parametrize(
    ("first", "second", "text"),
    [
        (SECRET, SECRET + "x", "the two passphrases differ; no key was made"),
        ("short", "short", "at least 8 characters; no key was made"),
        ("", "", "at least 8 characters; no key was made"),
    ],
)
def test_no_key_is_made_of_a_passphrase_that_will_not_do(
    first: str, second: str, text: str
) -> None:
    with terminal("keys", "new", "A Holt") as child:
        child.expect("New passphrase for A Holt: ")
        child.sendline(first)
        child.expect("The same again: ")
        child.sendline(second)
        code, said = end(child)
    assert code == 1
    assert text in said
    assert not places.keys().exists()


@pytest.mark.parametrize("key", ["\x03", "\x04"])
def test_no_key_is_made_when_the_question_is_left(key: str) -> None:
    with terminal("keys", "new", "A Holt") as child:
        child.expect("New passphrase for A Holt: ")
        child.send(key)
        code, said = end(child)
    assert code == 130
    assert "no key was made" in said
    assert not places.keys().exists()


def test_a_key_is_made_protected_and_never_written_over() -> None:
    make_key("Åsa Holt")
    path = places.key_path("Åsa Holt")
    assert b"correct" not in path.read_bytes()
    assert path.stat().st_mode & 0o077 == 0
    signer = load_signer(path, SECRET)
    assert signer.name == "Åsa Holt"
    assert signer.sign("open@latchword-v1", b"x")
    before = path.read_bytes()
    with terminal("keys", "new", "Åsa Holt") as child:
        code, said = end(child)
    assert code == 4
    assert "never written over" in said
    # nobody is asked for a passphrase that would serve nothing
    assert "assphrase" not in said
    assert path.read_bytes() == before


def test_a_flight_of_one_pilot_from_the_passphrase_to_closed(command: Command, short: str) -> None:
    make_key("Ida Moe")
    with terminal("run", short, "--plain", "--single-pilot", "--crew", "commander=Ida Moe") as run:
        run.expect("Passphrase of Ida Moe: ")
        run.sendline("not this one")
        run.expect("wrong passphrase.*try again, 2 more")
        run.expect("Passphrase of Ida Moe: ")
        run.sendline(SECRET)
        run.expect("MODE: plain lines")
        run.expect("still to read it")
        answer(run, "page read", "FIRST SCREEN READ")
        answer(run, "released", "CALL 2 ")
        # Ctrl-C ends nothing.
        run.send("\x03")
        run.expect("Ctrl-C does not end a run")
        answer(run, "64", "HEARD: 64 kg.*CALL 3 ")
        answer(run, "released", "CALL 4 ")
        answer(run, "released", "CALL 5 ")
        answer(run, "released", "CALL 6 ")
        answer(run, "closed", "LIST CLOSED")
        run.sendline("end of day")
        run.expect("Passphrase of Ida Moe: ")
        run.sendline(SECRET)
        code, said = end(run)
    assert code == 0
    assert re.search("the log is closed, head [0-9A-F]{4} [0-9A-F]{4}", said)
    # a receipt for whoever stands there, without a picture in plain lines
    assert re.search("LATCHWORD/1/[0-9A-F]{64}/[0-9A-Z-]+/1/[0-9]+/CLOSED/", said)
    assert not set("▀▄█") & set(said)
    said_ = command("verify", logs(short), "--level", "replayed")
    assert (said_.code, said_.out.split(" ")[0]) == (1, "untrusted")
    assert command("keys", "trust", "Ida Moe").code == 0
    said_ = command("verify", logs(short), "--level", "replayed")
    assert (said_.code, said_.out.split(" ")[0]) == (0, "closed"), said_


def test_a_passphrase_that_stays_wrong_begins_nothing(command: Command, short: str) -> None:
    make_key("Ida Moe")
    with terminal("run", short, "--plain", "--single-pilot", "--crew", "commander=Ida Moe") as run:
        for _ in range(3):
            run.expect("Passphrase of Ida Moe: ")
            run.sendline("not this one")
        code, said = end(run)
    assert code == 1
    assert "wrong passphrase for Ida Moe" in said
    assert not list(logs(short).glob("*.jsonl"))
    with terminal("run", short, "--plain", "--single-pilot", "--crew", "commander=Ida Moe") as run:
        run.expect("Passphrase of Ida Moe: ")
        run.send("\x04")
        code, said = end(run)
    assert (code, said.strip().splitlines()[-1]) == (130, "interrupted")
    assert not list(logs(short).glob("*.jsonl"))


def test_a_signature_owed_is_given_later(command: Command, short: str) -> None:
    make_key("Ida Moe")
    with terminal("run", short, "--plain", "--solo", "--crew", "commander=Ida Moe") as run:
        run.expect("Passphrase of Ida Moe: ")
        run.sendline(SECRET)
        run.expect("not crew-verified|NOT CREW|SOLO|solo")
        run.expect("still to read it")
        answer(run, "page read", "FIRST SCREEN READ")
        answer(run, "released", "CALL 2 ")
        run.sendline("leave run open")
        code, said = end(run)
    assert code == 75
    assert "latchword resume" in said
    with terminal("resume", "--plain") as run:
        run.expect("ENGINE STOPPED")
        answer(run, "engine stopped", "CALL: Rotor now")
        answer(run, "rotor stopped", "CALL: Aircraft now")
        answer(run, "on the ground", "CALL: Where to go on")
        answer(run, "resume here", "CALL 2 ")
        answer(run, "64", "HEARD: 64 kg.*CALL 3 ")
        for number in (4, 5, 6):
            answer(run, "released", f"CALL {number} ")
        answer(run, "closed", "LIST CLOSED")
        run.sendline("end of day")
        # Once for the resume, given; then for the closing, not given.
        run.expect("Passphrase of Ida Moe: ")
        run.sendline(SECRET)
        run.expect("Passphrase of Ida Moe: ")
        run.send("\x04")
        code, said = end(run)
    assert code == 75
    assert "signature owed by Ida Moe" in said
    said_ = command("verify", logs(short))
    assert "signature owed by Ida Moe" in said_.out
    with terminal("resume") as desk:
        desk.expect("Passphrase of Ida Moe: ")
        desk.sendline(SECRET)
        code, said = end(desk)
    assert code == 0
    command("keys", "trust", "Ida Moe")
    said_ = command("verify", logs(short), "--level", "replayed", "--also", "solo")
    assert (said_.code, said_.out.split(" ")[0]) == (0, "closed"), said_


def test_three_right_answers_pasted_answer_at_most_one(command: Command, short: str) -> None:
    make_key("Ida Moe")
    with terminal("run", short, "--plain", "--solo", "--crew", "commander=Ida Moe") as run:
        run.expect("Passphrase of Ida Moe: ")
        run.sendline(SECRET)
        run.expect("still to read it")
        answer(run, "page read", "FIRST SCREEN READ")
        answer(run, "released", "CALL 2 ")
        answer(run, "64", "HEARD: 64 kg.*CALL 3 ")
        # Doors, harness and covers are each answered by RELEASED.
        run.send("released\nreleased\nreleased\n")
        for _ in range(3):
            run.expect("CALL 4 |REFUSED: ")
        run.sendline("")
        run.expect("EMPTY: an empty line answers nothing")
        run.sendline("leave run open")
        assert end(run)[0] == 75
    shown = command("show")
    met = [row for row in shown.lines if "ANSWERED: " in row and "(check." in row]
    after = [row for row in met if not re.search("check.(rotor_brake|fuel)", row)]
    assert len(met) - len(after) == 2, shown.out
    assert len(after) <= 1, shown.out


def test_the_end_of_the_input_leaves_the_run_open(command: Command, short: str) -> None:
    with terminal("demo", "--plain") as run:
        run.expect("MODE: plain lines")
        run.expect("still to read it")
        run.send("\x04")
        code, said = end(run)
    assert code == 75
    assert "latchword resume" in said
    assert command("show").code == 0


def test_an_open_run_is_taken_up_or_left_for_good(command: Command) -> None:
    with terminal("demo", "--plain") as run:
        run.expect("MODE: plain lines")
        run.sendline("leave run open")
        assert end(run)[0] == 75
    with terminal("demo", "--plain") as run:
        run.expect("was left open. Take it up again .r., or leave it for good .l.")
        run.send("\x03")
        run.expect("Take it up again")
        run.sendline("what")
        run.expect("Take it up again")
        run.send("\x04")
        code, said = end(run)
    assert code == 130
    assert "nothing was started" in said
    with terminal("demo", "--plain") as run:
        run.expect("Take it up again")
        run.sendline("r")
        run.expect("still to read it")
        # Another process wants the same folder meanwhile.
        with terminal("demo", "--plain") as second:
            code, said = end(second)
        assert code == 4
        assert "is in use by another process" in said
        run.sendline("leave run open")
        assert end(run)[0] == 75
    with terminal("demo", "--plain") as run:
        run.expect("Take it up again")
        run.sendline("l")
        run.expect("it is left so for good")
        run.expect("MODE: plain lines")
        run.sendline("leave run open")
        assert end(run)[0] == 75
    verdict = command("verify", places.state() / "demonstration" / "logs")
    assert [line.split(" ")[0] for line in verdict.lines] == ["unclosed", "unclosed"]


def test_a_run_is_taken_up_by_the_command_it_named_and_is_of_its_own_aircraft() -> None:
    place = places.state() / "kept here"
    with terminal("demo", "--plain", "--log-dir", str(place)) as run:
        run.expect("still to read it")
        run.sendline("leave run open")
        code, said = end(run)
    assert code == 75
    found = re.search(r"latchword (resume \S+ --plain --log-dir .+)", said)
    assert found is not None, said
    words = shlex.split(found[1])
    assert words[-1] == str(place)
    with terminal(*words) as run:
        # The name of the folder says nothing of the aircraft.
        run.expect("AIRCRAFT: Corvane C-4 TV-C41, ")
        run.expect("still to read it")
        run.sendline("leave run open")
        assert end(run)[0] == 75


def test_junk_and_a_megabyte_at_the_terminal(command: Command, short: str) -> None:
    make_key("Ida Moe")
    with terminal("run", short, "--plain", "--solo", "--crew", "commander=Ida Moe") as run:
        run.expect("Passphrase of Ida Moe: ")
        run.sendline(SECRET)
        run.expect("still to read it")
        answer(run, "page read", "FIRST SCREEN READ")
        run.sendline("".join(chr(c) for c in (*range(0x20, 0x7F), 0xFFFD, 0x202E, 0x80)))
        run.expect("REFUSED: ")
        run.sendline("x" * 3000)
        run.expect("REFUSED: |STATE: |EMPTY: ")
        answer(run, "released", "CALL 2 ")
        run.sendline("leave run open")
        assert end(run)[0] == 75
    assert command("verify", logs(short), "--level", "replayed").out.startswith("unclosed ")


def test_a_terminal_that_vanishes_leaves_the_run_open(command: Command) -> None:
    for words in (("demo", "--plain"), ("demo",)):
        with terminal(*words, "--log-dir", str(places.state() / words[-1])) as run:
            run.expect("wrong aircraft|WRONG AIRCRAFT|read it|READ")
            run.ptyproc.fileobj.close()
            run.ptyproc.closed = run.ptyproc.terminated = run.terminated = True
            run.flush = lambda: None
            _, status = os.waitpid(run.pid, 0)
            assert os.waitstatus_to_exitcode(status) == 75
        said = command("verify", places.state() / words[-1], "--level", "replayed")
        assert said.out.startswith("unclosed ")
