"""At a real terminal: clicks and touches, the keys that go elsewhere, and a table of own keys."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

import pytest

from tests.terminal_crew import work
from tests.terminal_day import TO_THE_LISTS, at_the_second_question, demo, lines, met
from tests.terminal_driver import Terminal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")

FOCUS, CLICKS, SGR = b"\x1b[?1004", b"\x1b[?1000", b"\x1b[?1006"


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


def place(screen: Terminal, words: str, row: int = -1) -> tuple[int, int]:
    """Column and row, from 1 as terminals count, of the middle of some words on the screen."""
    shown = screen.lines()
    found = [n for n, text in enumerate(shown) if words in text]
    at = found[row]
    return shown[at].index(words) + len(words) // 2 + 1, at + 1


def report(column: int, row: int, down: bool, button: int = 0) -> str:
    return f"\x1b[<{button};{column};{row}{'M' if down else 'm'}"


def click(screen: Terminal, words: str, after_ms: int = 1000) -> None:
    screen.passes(after_ms)
    column, row = place(screen, words)
    screen.type(report(column, row, True) + report(column, row, False))


def test_clicks_answer_tick_and_turn_as_their_keys_do(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS))
        screen.see_text("1 MAINT")
        click(screen, "AS SHOWN")
        screen.see_text("2 HOURS TO NEXT INSPECTION")
        assert met(logs) == ["documents.maintenance_release"]
        work(screen, lines("copilot: 38.4", "commander: none open"))
        screen.see_text("5 LAST FLIGHT'S SNAGS")
        click(screen, "NOT SO")
        screen.see_text("NOT SO, STILL ASKED")
        click(screen, "DRILLS")
        screen.see_text("DRILLS: NUMBER OPENS")
        click(screen, "BACK")
        screen.see(lambda: "NUMBER OPENS" not in screen.text(), "the list again")
        click(screen, "MORE")
        screen.see_text("SAY AGAIN")


def test_a_click_too_soon_after_the_call_is_none(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS))
        screen.see_text("1 MAINT")
        click(screen, "AS SHOWN", after_ms=1)
        screen.see_text("TOO SOON AFTER THE CALL")
        assert met(logs) == []


def test_two_clicks_at_once_are_one(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        at_the_second_question(screen)
        work(screen, lines("copilot: 38.4", "commander: none open"))
        screen.see_text("5 LAST FLIGHT'S SNAGS")
        before = met(logs)
        screen.passes(1000)
        column, row = place(screen, "AS SHOWN")
        screen.type((report(column, row, True) + report(column, row, False)) * 20)
        screen.see_text("6 INSURANCE")
        screen.key("f12")
        screen.see_text("KEYS HERE")
        assert len(met(logs)) == len(before) + 1


@pytest.mark.parametrize("button", [2, 1, 64, 65, 32, 35], ids=str)
def test_what_is_no_press_of_the_first_button_does_nothing(logs: Path, button: int) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS))
        screen.see_text("1 MAINT")
        screen.passes(1000)
        column, row = place(screen, "AS SHOWN")
        screen.type(report(column, row, True, button) + report(column, row, False, button))
        screen.key("f12")
        screen.see_text("KEYS HERE")
        assert met(logs) == []


def test_a_drag_does_nothing(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS))
        screen.see_text("1 MAINT")
        screen.passes(1000)
        yes, no = place(screen, "AS SHOWN"), place(screen, "NOT SO")
        screen.type(report(*yes, True) + report(*no, False))
        screen.type(report(1, 1, True) + report(*yes, False))
        screen.key("f12")
        screen.see_text("KEYS HERE")
        assert met(logs) == []
        assert "NOT SO, STILL ASKED" not in screen.text()


def test_the_reports_are_asked_for_and_given_up(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS))
        screen.see_text("1 MAINT")
        screen.key("/", "0", "9")
        screen.see_text("LEAVE THE RUN OPEN?")
        screen.key("+", after_ms=1000)
        assert screen.wait() == 75
        _given_up(screen)


def test_an_order_to_end_gives_the_reports_up(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        at_the_second_question(screen)
        os.kill(screen.process.pid, signal.SIGTERM)
        assert screen.wait() == 75
        _given_up(screen)


def _given_up(screen: Terminal) -> None:
    for mode in (FOCUS, CLICKS, SGR):
        assert screen.output.count(mode + b"h") >= 1
        assert screen.output.rindex(mode + b"l") > screen.output.rindex(mode + b"h")


def test_keys_that_go_elsewhere_are_said_and_change_nothing(logs: Path) -> None:
    with Terminal(demo(logs), columns=40, rows=12) as screen:
        at_the_second_question(screen)
        screen.key("3")
        screen.see(lambda: "TYPED 3" in screen.hint(), "a digit")
        bells = screen.output.count(b"\x07")
        screen.type("\x1b[O")
        screen.see_text("KEYS GO ELSEWHERE")
        screen.type("\x1b[O")
        screen.key("8")
        screen.see(lambda: "TYPED 38" in screen.hint(), "the digits go on")
        assert screen.output.count(b"\x07") == bells + 1
        screen.see_text("2 HOURS TO NEXT INSPECTION")
        screen.type("\x1b[I")
        screen.see(lambda: "KEYS GO ELSEWHERE" not in screen.text(), "the keys are back")
        assert screen.output.count(b"\x07") == bells + 1
        screen.key(".", "4")
        screen.see(lambda: "TYPED 38.4" in screen.hint(), "the whole value")
        screen.key("enter")
        screen.see_text("3 OPEN DEFECTS")


def test_the_click_that_brings_the_window_back_answers_nothing(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS))
        screen.see_text("1 MAINT")
        screen.passes(1000)
        screen.type("\x1b[O")
        screen.see_text("KEYS GO ELSEWHERE")
        column, row = place(screen, "AS SHOWN")
        screen.type("\x1b[I" + report(column, row, True) + report(column, row, False))
        screen.see(lambda: "KEYS GO ELSEWHERE" not in screen.text(), "the keys are back")
        assert met(logs) == []
        click(screen, "AS SHOWN")
        screen.see_text("2 HOURS TO NEXT INSPECTION")


def own_keys(folder: Path, text: str) -> dict[str, str]:
    (folder / "latchword").mkdir()
    (folder / "latchword" / "keymap.yaml").write_text(text, "utf-8")
    return {"XDG_CONFIG_HOME": str(folder)}


def test_a_pedal_a_button_and_no_mouse(logs: Path, tmp_path: Path) -> None:
    own = own_keys(tmp_path, "keys:\n  F13: as shown\n  alt-t: transmit\n  x: talk\nmouse: off\n")
    with Terminal(demo(logs), environment=own) as screen:
        work(screen, lines(*TO_THE_LISTS))
        screen.see_text("1 MAINT")
        screen.passes(1000)
        screen.type("\x1b[25~")
        screen.see_text("2 HOURS TO NEXT INSPECTION")
        assert met(logs) == ["documents.maintenance_release"]
        screen.type("\x1bt")
        screen.see_text("TRANSMIT")
        bells = screen.output.count(b"\x07")
        screen.passes(31_000)
        screen.see_text("0:3")
        assert screen.output.count(b"\x07") == bells
        screen.passes(1000)
        screen.type("\x1bt")
        screen.see(lambda: "TRANSMIT" not in screen.text(), "no more transmitting")
        screen.see(lambda: screen.output.count(b"\x07") > bells, "the call that was due, after it")
        screen.key("x")
        screen.see_text("TALK")
        screen.passes(6000)
        screen.see(lambda: "TALK" not in screen.text(), "the microphone closed")
        assert CLICKS + b"h" not in screen.output


def test_a_bad_file_of_keys_is_said_and_the_run_goes_on(logs: Path, tmp_path: Path) -> None:
    own = own_keys(tmp_path, "keys:\n  F13: as shwon\n")
    with Terminal(demo(logs), columns=40, rows=12, environment=own) as screen:
        screen.see_text("DEFAULT KEYS: FILE BAD")
        work(screen, lines(*TO_THE_LISTS, "commander: signed, in date"))
        screen.key("/", "0", "9")
        screen.see_text("LEAVE THE RUN OPEN?")
        screen.key("+", after_ms=1000)
        assert screen.wait() == 75
        assert b"keymap.yaml is not used" in screen.output
        assert b"did you mean as shown?" in screen.output
