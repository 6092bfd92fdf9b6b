"""At a real terminal: whatever stands when the terminal goes away, `resume` takes the run up."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from runner.host.scripted import parse
from tests import terminal_typist
from tests.runner.host.test_wakefulness import LOGIND, Programs
from tests.terminal_crew import work
from tests.terminal_day import (
    TO_SHUT_THE_DOORS_ENTERED,
    TO_THE_LISTS,
    demo,
    end_the_day,
    events,
    lines,
    met,
    outcomes,
    verified,
)
from tests.terminal_drills import ENDS, take
from tests.terminal_driver import Terminal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")

LEFT_OPEN = 75
COCKPIT = (40, 12)
FACTS = ("engine stopped", "rotor stopped", "on the ground")


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


def drills_page(screen: Terminal) -> None:
    screen.key("f1")
    screen.see_text("1 Fire in start")


def open_drill(screen: Terminal) -> None:
    work(screen, lines("drill hydraulic lock felt"))
    screen.see_text("Starter or crank: LET GO")


def standby(screen: Terminal) -> None:
    work(screen, lines("stand by"))
    screen.see_text("STANDBY")


def digits(screen: Terminal) -> None:
    screen.key("3", "8", after_ms=1000)
    screen.see(lambda: "38" in screen.hint(), "the digits typed")


STATES: dict[str, Callable[[Terminal], None]] = {
    "drills page": drills_page, "drill": open_drill, "standby": standby, "digits": digits,
}  # fmt: skip


@pytest.mark.parametrize("signalled", [True, False], ids=["hung up", "gone without a signal"])
@pytest.mark.parametrize("state", STATES)
def test_a_screen_that_vanishes_leaves_a_run_to_resume(
    logs: Path, state: str, signalled: bool
) -> None:
    with Terminal(demo(logs), bound=signalled) as screen:
        work(screen, lines(*TO_THE_LISTS, "commander: signed, in date"))
        screen.see_text("2 HOURS TO NEXT INSPECTION")
        STATES[state](screen)
        screen.hang_up()
        assert screen.process.wait(timeout=30) == LEFT_OPEN
        gone = screen.gone_ms
    before = met(logs)
    assert before == ["documents.maintenance_release"]
    assert verified(logs) == "unclosed"
    with Terminal(["resume", "--log-dir", str(logs)], gone_ms=gone + 5000) as screen:
        if state == "drill":
            # No fact is asked before a drill: its memory items stand at once.
            screen.see_text("Starter or crank: LET GO")
        else:
            work(screen, lines(*FACTS))
            screen.see_text("ANSWERED BEFORE: Maintenance release")
        # What was typed and not sent is gone.
        screen.see(
            lambda: "DRILLS *" in screen.hint() and "38" not in screen.hint(),
            "the keys of the question",
        )
        assert met(logs) == before
    assert verified(logs) == "unclosed"


def test_a_run_lost_in_a_drill_is_taken_up_and_goes_home(logs: Path) -> None:
    """The window goes in the middle of a drill; the second one shows the drill where it stood,
    and the day ends in a closed log that all have signed again."""
    way = next(way for way in ENDS if way.end == "On the battery")
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_LISTS, "drill generator failure", "off, then on once"))
        screen.see_text("514 BUS VOLTAGE, NOW")
        screen.hang_up()
        assert screen.process.wait(timeout=30) == LEFT_OPEN
        gone = screen.gone_ms
    before = met(logs)
    assert before == ["generator_failure.reset"]
    with Terminal(["resume", "--log-dir", str(logs)], *COCKPIT, gone_ms=gone + 5000) as screen:
        # This drill has no memory items that would have to stand before anything is asked.
        work(screen, lines(*FACTS, "resume here"))
        screen.see_text("514 BUS VOLTAGE, NOW")
        assert met(logs) == before
        take(screen, way)
        work(screen, parse(TO_SHUT_THE_DOORS_ENTERED.splitlines()))
        end_the_day(screen, logs)
    assert ("drill out", "generator_failure", "discontinue", "On the battery") in outcomes(logs)
    assert [data["event"]["kind"] for data in events(logs)].count("recovered") == 1
    assert verified(logs) == "closed"


def plain_drill(terminal: Terminal) -> None:
    terminal_typist.work(terminal, lines("drill hydraulic lock felt"))
    terminal.see_text("memory items done?")


def plain_standby(terminal: Terminal) -> None:
    terminal_typist.work(terminal, lines("stand by"))
    terminal.see_text("STANDBY")


def plain_digits(terminal: Terminal) -> None:
    terminal.type("38.")
    terminal.see_text("38.")


PLAIN: dict[str, Callable[[Terminal], None]] = {
    "drill": plain_drill, "standby": plain_standby, "digits": plain_digits,
}  # fmt: skip


@pytest.mark.parametrize("signalled", [True, False], ids=["hung up", "gone without a signal"])
@pytest.mark.parametrize("state", PLAIN)
def test_plain_lines_that_vanish_leave_a_run_to_resume(
    logs: Path, state: str, signalled: bool
) -> None:
    with Terminal(demo(logs, "--plain"), bound=signalled) as terminal:
        terminal_typist.work(terminal, lines(*TO_THE_LISTS, "commander: signed, in date"))
        terminal.see_text("CALL 2")
        PLAIN[state](terminal)
        terminal.hang_up()
        assert terminal.process.wait(timeout=30) == LEFT_OPEN
        gone = terminal.gone_ms
    # A line that was not ended when the terminal went is no answer.
    before = met(logs)
    assert before == ["documents.maintenance_release"]
    words = ["resume", "--plain", "--log-dir", str(logs)]
    with Terminal(words, gone_ms=gone + 5000) as terminal:
        terminal.see_text("memory items done?" if state == "drill" else "CHOICE 1")
        assert met(logs) == before
        assert "Traceback" not in terminal.text()
    assert verified(logs) == "unclosed"


@pytest.mark.skipif(sys.platform != "linux", reason="another system has another program")
@pytest.mark.parametrize("killed", [True, False], ids=["killed", "hung up"])
def test_sleep_is_held_off_until_the_program_is_gone(
    logs: Path, tmp_path: Path, killed: bool
) -> None:
    (tmp_path / "bin").mkdir()
    programs = Programs(tmp_path / "bin")
    programs.add("systemd-inhibit", LOGIND)
    with Terminal(demo(logs), environment=programs.environment) as screen:
        work(screen, lines(*TO_THE_LISTS))
        assert programs.line().endswith("--mode=block cat")
        if killed:
            screen.process.kill()
        else:
            screen.hang_up()
        screen.process.wait(timeout=30)
        assert programs.line() == ""
    programs.close()
