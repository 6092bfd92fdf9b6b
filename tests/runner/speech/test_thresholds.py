"""Bars are data that are checked whole; one person's reading moves them within bounds."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.speech.thresholds import (
    MOST_RAISED,
    MOST_SHIFT,
    Bar,
    Kind,
    Person,
    ThresholdFault,
    Thresholds,
    Who,
    as_data,
    of_person,
    person_data,
    read_person,
    read_thresholds,
    thresholds,
)

FINITE = st.floats(-50, 50).map(lambda x: round(x, 3))
BARS = st.builds(Bar, st.none() | FINITE, st.floats(0, 50).map(lambda x: round(x, 3)))
KEYS = st.tuples(
    st.sampled_from(("closed-set", "sphinx")), st.sampled_from(("quiet", "loud")),
    st.sampled_from(Kind), st.sampled_from(Who),
)  # fmt: skip
SETS = st.builds(
    Thresholds, st.just((("quiet", 12.0), ("loud", -math.inf))), st.floats(1, 4),
    st.dictionaries(KEYS, BARS, max_size=12), st.none() | st.just({"seed": 1}),
)  # fmt: skip


@given(SETS)
def test_what_the_fit_writes_reads_back_equal(given_set: Thresholds) -> None:
    content = json.dumps(as_data(given_set)).encode()
    assert read_thresholds(content, "x.json") == given_set


def test_what_comes_with_the_program_is_whole_and_careful() -> None:
    bars = thresholds()
    assert [name for name, _ in bars.noise] == ["clean", "moderate", "loud"]
    assert bars.confusable >= 1
    names = {recogniser for recogniser, *_ in bars.bars}
    assert "closed-set" in names
    for recogniser in names:
        for noise, _ in bars.noise:
            for who in (Who.ALONE, Who.DIFFER, Who.ASK):
                # Critical steps want two in agreement, whatever was fitted.
                assert bars.bar(recogniser, noise, Kind.CRITICAL, who) is None
    for noise, _ in bars.noise:
        for kind in (Kind.WORDS, Kind.NUMBERS):
            agreed = bars.bar("closed-set", noise, kind, Who.AGREED)
            alone = bars.bar("closed-set", noise, kind, Who.ALONE)
            assert agreed is not None
            if alone is not None:
                assert alone.margin >= agreed.margin
        assert bars.bar("closed-set", noise, Kind.AWAY, Who.ALONE) is not None
        # A recogniser without an anti-model accepts no answer by itself.
        for who in (Who.AGREED, Who.ALONE, Who.DIFFER):
            assert bars.bar("sphinx", noise, Kind.WORDS, who) is None
            assert bars.bar("sphinx", noise, Kind.NUMBERS, who) is None
        assert bars.bar("sphinx", noise, Kind.AWAY, Who.ALONE) is None


@pytest.mark.parametrize(
    ("snr_db", "name"),
    [(40.0, "clean"), (15.0, "clean"), (14.9, "moderate"), (7.5, "moderate"), (7.4, "loud"),
     (-80.0, "loud"), (None, "loud"), (math.nan, "loud")],
)  # fmt: skip
def test_a_noise_that_is_not_known_is_the_loudest(snr_db: float | None, name: str) -> None:
    assert thresholds().noise_class(snr_db) == name


def test_what_has_no_bar_is_never_passed() -> None:
    assert thresholds().bar("unheard of", "clean", Kind.WORDS, Who.AGREED) is None


def good() -> dict[str, Any]:
    return as_data(thresholds())


def but(**changes: Any) -> bytes:
    return json.dumps({**good(), **changes}).encode()


def bar_of(who: str, bar: Any, kind: str = "words", noise: str = "clean") -> bytes:
    return but(bars={"closed-set": {noise: {kind: {who: bar}}}})


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "no JSON"),
        (b"\xff", "no JSON"),
        (b"[" * 5000, "no JSON"),
        (b"[]", "allowed: an object"),
        (but(format=2), "format: found '2'; allowed: 1"),
        (but(noise=[]), "the last has no from_db"),
        (but(noise=[{"name": "a", "from_db": 3}]), "the last has no from_db"),
        (but(noise=[{"name": "a", "from_db": 3}, {"name": "b", "from_db": 4}]), "quietest down"),
        (but(noise=[{"name": "a", "from_db": 3}, {"name": "a", "from_db": None}]), "each once"),
        (but(noise=[{"name": 1}]), "a name for each class"),
        (but(confusable=0.5), "confusable: number: found '0.5'"),
        (but(confusable=True), "a finite number from 1.0"),
        (but(bars=None), "bars: entries: found 'None'"),
        (but(fit=[]), "fit: entries"),
        (bar_of("agreed", {"score": 0, "margin": 1}, noise="windy"), "allowed: clean, loud"),
        (bar_of("agreed", {"score": 0, "margin": 1}, kind="verbs"), "allowed: words, phrases"),
        (bar_of("most", {"score": 0, "margin": 1}), "allowed: agreed, alone"),
        (bar_of("agreed", {"score": 0}), "allowed: score and margin"),
        (bar_of("agreed", {"score": 0, "margin": -1}), "margin: number: found '-1'"),
        (bar_of("agreed", {"score": "0", "margin": 1}), "score: number"),
        (bar_of("agreed", {"score": math.nan, "margin": 1}), "score: number: found 'nan'"),
        (bar_of("agreed", {"score": 0, "margin": math.inf}), "margin: number: found 'inf'"),
    ],
)  # fmt: skip
def test_bars_that_cannot_be_used_say_where_and_what_is_allowed(content: bytes, told: str) -> None:
    with pytest.raises(ThresholdFault) as fault:
        read_thresholds(content, "x.json")
    assert str(fault.value).startswith("x.json: ")
    assert told in str(fault.value)


PERSON = Person("A Holt", 6.0, {"closed-set": -0.4}, 1.25, {"hook": ("hawk",)})


def test_one_persons_reading_reads_back_equal() -> None:
    assert read_person(json.dumps(person_data(PERSON)).encode(), "holt.json") == PERSON


@pytest.mark.parametrize(
    ("change", "told"),
    [({"name": " "}, "a name"), ({"name": None}, "a name"), ({"raised": 0.9}, "raised"),
     ({"raised": MOST_RAISED + 1}, "raised"), ({"shifts": {"sphinx": -9}}, "shifts: sphinx"),
     ({"shifts": [1]}, "shifts"), ({"gain_db": 99}, "gain_db"), ({"ways": {"a": "b"}}, "ways: a"),
     ({"ways": {"a": [1]}}, "ways: a")],
)  # fmt: skip
def test_a_reading_that_would_loosen_too_much_is_refused(change: Any, told: str) -> None:
    with pytest.raises(ThresholdFault, match=told):
        read_person(json.dumps({**person_data(PERSON), **change}).encode(), "holt.json")


@given(SETS, st.floats(-9, 9), st.floats(0, 9))
def test_a_person_moves_the_score_within_bounds_and_never_lowers_a_margin(
    given_set: Thresholds, shift: float, raised: float
) -> None:
    own = of_person(given_set, Person("P", shifts={"closed-set": shift}, raised=raised))
    assert own.bars.keys() == given_set.bars.keys()
    for key, bar in own.bars.items():
        before = given_set.bars[key]
        assert before.margin <= bar.margin <= before.margin * MOST_RAISED
        if before.score is None or bar.score is None:
            assert before.score is bar.score
        else:
            assert abs(bar.score - before.score) <= MOST_SHIFT + 1e-9
            assert key[0] == "closed-set" or bar.score == before.score
            assert key[2] is not Kind.CRITICAL or bar.score >= before.score
