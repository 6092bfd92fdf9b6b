"""The longest challenge that the author's checks let pass leaves its neighbours on the screen."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest

from runner.engine.effects import Prompt
from runner.engine.table import Kind, Step, Who
from runner.flow.checks.rules.challenge_room import (
    COLUMNS,
    MOST_ROWS,
    MOST_ROWS_CAUTION,
    rows_of,
)
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.layout import screen
from runner.terminal.messages import ways_on
from runner.terminal.rows import row_text

SMALLEST = Size(COLUMNS, 12)
NUMBER = 234
ROW = "CHALLENGE WORDS OF THIRTY-FIVE CHARS"


@pytest.fixture
def seen(fakes: ModuleType) -> Any:
    def draw(challenge: str, **changes: Any) -> list[str]:
        aside = Aside(listen=fakes.listen(), registration="G-TVSA")
        view = fakes.view(challenge=challenge, number=NUMBER, **changes)
        rows = screen(view, Clock(fakes.UTC_AT_ZERO, 60_000), SMALLEST, aside)
        return [row_text(row).rstrip() for row in rows]

    return draw


def unmet(fakes: ModuleType) -> dict[str, Any]:
    """A limit that is not met, with what can be chosen: the fullest screen of a list."""
    return {
        "prompt": Prompt.UNMET,
        "gauge": fakes.GAUGE,
        "response": "1550 TO 1650 RPM",
        "unmet_why": "below 1550 rpm",
        "options": ("PUT OFF", "DRILL OIL PRESSURE LOW"),
    }


def test_beside_the_longest_challenge_stands_the_step_before(seen: Any, fakes: ModuleType) -> None:
    longest = " ".join([ROW] * MOST_ROWS)
    assert any("Fuel selector" in row for row in seen(longest, **unmet(fakes)))
    one_more = " ".join([ROW] * (MOST_ROWS + 1))
    assert not any("Fuel selector" in row for row in seen(one_more, **unmet(fakes)))


def test_beside_the_longest_caution_stands_the_step_after(seen: Any) -> None:
    caution = {"prompt": Prompt.CAUTION, "response": ""}
    longest = " ".join([ROW] * MOST_ROWS_CAUTION)
    assert any("Wheel brakes" in row for row in seen(longest, **caution))
    one_more = " ".join([ROW] * (MOST_ROWS_CAUTION + 1))
    assert not any("Wheel brakes" in row for row in seen(one_more, **caution))


@pytest.mark.parametrize(
    "challenge",
    [
        "Brake",
        "Left magneto drop at base speed",
        "Left magneto drop at base speed with the servo system selected to number two",
        "Electrohydraulic servocontrol, accumulator overpressure indicators",
        "Electrohydraulic servocontrol accumulators, overpressurisation indicators",
        " ".join([ROW] * 4),
    ],
)
def test_the_checks_count_rows_as_the_screen_draws_them(seen: Any, challenge: str) -> None:
    step = Step("a.b", NUMBER, Kind.CHALLENGE, challenge, Who.HANDLING)
    rows = seen(challenge)
    first = next(at for at, row in enumerate(rows) if row.startswith(f"{NUMBER} "))
    drawn, words = 0, f"{NUMBER} {challenge.upper()}".split()
    while words:
        for word in rows[first + drawn].split():
            assert word == words.pop(0)
        drawn += 1
    assert rows_of(step) == drawn


def test_the_screen_is_the_smallest_that_it_is_made_for(seen: Any) -> None:
    assert len(seen(ROW)) == SMALLEST.rows


def test_a_list_that_stops_names_the_keys_of_the_ways_on(fakes: ModuleType) -> None:
    told = ways_on(fakes.view(stops=True, accept_class="maintenance only"), Aside())
    assert "CORRECT / 0 6, DRILL *, DISCONTINUE F9." in told
    assert "ONLY MAINTENANCE CLEARS IT: / 0 0 6" in told
