"""Hours arithmetic: minutes are added, hours only shown."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from runner.engine.hours import spans, times
from runner.engine.state import Marked
from runner.words.timing import hours

MINUTE = 60_000


def flights(minutes: list[int]) -> tuple[Marked, ...]:
    marks = []
    at = 0
    for number, length in enumerate(minutes, 1):
        marks.append(Marked("take-off", at, number))
        at += length * MINUTE
        marks.append(Marked("landing", at, number))
        at += 5 * MINUTE
    return tuple(marks)


def test_ten_flights_of_eight_minutes_are_1_3_hours_and_not_1_0() -> None:
    # Computed: 80 min / 60 = 1.33 h; rounding each flight first would give 10 x 0.1 = 1.0 h.
    found = times(flights([8] * 10), 0)
    assert found.flight == 80
    assert found.landings == 10
    assert hours(found.flight) == Decimal("1.3")
    assert 10 * hours(8) == Decimal("1.0")


def test_the_next_inspection_counts_from_when_it_was_due() -> None:
    # 100-hour inspection due at 1,200.0, done at 1,204.3: next due 1,300.0, so 95.7 h are left
    # (14 CFR 91.409(b), from memory).
    done = 1204 * 60 + 18
    due = 1300 * 60
    assert hours(done) == Decimal("1204.3")
    assert hours(due - done) == Decimal("95.7")


def test_engine_rotor_and_flight_are_counters_of_their_own() -> None:
    marks = (
        Marked("engine start", 0, 1), Marked("rotor start", 5 * MINUTE, 1),
        Marked("take-off", 12 * MINUTE, 1), Marked("landing", 32 * MINUTE, 1),
        Marked("rotor stop", 38 * MINUTE, 1), Marked("engine stop", 40 * MINUTE, 1),
    )  # fmt: skip
    found = times(marks, 60 * MINUTE)
    assert (found.engine, found.rotor, found.flight) == (40, 33, 20)
    assert (found.landings, found.starts) == (1, 1)


def test_a_counter_that_runs_counts_up_to_now() -> None:
    marks = (Marked("take-off", 0, 1),)
    assert times(marks, 7 * MINUTE).flight == 7


def test_a_late_mark_counts_from_when_it_was() -> None:
    marks = (Marked("landing", 10 * MINUTE, 1), Marked("take-off", 2 * MINUTE, 1))
    assert spans(marks, "take-off", "landing", 99 * MINUTE) == [8 * MINUTE]


@given(st.lists(st.integers(0, 600), max_size=30))
def test_the_sum_of_flights_is_the_flight_time(minutes: list[int]) -> None:
    assert times(flights(minutes), 0).flight == sum(minutes)
