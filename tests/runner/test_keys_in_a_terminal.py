"""At a real terminal: what must end nothing, and what must answer at most one step."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import pytest

from tests import terminal_typist
from tests.terminal_crew import work
from tests.terminal_day import TO_THE_LISTS, at_the_second_question, demo, lines, met
from tests.terminal_driver import Terminal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


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


QUIT = pytest.mark.xfail(reason="the quit key of the terminal ends plain lines", strict=True)


@pytest.mark.parametrize("name", ["ctrl-c", pytest.param("\x1c", marks=QUIT)])
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
