"""At a real terminal: what must end nothing, and what must answer at most one step."""

from __future__ import annotations

import random
import sys
import time
from pathlib import Path

import pytest

from tests import terminal_typist
from tests.terminal_crew import work
from tests.terminal_day import (
    TO_THE_LISTS,
    at_the_second_question,
    at_three_keys_alike,
    demo,
    lines,
    met,
)
from tests.terminal_driver import KEYS, Terminal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


AGAIN_S = 2.0


def fence(screen: Terminal) -> None:
    """Comes back when everything typed so far has been read: the page of keys opens after it. No
    time passes before, or a key that still waits would come late."""
    pressed = 0.0

    def opened() -> bool:
        # A new question throws away what was typed before it, this key too: it is pressed again.
        nonlocal pressed
        if "KEYS HERE" in screen.text():
            return True
        if time.monotonic() - pressed > AGAIN_S:
            pressed = time.monotonic()
            screen.type(KEYS["f12"])
        return False

    screen.see(opened, "the page of keys")
    screen.key("escape")
    screen.see(lambda: "KEYS HERE" not in screen.text(), "the list again")


def test_typed_digits_stay_when_the_window_changes(logs: Path) -> None:
    chance = random.Random(20)
    with Terminal(demo(logs)) as screen:
        at_the_second_question(screen)
        screen.type("38.")
        screen.see_text("TYPED 38.")
        for _ in range(20):
            screen.resize(chance.randint(40, 160), chance.randint(12, 50))
            screen.see(
                lambda: screen.hint().startswith("TYPED 38.") and "2 HOURS" in screen.text(),
                "what was typed, at another size",
            )
        screen.type("4")
        screen.see_text("TYPED 38.4")
        screen.key("enter")
        screen.see_text("3 OPEN DEFECTS")


def test_what_was_not_so_and_is_so_now_takes_a_key(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        at_the_second_question(screen)
        work(screen, lines("copilot: 38.4", "commander: none open", "not so"))
        screen.see_text("NOT SO, STILL ASKED")
        before = met(logs)
        screen.key("+", after_ms=1000)
        fence(screen)
        assert met(logs)[len(before) :] == ["documents.last_flight_s_snags"]


def test_a_fault_that_only_maintenance_clears_takes_its_entry(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        work(screen, lines(*TO_THE_LISTS, "not so"))
        screen.see_text("ONLY MAINTENANCE CLEARS IT")
        screen.see(
            lambda: "DRILLS *" in screen.hint() and "AS SHOWN" not in screen.hint(),
            "a row of keys without the key that would answer",
        )
        screen.key("+", after_ms=1000)
        screen.see_text("A fault stands here.")
        assert met(logs) == []
        screen.type("maintenance release signed by R Dole")
        screen.see_text("WORDS maintenance release signed by R Dole")
        screen.key("enter", after_ms=1000)
        screen.see_text("NOTED, MAINTENANCE")
        screen.see(lambda: "AS SHOWN" in screen.hint(), "the step asked anew")
        screen.key("+", after_ms=1000)
        fence(screen)
        assert met(logs) == ["documents.maintenance_release"]


def test_no_control_key_ends_a_run(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        at_the_second_question(screen)
        for name in ("ctrl-c", "ctrl-d", "\x1c", "\x1a", "\x11", "\x13", "\x00"):
            screen.key("1", after_ms=1000)
            screen.see_text("TYPED 1")
            screen.key(name, after_ms=1000)
            screen.see_text("NO KEY ENDS A RUN")
            screen.key("backspace")
            screen.see(lambda: "TYPED" not in screen.hint(), "an empty line again")
        assert screen.process.poll() is None
        work(screen, lines("copilot: 38.4"))


@pytest.mark.parametrize("name", ["ctrl-c", "\x1c"])
def test_no_control_key_ends_plain_lines(logs: Path, name: str) -> None:
    with Terminal(demo(logs, "--plain")) as terminal:
        terminal_typist.work(terminal, lines(*TO_THE_LISTS))
        terminal.key(name)
        terminal_typist.work(terminal, lines("commander: signed, in date"))
        assert met(logs) == ["documents.maintenance_release"]


WORDS = "read\raboard\raboard, revision 6\r"


@pytest.mark.parametrize("pasted", [WORDS, "+++", "   "], ids=["words", "plus", "space"])
@pytest.mark.parametrize("bracketed", [True, False], ids=["bracketed", "raw"])
def test_three_right_answers_pasted_answer_at_most_one(
    logs: Path, pasted: str, bracketed: bool
) -> None:
    with Terminal(demo(logs)) as screen:
        at_three_keys_alike(screen)
        before = met(logs)
        screen.type(f"\x1b[200~{pasted}\x1b[201~" if bracketed else pasted)
        words = pasted == WORDS
        screen.see_text(
            "PASTED TEXT ANSWERS NOTHING" if bracketed
            else "TYPED TOO QUICKLY" if words else "6 INSURANCE"
        )  # fmt: skip
        if not words or bracketed:
            fence(screen)
        passed = met(logs)
        assert passed[: len(before)] == before
        # Words end by Enter, which is no burst; one of three keys alike is a deliberate one.
        assert len(passed) - len(before) == (0 if bracketed or words else 1)


def test_three_right_lines_pasted_answer_at_most_one(logs: Path) -> None:
    with Terminal(demo(logs, "--plain")) as terminal:
        terminal_typist.work(terminal, lines(*TO_THE_LISTS, "commander: signed, in date"))
        terminal_typist.work(terminal, lines("copilot: 38.4", "commander: none open"))
        terminal.see_text("CALL 5")
        terminal.passes(1000)
        before = met(logs)
        terminal.type(WORDS)
        terminal.see(lambda: terminal.output.decode().count("REFUSED") == 2, "two refusals")
        assert met(logs) == [*before, "documents.last_flight_s_snags"]


def test_a_held_key_answers_once(logs: Path) -> None:
    with Terminal(demo(logs)) as screen:
        at_three_keys_alike(screen)
        before = met(logs)
        # Longer than the 0.4 s after a call, shorter than what tells a held key: however late the
        # program reads them, the repeats are less than 0.75 s apart.
        for _ in range(70):
            screen.key("+", after_ms=10)
        screen.see_text("6 INSURANCE")
        fence(screen)
        assert met(logs) == [*before, "documents.last_flight_s_snags"]


@pytest.mark.parametrize("seed", range(4))
def test_random_keys_pass_no_step_twice(logs: Path, seed: int) -> None:
    chance = random.Random(seed)
    keys = ["+", " ", "-", "n", "0", "1", "2", "3", "4", ".", "enter", "backspace", "*", "/", "x"]
    with Terminal(demo(logs)) as screen:
        at_three_keys_alike(screen)
        before = met(logs)
        for _ in range(20):
            screen.key(chance.choice(keys), after_ms=50)
            screen.all_read()
        screen.hang_up()
        assert screen.process.wait(timeout=30) == 75
    assert len(met(logs)) - len(before) <= 1


@pytest.mark.parametrize("bracketed", [True, False], ids=["bracketed", "raw"])
def test_ten_kilobytes_pasted_pass_one_step_at_most(logs: Path, bracketed: bool) -> None:
    """Words, digits, signs and Enter, with every answer of the next steps among them."""
    chance = random.Random(10)
    pieces = ["+", " ", "read\r", "aboard\r", "38.4\r", "1", "2", "/4", "+\r", "none open\r", "0"]
    pasted = "".join(chance.choice(pieces) for _ in range(6000))[:10_240]
    with Terminal(demo(logs)) as screen:
        at_three_keys_alike(screen)
        before = met(logs)
        if bracketed:
            screen.type("\x1b[200~")
        for start in range(0, len(pasted), 512):
            # A terminal holds so much at once; what follows waits until it has been read.
            screen.type(pasted[start : start + 512])
            screen.all_read()
        if bracketed:
            screen.type("\x1b[201~")
            screen.see_text("PASTED TEXT ANSWERS NOTHING")
        screen.all_read()
        screen.hang_up()
        assert screen.process.wait(timeout=30) == 75
    assert len(met(logs)) - len(before) <= (0 if bracketed else 1)


def test_a_key_held_slowly_answers_once(logs: Path) -> None:
    """Two repeats a second, for a quarter of a minute."""
    with Terminal(demo(logs)) as screen:
        at_three_keys_alike(screen)
        before = met(logs)
        screen.key("+")
        screen.see_text("6 INSURANCE")
        for _ in range(30):
            screen.passes(500)
            written = len(screen.output)
            screen.type("+")
            screen.all_read()
            screen.see(lambda since=written: len(screen.output) > since, "the key")  # type: ignore[misc]
        fence(screen)
        assert met(logs) == [*before, "documents.last_flight_s_snags"]
