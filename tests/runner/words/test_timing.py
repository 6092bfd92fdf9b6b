"""Times for people: cut off, never rounded up; hours are shown, minutes are added."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.words.timing import clock_text, hours


@pytest.mark.parametrize(
    ("ms", "text"),
    [(0, "0:00:00"), (999, "0:00:00"), (59_999, "0:00:59"), (60_000, "0:01:00"),
     (3_599_999, "0:59:59"), (3_600_000, "1:00:00"), (36_000_000, "10:00:00"), (-5, "0:00:00")],
)  # fmt: skip
def test_run_time_is_cut_off(ms: int, text: str) -> None:
    assert clock_text(ms) == text


@given(st.integers(0, 10**9))
def test_run_time_reads_back(ms: int) -> None:
    h, m, s = (int(part) for part in clock_text(ms).split(":"))
    assert (h * 3600 + m * 60 + s) == ms // 1000
    assert m < 60
    assert s < 60


@pytest.mark.parametrize(
    # Sixths of an hour by hand: 6 minutes are a tenth.
    ("minutes", "shown"),
    [(0, "0.0"), (2, "0.0"), (3, "0.1"), (6, "0.1"), (30, "0.5"), (57, "1.0"), (60, "1.0"),
     (63, "1.1"), (141, "2.4"), (6000, "100.0")],
)  # fmt: skip
def test_minutes_show_as_hours_with_one_decimal(minutes: int, shown: str) -> None:
    assert hours(minutes) == Decimal(shown)
    assert str(hours(minutes)) == shown


@given(st.integers(0, 10**6))
def test_hours_are_never_off_by_more_than_three_minutes(minutes: int) -> None:
    assert abs(hours(minutes) * 60 - minutes) <= 3
