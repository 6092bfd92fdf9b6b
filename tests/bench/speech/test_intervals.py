"""The bounds against published values and against what defines them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.bench.speech import intervals

# R. G. Newcombe, "Two-sided confidence intervals for the single proportion: comparison of seven
# methods", Statistics in Medicine 17 (1998), table I: methods 3 (score) and 5 ("exact"), 95 % two
# sides, so 97.5 % each. From memory, four places.
NEWCOMBE = [
    (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
    (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
    (0, 20, (0.0000, 0.1611), (0.0000, 0.1684)),
    (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
]

# Critical values of the chi-square distribution, upper 5 %: NIST/SEMATECH e-Handbook of Statistical
# Methods, 1.3.6.7.4. Half of the value at 2(k + 1) degrees of freedom bounds a Poisson mean of
# which k were counted, and a binomial comes as near to a Poisson as one likes.
CHI_SQUARE = {2: 5.991, 4: 9.488, 6: 12.592, 8: 15.507, 10: 18.307, 20: 31.410}


@pytest.mark.parametrize(("count", "trials", "score", "exact"), NEWCOMBE)
def test_newcombes_table(
    count: int, trials: int, score: tuple[float, float], exact: tuple[float, float]
) -> None:
    assert intervals.wilson(count, trials, 0.975) == pytest.approx(score, abs=6e-5)
    found = (intervals.lower(count, trials, 0.975), intervals.upper(count, trials, 0.975))
    assert found == pytest.approx(exact, abs=6e-5)


def test_the_example_of_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook, 7.2.4.1: 4 of 20, two sides of 5 % each (from memory)."""
    assert intervals.lower(4, 20) == pytest.approx(0.071354, abs=1e-6)
    assert intervals.upper(4, 20) == pytest.approx(0.401029, abs=1e-6)


@pytest.mark.parametrize(("freedom", "critical"), CHI_SQUARE.items())
def test_the_limit_of_many_trials(freedom: int, critical: float) -> None:
    trials = 2_000_000
    bound = intervals.upper(freedom // 2 - 1, trials)
    assert bound * trials == pytest.approx(critical / 2, abs=1e-3)


def test_none_of_many_is_the_closed_form() -> None:
    """With none counted the bound solves (1 - p) ** n = .05: three of n, roughly."""
    for trials in (1, 10, 300, 10_000):
        assert (1 - intervals.upper(0, trials)) ** trials == pytest.approx(0.05)
    assert intervals.upper(0, 300) == pytest.approx(3 / 300, rel=0.01)


def test_nothing_tried_bounds_nothing() -> None:
    assert intervals.upper(0, 0) == 1
    assert intervals.lower(0, 0) == 0
    assert intervals.wilson(0, 0) == (0, 1)


@settings(max_examples=50)
@given(st.integers(1, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_a_bound_is_where_the_chance_is_one_in_twenty(case: tuple[int, int]) -> None:
    count, trials = case
    bound = intervals.upper(count, trials)
    if count < trials:
        assert intervals.at_most(count, trials, bound) == pytest.approx(0.05, rel=1e-6)
    low = intervals.lower(count, trials)
    assert low <= count / trials <= bound
    if count:
        assert 1 - intervals.at_most(count - 1, trials, low) == pytest.approx(0.05, rel=1e-6)


@given(st.integers(1, 3000), st.sampled_from((0.001, 0.004, 0.01, 0.015, 0.3)))
def test_what_is_allowed_is_the_last_that_holds(trials: int, bound: float) -> None:
    most = intervals.most_allowed(trials, bound)
    assert intervals.upper(most + 1, trials) > bound
    assert most < 0 or intervals.upper(most, trials) <= bound


@pytest.mark.parametrize(("count", "trials"), [(-1, 4), (5, 4)])
def test_no_share(count: int, trials: int) -> None:
    with pytest.raises(ValueError, match="no share"):
        intervals.upper(count, trials)


def test_no_confidence() -> None:
    with pytest.raises(ValueError, match="confidence"):
        intervals.upper(1, 4, 1.0)
