"""At a real terminal: a window whose size changes twenty times in the middle of an answer."""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.terminal_crew import work
from tests.terminal_day import TO_THE_LISTS, demo, events, lines, met, outcomes, verified
from tests.terminal_driver import Terminal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")

COCKPIT = (40, 12)
TIMES = 20
TO_THE_SECOND = (*TO_THE_LISTS, "commander: signed, in date")
TO_BOTH_LOOK = (
    *TO_THE_SECOND, "copilot: 38.4", "commander: none open", "commander: read", "copilot: aboard",
    "copilot: aboard, revision 6",
)  # fmt: skip


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


def shake(screen: Terminal, *words: str) -> None:
    """Twenty other sizes, with these words seen at each, and the cockpit's size again."""
    chance = random.Random(20)
    for _ in range(TIMES):
        screen.resize(chance.randint(40, 160), chance.randint(12, 50))
        screen.see(
            lambda: all(one in screen.text() for one in words),
            f"{words} at {screen.columns} by {screen.rows}",
        )
    screen.resize(*COCKPIT)
    screen.see(
        lambda: len(screen.lines()) == COCKPIT[1] and all(one in screen.text() for one in words),
        f"{words} at the cockpit's size",
    )


def half_a_value(screen: Terminal, logs: Path) -> None:
    work(screen, lines(*TO_THE_SECOND))
    screen.see_text("2 HOURS TO NEXT INSPECTION")
    screen.key("3", "8", ".", after_ms=1000)
    screen.see_text("TYPED 38.")
    before = events(logs)
    shake(screen, "2 HOURS TO NEXT INSPECTION", "TYPED 38.")
    assert events(logs) == before
    screen.key("4")
    screen.see_text("TYPED 38.4")
    screen.key("enter")
    screen.see_text("3 OPEN DEFECTS")
    assert outcomes(logs, "met")[-1] == ("met", "documents.hours_to_next_inspection", "38.4")


def one_of_two(screen: Terminal, logs: Path) -> None:
    work(screen, lines(*TO_BOTH_LOOK, "commander: valid"))
    screen.see_text("COMMANDER HAS LOOKED")
    before = events(logs)
    shake(screen, "8 LICENCES", "TO LOOK: 2 COPILOT")
    assert events(logs) == before
    screen.key("2", after_ms=1000)
    screen.see_text("9 DUTY AND REST")
    assert met(logs)[-1] == "documents.licences"


def half_a_snag(screen: Terminal, logs: Path) -> None:
    work(screen, lines(*TO_THE_SECOND))
    screen.key("f5", after_ms=1000)
    screen.key("left pedal")
    screen.see_text("WORDS snag left pedal")
    before = events(logs)
    shake(screen, "2 HOURS TO NEXT INSPECTION", "WORDS snag left pedal")
    assert events(logs) == before
    screen.key("enter")
    screen.see_text("NOTED, SNAG: left pedal")
    assert outcomes(logs, "noted") == [("noted", "snag", "left pedal")]


def memory_items(screen: Terminal, logs: Path) -> None:
    work(screen, lines(*TO_THE_SECOND, "drill fire in start"))
    screen.see_text("ITEMS DONE +")
    before = events(logs)
    shake(screen, "1 Starter: KEEPS CRANKING", "2 Mixture: MIXTURE CUT-OFF",
          "3 Throttle: FULL OPEN", "4 Boost pump: OFF")  # fmt: skip
    assert events(logs) == before
    screen.key("+", after_ms=1000)
    screen.see_text("MEMORY ITEMS, ONE BY ONE")
    assert outcomes(logs)[-1] == ("memory done",)


def the_second_key(screen: Terminal, logs: Path) -> None:
    work(screen, lines(*TO_THE_SECOND))
    screen.key("f9", after_ms=1000)
    before = events(logs)
    shake(screen, "DISCONTINUE?", "+ DISCONTINUES, any other key goes back.")
    assert events(logs) == before
    screen.key("+", after_ms=1000)
    screen.see_text("RADIOS AND TRANSPONDER")
    assert outcomes(logs, "entered")[-1] == ("entered", "switches")


STATES: dict[str, Callable[[Terminal, Path], None]] = {
    "half a value": half_a_value, "one of two has looked": one_of_two, "half a snag": half_a_snag,
    "memory items": memory_items, "the second key of discontinuing": the_second_key,
}  # fmt: skip


@pytest.mark.parametrize("state", STATES)
def test_twenty_other_sizes_in_mid_answer_change_nothing(logs: Path, state: str) -> None:
    with Terminal(demo(logs), *COCKPIT) as screen:
        STATES[state](screen, logs)
    assert verified(logs) == "unclosed"
