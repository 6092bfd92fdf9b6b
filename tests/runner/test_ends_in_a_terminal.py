"""At a real terminal: the way home, discontinuing, and a terminal that goes away."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import pytest

from runner.host.scripted import parse
from tests import terminal_typist
from tests.terminal_crew import work
from tests.terminal_day import (
    TO_SHUT_THE_DOORS,
    TO_SHUT_THE_DOORS_ENTERED,
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

A_SECOND_S = 1.05
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


def test_a_drill_that_discontinues_and_the_way_to_the_closed_log(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS, "drill generator failure", "off, then on once", "24.1"))
        work(screen, lines("commander: on the battery", "off", "one only", "off", "off", "closed"))
        work(screen, parse(TO_SHUT_THE_DOORS_ENTERED.splitlines()))
        end_the_day(screen, logs)
    assert verified(logs) == "closed"


def test_discontinuing_in_the_middle_of_a_list(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS, "commander: signed, in date", "copilot: 38.4"))
        screen.key("3")
        work(screen, lines("discontinue"))
        work(screen, parse(TO_SHUT_THE_DOORS.splitlines()))
        end_the_day(screen, logs)
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


def test_by_the_machines_own_clock_and_the_program_as_installed(logs: Path) -> None:
    """Nothing is told here: the clock is the machine's, so what is typed is words, not keys."""
    with Terminal(demo(logs), told=False) as screen:
        for words, then in (
            ("commander: page read", "TO READ: 2 COPILOT"),
            ("copilot: page read", "1 MAINT"),
            ("signed, in date", "2 HOURS"), ("leave run open", "resume"),
        ):  # fmt: skip
            screen.type(words)
            screen.see_text(f"WORDS {words}")
            # The second between the first letter and Enter is a real one here, and nowhere else.
            seen = time.monotonic()
            screen.see(lambda since=seen: time.monotonic() - since > A_SECOND_S, "a second gone")  # type: ignore[misc]
            screen.type("\r")
            screen.see_text(then)
        assert screen.wait() == 75
    assert verified(logs) == "unclosed"
    assert only_log(logs).stat().st_size > 0
