"""Times: UTC of the day; remaining time rounded up, elapsed time down."""

from __future__ import annotations

import pytest

from runner.engine.effects import Figure
from runner.terminal.clock import Clock, minutes

ZERO = 1_767_253_200_000
"""2026-01-01 07:40:00 UTC; from the calendar: 20454 days after 1970-01-01, 27600 s."""


def test_zero_is_the_day_it_says() -> None:
    assert ZERO == (20454 * 86400 + 27600) * 1000


def test_utc() -> None:
    assert Clock(ZERO, 0).utc() == "07:40 UTC"
    assert Clock(ZERO, 0).utc(61_000, seconds=True) == "07:41:01 UTC"
    assert Clock(ZERO, 0).utc(17 * 3600 * 1000) == "00:40 UTC"


def test_left_is_not_over_before_it_is() -> None:
    assert Clock(ZERO, 0).left(120_000) == "2:00"
    assert Clock(ZERO, 119_999).left(120_000) == "0:01"
    assert Clock(ZERO, 120_000).left(120_000) == "0:00"
    assert Clock(ZERO, 130_000).left(120_000) == "0:00"


def test_since_is_not_ahead() -> None:
    assert Clock(ZERO, 1_999).since(0) == "0:01"
    assert Clock(ZERO, 0).since(5) == "0:00"


@pytest.mark.parametrize(
    ("seconds", "text"), [(0, "0:00"), (59, "0:59"), (60, "1:00"), (3600, "1:00:00")]
)
def test_minutes(seconds: int, text: str) -> None:
    assert minutes(seconds) == text


def test_a_figure_that_is_a_time_of_day_gets_it_as_its_value() -> None:
    clock = Clock(ZERO, 0)
    take_off = Figure("Take-off", "", "UTC", 1, 600_000)
    assert clock.figure(take_off) == take_off._replace(value="07:50")
    landing, minutes = Figure("Landing", "", "UTC", 1), Figure("Flight time", "26", "min", 1)
    assert clock.figure(landing) == landing
    assert clock.figure(minutes) == minutes
