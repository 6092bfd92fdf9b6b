"""At a real terminal: each kind of end of a drill, discontinuing, and a terminal that goes away."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from runner.host.scripted import Input, parse
from tests import terminal_typist
from tests.terminal_crew import first_key, work
from tests.terminal_day import (
    TO_SHUT_THE_DOORS,
    TO_THE_LISTS,
    at_the_second_question,
    demo,
    end_the_day,
    lines,
    met,
    only_log,
    verified,
)
from tests.terminal_driver import Terminal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


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
        for item in ("1 Starter or crank: LET GO", "2 Magneto selector: MAGNETOS OFF"):
            assert item in screen.text()
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


def _enter(screen: Terminal) -> None:
    """Enter, pressed again as long as it came too soon after the first letter."""
    tries = 0
    while True:
        written = len(screen.output)
        screen.type("\r")
        screen.see(lambda since=written: len(screen.output) > since, "what came of Enter")  # type: ignore[misc]
        screen.see(lambda: "WORDS" not in screen.hint() or "TYPED TOO" in screen.text(), "Enter")
        if "WORDS" not in screen.hint():
            return
        tries += 1
        assert tries < 10_000


def test_by_the_machines_own_clock_and_the_program_as_installed(logs: Path) -> None:
    """Nothing is told here: the clock is the machine's, so what is typed is words, not keys."""
    with Terminal(demo(logs), told=False) as screen:
        for words, then in (
            ("page read", "say who answers"),
            ("commander: page read", "READ BY 2 COPILOT"),
            ("copilot: page read", "1 MAINT"),
            ("signed, in date", "2 HOURS"), ("leave run open", "resume"),
        ):  # fmt: skip
            screen.type(words)
            screen.see_text(f"WORDS {words}")
            _enter(screen)
            screen.see_text(then)
        assert screen.wait() == 75
    assert verified(logs) == "unclosed"
    assert only_log(logs).stat().st_size > 0
