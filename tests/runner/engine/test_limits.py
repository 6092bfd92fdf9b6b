"""Limits: exact comparison at and beside each bound, measured against rational arithmetic."""

from __future__ import annotations

import decimal
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine.limits import Limit, Threshold, implies
from runner.engine.units import UnitFault

D = Decimal
values = st.decimals(min_value=-3000, max_value=3000, places=2)
one_sided = st.sampled_from([Limit.below, Limit.above, Limit.at_most, Limit.at_least])


@st.composite
def limits(draw: Any) -> Limit:
    if draw(st.booleans()):
        made: Limit = draw(one_sided)(draw(values), "rpm")
        return made
    low, high = sorted((draw(values), draw(values)))
    is_open = st.booleans() if low < high else st.just(False)
    return Limit(low, high, "rpm", draw(is_open), draw(is_open))


def by_fractions(limit: Limit, value: Decimal) -> bool:
    """The oracle: the same question asked of exact rationals."""
    number = Fraction(value)
    if limit.low is not None:
        low = Fraction(limit.low)
        if number < low or (limit.low_open and number == low):
            return False
    if limit.high is not None:
        high = Fraction(limit.high)
        if number > high or (limit.high_open and number == high):
            return False
    return True


@pytest.mark.parametrize(
    ("limit", "met", "unmet", "text"),
    [
        (Limit.below(D(150), "°C"), ["149", "149.99"], ["150", "150.0", "151"], "BELOW 150 °C"),
        (Limit.above(D(40), "psi"), ["40.01", "41"], ["40", "39"], "ABOVE 40 psi"),
        (Limit.at_most(D(80), "rpm"), ["80", "79"], ["80.01", "81"], "AT MOST 80 RPM"),
        (Limit.at_least(D("2.5"), "bar"), ["2.5", "2.50"], ["2.49"], "AT LEAST 2.5 bar"),
        (
            Limit.between(D(1550), D(1650), "rpm"),
            ["1550", "1600", "1650"],
            ["1549", "1651"],
            "1550 TO 1650 RPM",
        ),
        (
            Limit(D(0), D(5), "V", low_open=True, high_open=True),
            ["0.1", "4.9"],
            ["0", "5"],
            "ABOVE 0 AND BELOW 5 V",
        ),
    ],
)
def test_at_and_beside_each_bound(
    limit: Limit, met: list[str], unmet: list[str], text: str
) -> None:
    assert all(limit.meets(D(value)) for value in met)
    assert not any(limit.meets(D(value)) for value in unmet)
    assert limit.text() == text


def test_the_subtraction_that_binary_numbers_get_wrong() -> None:
    # 29.92 - 29.62 <= 0.3 is false in IEEE 754 binary64.
    assert not (29.92 - 29.62 <= 0.3)
    assert Limit.at_most(D("0.3"), "inHg").meets(D("29.92") - D("29.62"))


@given(limits(), values)
def test_meeting_agrees_with_rational_arithmetic(limit: Limit, value: Decimal) -> None:
    assert limit.meets(value) == by_fractions(limit, value)


@given(limits(), values)
def test_distance_is_nothing_inside_and_leads_to_the_bound(limit: Limit, value: Decimal) -> None:
    distance = limit.distance(value)
    assert distance >= 0
    if limit.meets(value):
        assert distance == 0
    if distance > 0:
        assert not limit.meets(value)
        closed = Limit(limit.low, limit.high, limit.unit)
        assert closed.meets(value + distance) or closed.meets(value - distance)


@given(limits(), values, values)
def test_the_better_value_is_the_closer_one(limit: Limit, a: Decimal, b: Decimal) -> None:
    best = limit.better(a, b)
    assert best in (a, b)
    assert limit.distance(best) == min(limit.distance(a), limit.distance(b))
    assert limit.meets(best) == (limit.meets(a) or limit.meets(b))


def test_a_value_on_an_open_bound_is_worse_than_one_inside() -> None:
    limit = Limit.below(D(150), "°C")
    assert limit.distance(D(150)) == 0
    assert limit.better(D(150), D(149)) == D(149)
    assert limit.better(D(160), D(150)) == D(150)


@given(limits(), values, st.decimals(min_value=0, max_value=50, places=2))
def test_near_means_within_the_margin_of_a_bound(
    limit: Limit, value: Decimal, margin: Decimal
) -> None:
    gaps = [
        abs(Fraction(value) - Fraction(bound))
        for bound in (limit.low, limit.high)
        if bound is not None
    ]
    assert limit.near(value, margin) == (min(gaps) <= Fraction(margin))


@given(limits(), values, values, st.integers(1, 3))
def test_the_callers_decimal_context_is_without_effect(
    limit: Limit, a: Decimal, b: Decimal, precision: int
) -> None:
    def asked() -> list[object]:
        return [limit.meets(a), limit.distance(a), limit.better(a, b), limit.near(a, D("0.25")),
                limit.text()]  # fmt: skip

    usual = asked()
    with decimal.localcontext() as context:
        context.prec = precision
        context.rounding = decimal.ROUND_UP
        assert asked() == usual


@given(limits(), values, st.sampled_from(["below", "above"]), values)
def test_a_threshold_call_implies_only_what_all_its_values_meet(
    limit: Limit, call: Decimal, side: Any, value: Decimal
) -> None:
    threshold = Threshold(side, call)
    covered = value < call if side == "below" else value > call
    if implies(threshold, limit) and covered:
        assert limit.meets(value)


@given(limits(), values, st.sampled_from(["below", "above"]))
def test_a_threshold_call_that_is_refused_has_a_value_that_does_not_meet(
    limit: Limit, call: Decimal, side: Any
) -> None:
    threshold = Threshold(side, call)
    if implies(threshold, limit):
        return
    just, far = D("0.001"), D(10_000)
    tried = [call - just, call - far] if side == "below" else [call + just, call + far]
    assert not all(limit.meets(value) for value in tried)


def test_below_eighty() -> None:
    call = Threshold("below", D(80))
    assert implies(call, Limit.below(D(80), "rpm"))
    assert implies(call, Limit.at_most(D(80), "rpm"))
    assert implies(call, Limit.below(D(81), "rpm"))
    assert not implies(call, Limit.below(D(70), "rpm"))
    assert not implies(call, Limit.above(D(80), "rpm"))
    assert not implies(call, Limit.between(D(0), D(80), "rpm"))
    assert implies(Threshold("above", D(40)), Limit.at_least(D(40), "psi"))
    assert not implies(Threshold("above", D(40)), Limit.above(D(41), "psi"))


@pytest.mark.parametrize("bad", ["NaN", "sNaN", "Infinity", "-Infinity"])
def test_nothing_is_met_by_what_is_no_number(bad: str) -> None:
    limit = Limit.below(D(150), "°C")
    assert not limit.meets(D(bad))
    for ask in (limit.distance, lambda v: limit.near(v, D(1)), lambda v: limit.better(v, D(1))):
        with pytest.raises(ValueError, match="finite"):
            ask(D(bad))
    with pytest.raises(ValueError, match="finite"):
        Limit.below(D(bad), "°C")
    with pytest.raises(ValueError, match="finite"):
        Threshold("below", D(bad))


def test_limits_that_are_none() -> None:
    for low, high, low_open in [(None, None, False), (D(2), D(1), False), (D(1), D(1), True)]:
        with pytest.raises(ValueError, match=r"bound|between"):
            Limit(low, high, "rpm", low_open)
    with pytest.raises(UnitFault):
        Limit.below(D(1), "furlong")
    with pytest.raises(ValueError, match="beside"):
        Threshold("beside", D(1))  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="margin"):
        Limit.below(D(1), "rpm").near(D(1), D(-1))
