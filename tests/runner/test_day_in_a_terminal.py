"""The demonstration day as a crew works it: a real pseudo-terminal, the real program, by keys and
by words, read from the screen.

The crew is that of the scripts beside the documents; where a script says `1400`, these tests look
for the question on the screen and press the keys that it offers. The clock is told (see
`terminal_program`), so a day of two flights takes as long as its screens take to draw.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from itertools import takewhile
from pathlib import Path

import pytest

from runner.host.scripted import Input
from tests import terminal_typist
from tests.terminal_crew import work
from tests.terminal_day import DOCUMENTS, TO_THE_LISTS, demo, end_the_day, lines, script, verified
from tests.terminal_driver import Terminal
from tests.terminal_eye import Eye

DRILLS = sorted(path.stem for path in (DOCUMENTS / "answers").glob("drill_*.txt"))
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


def test_the_whole_day_by_keys(logs: Path) -> None:
    eye = Eye()
    with Terminal(demo(logs)) as screen:
        assert work(screen, script("normal"), eye) > 590
        end_the_day(screen, logs)
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
def test_a_terminal_that_knows_no_colour_gets_none(logs: Path, term: str) -> None:
    with Terminal(demo(logs), environment={"TERM": term}) as screen:
        work(screen, lines(*TO_THE_LISTS), Eye())
        screen.see_text("MAINTENANCE RELEASE")
        assert screen.colours() == {"default"}


def test_lists_a_drill_and_the_way_home_at_the_cockpit_size(logs: Path) -> None:
    eye = Eye()
    with Terminal(demo(logs), 40, 12) as screen:
        work(screen, script("drill_generator_failure"), eye)
        end_the_day(screen, logs)
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
        end_the_day(screen, logs)
    assert eye.drills
    assert verified(logs) == "closed"


@pytest.mark.long
@pytest.mark.parametrize("size", [(40, 12), (132, 40)], ids=["40x12", "132x40"])
def test_the_whole_day_at_other_sizes(logs: Path, size: tuple[int, int]) -> None:
    with Terminal(demo(logs), *size) as screen:
        work(screen, script("normal"), Eye())
        end_the_day(screen, logs)
    assert verified(logs) == "closed"
