"""The demonstration day as a crew works it: a real pseudo-terminal, the real program, by keys and
by words, read from the screen.

The crew is that of the scripts beside the documents; where a script says `1400`, these tests look
for the question on the screen and press the keys that it offers. The clock is told (see
`terminal_program`), so a day of two flights takes as long as its screens take to draw.
"""

from __future__ import annotations

import json
import os
import random
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from itertools import takewhile
from pathlib import Path

import pytest

from runner.engine.table import Kind, Step
from runner.engine.views import expected
from runner.flow.loader import load_aircraft
from runner.host.scripted import Input, parse, read_script
from tests import terminal_typist
from tests.terminal_crew import first_key, press, work
from tests.terminal_driver import ROOT, Terminal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")

DOCUMENTS = ROOT / "flows" / "corvane_c4"
DRILLS = sorted(path.stem for path in (DOCUMENTS / "answers").glob("drill_*.txt"))
TO_THE_LISTS = ("commander: page read", "copilot: page read")
TO_SHUT_THE_DOORS = """
@+1s copilot: off
copilot: off
copilot: off
copilot: off, valve shut
copilot: off
copilot: off
magnetos off
cut-off, closed
fuel off
off
off
closed
copilot: entered
copilot: 4127.6
copilot: 132
copilot: 141
copilot: 32
commander: none
commander: nothing accepted
commander: serviceable
commander: signed by commander
closed
ground: in, both sides
copilot: tied down
copilot: covered, four blanks in
ground: under the nose
copilot: locked
commander: in
commander: pulled
commander: taken out
commander: locked
closed
"""
"""What is left to do where nothing turned: switches, figures, and the aircraft for the night."""


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


def script(name: str) -> list[Input]:
    return read_script(DOCUMENTS / "answers" / f"{name}.txt")


def lines(*said: str) -> list[Input]:
    return list(parse(said))


def demo(logs: Path, *words: str) -> list[str]:
    return ["demo", "--log-dir", str(logs), *words]


def only_log(logs: Path) -> Path:
    (path,) = logs.glob("*.jsonl")
    return path


def verified(logs: Path) -> str:
    """What the program's own verifier says of the run, lists replayed."""
    done = subprocess.run(
        [sys.executable, "-m", "runner.cli", "verify", str(only_log(logs)),
         "--level", "replayed", "--also", "demonstration"],
        capture_output=True, text=True, encoding="utf-8", cwd=ROOT, check=False,
    )  # fmt: skip
    assert done.stderr == ""
    word = done.stdout.split()[0]
    assert (done.returncode == 0) == (word == "closed"), done.stdout
    return word


def met(logs: Path) -> list[str]:
    """The steps that were met, in the order of the log."""
    found = []
    with only_log(logs).open(encoding="utf-8") as stream:
        for row in stream:
            data = json.loads(row)["body"]["data"]
            found += [item[1] for item in data.get("outcome", []) if item[0] == "met"]
    return found


def end_the_day(screen: Terminal) -> None:
    """From the last list to the closed log."""
    screen.see_text("LISTS CLOSED, NONE OPEN")
    screen.key("+", after_ms=1000)
    assert screen.wait() == 0
    assert "the log is closed, head" in screen.text()
    assert b"Traceback" not in screen.output


@cache
def steps() -> dict[int, Step]:
    """Every step of the demonstration by the number on its card."""
    table = load_aircraft(DOCUMENTS).table
    return {step.number: step for step in table.steps.values()}


@cache
def stations() -> dict[str, list[Step]]:
    """The items of every station, in the order of their keys, by the title of its list."""
    found: dict[str, list[Step]] = {}
    for flow in load_aircraft(DOCUMENTS).table.flows.values():
        items = [step for step in flow.steps if step.kind is Kind.TICK]
        if items:
            found[flow.title.upper()] = items
    return found


def rows_title(rows: list[str]) -> str:
    """The title of the list that a screen shows."""
    found = next(m for row in rows if (m := re.match(r"(.+?) +\d+ OF \d+", row)))
    return found[1]


@cache
def awaited(number: int) -> tuple[str, ...]:
    """The texts that say what answers a step."""
    table = load_aircraft(DOCUMENTS).table
    step = steps()[number]
    if step.kind is Kind.WAIT:
        return ()
    if step.choices:
        return tuple(f"{n} {choice.text}" for n, choice in enumerate(step.choices, 1))
    return (expected(table, step),)


class Eye:
    """Looks at every screen before it is answered: nothing of what counts may be missing."""

    def __init__(self) -> None:
        self.questions: set[int] = set()
        self.drills: set[str] = set()

    def __call__(self, screen: Terminal) -> None:
        rows, text = screen.lines(), screen.text()
        assert rows[0].startswith("DEMONSTRATION"), text
        assert len(rows) == screen.rows
        drill = re.search(r"DRILL: ([A-Z ]+?) \d+ OF", text)
        if drill:
            self.drills.add(drill[1])
        key = first_key(screen.hint())
        if key == "NUMBER TICKS":
            self._station(rows, text)
            return
        called = re.compile(r"(\d+) [^a-z]*$")
        found = next((m for row in rows[:-1] if (m := called.match(row))), None)
        if found is None:
            assert key.startswith(("+ READ BY", "+ GO ON", "+ ITEMS DONE", "+ END OF DAY")), text
            return
        number = int(found[1])
        self.questions.add(number)
        step = steps()[number]
        if step.kind is not Kind.WAIT:
            assert f"{number} {step.challenge.upper()}" in text
        for words in awaited(number):
            assert words.upper() in text.upper(), f"{words} is missing:\n" + "\n".join(rows)
        if step.critical:
            assert "CRITICAL" in text

    def _station(self, rows: list[str], text: str) -> None:
        """Every item that is open stands there with what is expected of it."""
        items = stations()[rows_title(rows)]
        whole = [
            step for n, step in enumerate(items, 1)
            if re.search(rf" {n} (\[.\] )?{re.escape(f'{step.challenge} {step.response}')}", text)
        ]  # fmt: skip
        counted = re.search(r"\d TICKED, (\d) OPEN", text)
        assert len(whole) >= (int(counted[1]) if counted else len(items)), text
        self.questions.update(step.number for step in whole)


# The day --------------------------------------------------------------------------------------


def test_the_whole_day_by_keys(logs: Path) -> None:
    eye = Eye()
    with Terminal(demo(logs)) as screen:
        assert work(screen, script("normal"), eye) > 590
        end_the_day(screen)
    assert len(eye.questions) > 300
    assert verified(logs) == "closed"


def test_the_whole_day_in_plain_lines(logs: Path) -> None:
    with Terminal(demo(logs, "--plain"), columns=100) as terminal:
        assert terminal_typist.work(terminal, script("normal")) > 590
        terminal.see(lambda: "CALL: end of day?" in terminal.output.decode(), "the end of the day")
        terminal.passes(1000)
        terminal.type("end of day\r")
        assert terminal.wait() == 0
    assert b"the log is closed, head" in terminal.output
    assert b"\x1b[" not in terminal.output
    assert verified(logs) == "closed"


def first_flight() -> Iterator[Input]:
    return takewhile(lambda one: one.text != "happened passengers changed", script("normal"))


def test_a_flight_in_one_bit_colour(logs: Path) -> None:
    eye, colours, marked = Eye(), set[str](), 0

    def look(screen: Terminal) -> None:
        nonlocal marked
        eye(screen)
        colours.update(screen.colours())
        marked += screen.marked(0)

    with Terminal(demo(logs), environment={"NO_COLOR": "1"}) as screen:
        given = work(screen, first_flight(), look)
        screen.key("/", "0", "9", after_ms=100)
        screen.see_text("LEAVE THE RUN OPEN?")
        screen.key("+", after_ms=500)
        assert screen.wait() == 75
    assert given > 330
    assert len(eye.questions) > 250
    assert colours == {"default"}
    assert marked == given
    assert verified(logs) == "unclosed"


@pytest.mark.parametrize("term", ["vt100", "xterm-mono"])
@pytest.mark.xfail(reason="a terminal without colours by its name is given sixteen", strict=True)
def test_a_terminal_that_knows_no_colour_gets_none(logs: Path, term: str) -> None:
    with Terminal(demo(logs), environment={"TERM": term}) as screen:
        work(screen, lines(*TO_THE_LISTS), Eye())
        screen.see_text("MAINTENANCE RELEASE")
        assert screen.colours() == {"default"}


def test_lists_a_drill_and_the_way_home_at_the_cockpit_size(logs: Path) -> None:
    eye = Eye()
    with Terminal(demo(logs), 40, 12) as screen:
        work(screen, script("drill_generator_failure"), eye)
        end_the_day(screen)
    assert eye.drills == {"GENERATOR FAILURE"}
    assert len(eye.questions) > 130
    assert verified(logs) == "closed"


@pytest.mark.long
@pytest.mark.parametrize("name", DRILLS)
@pytest.mark.parametrize("size", [(80, 24), (40, 12)], ids=["80x24", "40x12"])
def test_every_drill_by_keys(logs: Path, name: str, size: tuple[int, int]) -> None:
    eye = Eye()
    with Terminal(demo(logs), *size) as screen:
        work(screen, script(name), eye)
        end_the_day(screen)
    assert eye.drills
    assert verified(logs) == "closed"


@pytest.mark.long
@pytest.mark.parametrize("size", [(40, 12), (132, 40)], ids=["40x12", "132x40"])
def test_the_whole_day_at_other_sizes(logs: Path, size: tuple[int, int]) -> None:
    with Terminal(demo(logs), *size) as screen:
        work(screen, script("normal"), Eye())
        end_the_day(screen)
    assert verified(logs) == "closed"


# The ends of drills, and discontinuing --------------------------------------------------------


def test_a_drill_that_lets_the_list_go_on(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS, "commander: signed, in date"))
        work(screen, lines("drill generator failure", "off, then on once", "28.1"))
        work(screen, lines("commander: charging again", "closed"))
        assert "2 HOURS TO NEXT INSPECTION" in screen.text()
        work(screen, lines("copilot: 38.4"))


def test_a_drill_that_begins_a_list_again(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS, "drill hydraulic lock felt"))
        # All at once, before anything is asked.
        assert "1 Starter or crank: LET GO 2 Magneto selector: MAGNETOS OFF" in screen.text()
        work(screen, lines(
            "memory items done", "let go", "magnetos off", "never force", "mixture cut-off",
            "stopped", "out, oil drained", "drained and free", "back and tight",
            "out, stowed", "closed",
        ))  # fmt: skip
        assert screen.text().startswith("DEMONSTRATION")
        # What stood before the drill stays open: the list that is begun again lets nothing by.
        assert "LIST CLOSED" not in screen.text()
        assert re.search(r"(TURN-THROUGH BY HAND|DOCUMENTS AND RELEASE) .*0 OF", screen.text())


def test_a_drill_after_which_the_aircraft_is_unserviceable(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS, "drill electrical smoke"))
        work(screen, take_drill_home(screen, "smoke stays"))
        screen.see_text("DEFECT")


def take_drill_home(screen: Terminal, outcome: str) -> Iterator[Input]:
    """Answers whatever the drill asks with what is shown, and its outcome as told."""
    yield from lines("memory items done")
    for _ in range(30):
        text, key = screen.text(), first_key(screen.hint())
        if "DRILL: " not in text:
            return
        if key == "NUMBER CHOOSES":
            wanted = outcome if outcome.upper() in text else _first_choice(text)
            yield from lines(wanted)
        elif key == "DIGITS, ENTER":
            yield from lines("20")
        elif key == "+ ROGER":
            yield from lines("roger")
        else:
            found = re.search(r"(?:COMMANDER|COPILOT|GROUND)[^:]*: ([A-Z, -]+?)(?: [A-Z]+:|  |$)",
                              "\n".join(screen.lines()), re.M)  # fmt: skip
            assert found, text
            yield from lines(found[1].lower())
    raise AssertionError("the drill has no end:\n" + "\n".join(screen.lines()))


def _first_choice(text: str) -> str:
    found = re.search(r" 1 ([A-Z ,]+?) 2 ", text)
    assert found, text
    return found[1].lower()


def test_a_drill_that_discontinues_and_the_way_to_the_closed_log(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS, "drill generator failure", "off, then on once", "24.1"))
        work(screen, lines("commander: on the battery", "off", "one only", "off", "off", "closed"))
        work(screen, parse(TO_SHUT_THE_DOORS.splitlines()))
        end_the_day(screen)
    assert verified(logs) == "closed"


def test_discontinuing_in_the_middle_of_a_list(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS, "commander: signed, in date", "copilot: 38.4"))
        screen.key("3")
        work(screen, lines("discontinue"))
        work(screen, parse(TO_SHUT_THE_DOORS.splitlines()))
        end_the_day(screen)
    assert verified(logs) == "closed"


# What must end nothing, and answer nothing ----------------------------------------------------


def at_the_second_question(screen: Terminal) -> None:
    work(screen, lines(*TO_THE_LISTS, "commander: signed, in date"))
    screen.see_text("2 HOURS TO NEXT INSPECTION")
    screen.passes(1000)


def test_typed_digits_stay_when_the_window_changes(logs: Path) -> None:
    chance = random.Random(20)
    with Terminal(demo(logs)) as screen:
        at_the_second_question(screen)
        screen.type("38.")
        screen.see_text("> 38._")
        for _ in range(20):
            screen.resize(chance.randint(40, 160), chance.randint(12, 50))
            screen.see(
                lambda: screen.hint().startswith("> 38._") and "2 HOURS" in screen.text(),
                "what was typed, at another size",
            )
        screen.type("4")
        screen.see_text("> 38.4_")
        screen.key("enter")
        screen.see_text("3 OPEN DEFECTS")


def test_no_control_key_ends_a_run(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        at_the_second_question(screen)
        for name in ("ctrl-c", "ctrl-d", "\x1c", "\x1a", "\x11", "\x13", "\x00"):
            screen.key("1", after_ms=1000)
            screen.see_text("> 1_")
            screen.key(name, after_ms=1000)
            screen.see_text("NO KEY ENDS A RUN")
            screen.key("backspace")
            screen.see(lambda: "> " not in screen.hint(), "an empty line again")
        assert screen.process.poll() is None
        work(screen, lines("copilot: 38.4"))


@pytest.mark.parametrize("name", ["ctrl-c", pytest.param("\x1c", marks=pytest.mark.xfail(
    reason="the quit key of the terminal ends the program in plain lines", strict=True))])  # fmt: skip
def test_no_control_key_ends_plain_lines(logs: Path, name: str) -> None:
    with Terminal(demo(logs, "--plain")) as terminal:
        terminal_typist.work(terminal, lines(*TO_THE_LISTS))
        terminal.key(name)
        terminal_typist.work(terminal, lines("commander: signed, in date"))
        assert met(logs) == ["documents.maintenance_release"]


def fence(screen: Terminal) -> None:
    """Comes back when everything typed so far has been read: the page of keys opens after it."""
    screen.passes(1000)
    screen.key("f12")
    screen.see_text("KEYS HERE")
    screen.key("escape")
    screen.see(lambda: "KEYS HERE" not in screen.text(), "the list again")


@pytest.mark.parametrize("pasted", [
    "signed, in date\r38.4\rnone open\r", "+++", "\x1b[200~signed, in date\r38.4\r1\r\x1b[201~",
    "\x1b[200~+++\x1b[201~",
], ids=["words", "keys", "bracketed words", "bracketed keys"])  # fmt: skip
def test_three_right_answers_pasted_answer_at_most_one(logs: Path, pasted: str) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS))
        screen.passes(1000)
        before = screen.face()
        screen.type(pasted)
        screen.see(lambda: screen.face() != before, "what came of the paste")
        fence(screen)
        assert len(met(logs)) <= (0 if pasted.startswith("\x1b") else 1)


def test_three_right_lines_pasted_answer_at_most_one(logs: Path) -> None:
    with Terminal(demo(logs, "--plain")) as terminal:
        terminal_typist.work(terminal, lines(*TO_THE_LISTS))
        terminal.passes(1000)
        terminal.type("signed, in date\r38.4\rnone open\r")
        terminal.see(lambda: terminal.output.decode().count("REFUSED") == 2, "two refusals")
        assert met(logs) == ["documents.maintenance_release"]


def test_a_held_key_answers_once(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS))
        screen.passes(1000)
        for _ in range(60):
            screen.key("+", after_ms=33)
        fence(screen)
        assert met(logs) == ["documents.maintenance_release"]


@pytest.mark.parametrize("seed", range(4))
def test_random_keys_pass_no_step_twice(logs: Path, seed: int) -> None:
    chance = random.Random(seed)
    keys = ["+", " ", "-", "n", "0", "1", "2", "3", "4", ".", "enter", "backspace", "*", "/", "x"]
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS))
        screen.passes(1000)
        for _ in range(20):
            screen.key(chance.choice(keys), after_ms=50)
        screen.passes(1000)
        screen.key("f12")
        screen.see_text("KEYS HERE")
        passed = met(logs)
        assert len(passed) == len(set(passed))
        # One second holds at most two guards of 0.4 s after the first answer.
        assert len(passed) <= 3


# The terminal that goes, and the run that stays -----------------------------------------------


def test_a_window_that_is_shut_leaves_a_run_to_resume(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        at_the_second_question(screen)
        screen.hang_up()
        assert screen.process.wait(timeout=30) == 75
        gone = screen.gone_ms
    before = met(logs)
    assert before == ["documents.maintenance_release"]
    with Terminal(["resume", "--log-dir", str(logs)], gone_ms=gone + 5000) as screen:
        work(screen, lines("engine stopped", "rotor stopped", "on the ground"))
        screen.see_text("ANSWERED BEFORE: Maintenance release")
        work(screen, lines("resume here"))
        assert met(logs) == before
        screen.see_text("2 HOURS TO NEXT INSPECTION")
        work(screen, lines("copilot: 38.4"))
    assert verified(logs) == "unclosed"


def test_the_end_of_plain_input_leaves_a_run_to_resume(logs: Path) -> None:
    with Terminal(demo(logs, "--plain")) as terminal:
        terminal_typist.work(terminal, lines(*TO_THE_LISTS, "commander: signed, in date"))
        terminal.see_text("CALL 2")
        terminal.key("ctrl-d")
        assert terminal.wait() == 75
        assert "Take it up again: latchword resume" in terminal.text()
        gone = terminal.gone_ms
    with Terminal(["resume", "--plain", "--log-dir", str(logs)], gone_ms=gone + 5000) as terminal:
        terminal.see_text("CHOICE 1")
        assert "Traceback" not in terminal.text()


def test_by_the_machines_own_clock_and_the_program_as_installed(logs: Path) -> None:
    """Nothing is told here: the clock is the machine's, so what is typed is words, not keys."""
    with Terminal(demo(logs), told=False) as screen:
        for words, then in (
            ("page read", "STILL TO READ THIS: COPILOT"), ("copilot: page read", "1 MAINT"),
            ("signed, in date", "2 HOURS"), ("leave run open", "resume"),
        ):  # fmt: skip
            screen.type(f"{words}\r")
            screen.see_text(then)
        assert screen.wait() == 75
    assert verified(logs) == "unclosed"
    assert os.path.exists(only_log(logs))
