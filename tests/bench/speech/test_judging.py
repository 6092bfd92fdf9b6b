"""The table and the day, from results that are known."""

from __future__ import annotations

import pytest

pytest.importorskip("numpy")

from collections import Counter

from runner.speech.heard import AnswerSet, Phrase
from tests.bench.speech import asked, day, intervals, judging
from tests.bench.speech.day import Kind, Rate
from tests.bench.speech.judging import Result, What
from tests.bench.speech.noise import LEVELS
from tests.bench.speech.trials import Speech, Trial

SET = AnswerSet(0, (Phrase("on", ("on",)),))


def trial(part: str, sort: str, truth: str | None, level: float | None = None) -> Trial:
    return Trial(part, 0, Speech("a", "on"), SET, truth, level, "", sort)


@pytest.mark.parametrize(
    ("line", "other", "equal"),
    [("90", "90.0", True), ("below 80", "below 80.0", True), ("below 80", "above 80", False),
     ("on", "on", True), ("on", "off", False), ("29.9", "29.92", False), ("", "on", False)],
)  # fmt: skip
def test_answers_are_the_same_by_value(line: str, other: str, equal: bool) -> None:
    assert judging.same(line, other) is equal


def test_each_goal_counts_what_it_names() -> None:
    results = [
        *[Result(trial("words", "answer", "ON"), What.ACCEPTED, "ON")] * 400,
        *[Result(trial("words", "answer", "ON"), What.ACCEPTED, "OFF")] * 3,
        *[Result(trial("words", "answer", "ON"), What.AGAIN)] * 97,
        *[Result(trial("words", "other", None), What.ACCEPTED, "ON")] * 3,
        *[Result(trial("words", "other", None), What.AGAIN, "ON")] * 97,
        *[Result(trial("numbers", "radio", "90"), What.AFFIRM, "80")] * 10,
        *[Result(trial("numbers", "radio", "90"), What.AFFIRM, "90")] * 10,
        *[Result(trial("numbers", "radio", "90"), What.ACCEPTED, "90")] * 80,
        Result(trial("critical", "near miss", None), What.ACCEPTED, "say again", control=True),
        Result(trial("phrases", "words", "on"), What.ACCEPTED, "on"),
        Result(trial("phrases", "near miss", None), What.ACCEPTED, "on"),
    ]
    found = {one.goal.name: one for one in judging.figures(results) if one.level is None}
    wrong = found["real single words accepted wrong"]
    assert (wrong.hits, wrong.trials) == (3, 500)
    assert wrong.held == intervals.upper(3, 500) > 0.010
    assert not wrong.met
    assert (found["other real words accepted"].hits, found["other real words accepted"].met) == (
        3,
        False,
    )
    assert found["numbers accepted without affirm and wrong"].hits == 0
    # None of a hundred shows no more than that it is under three in a hundred.
    assert not found["numbers accepted without affirm and wrong"].met
    assert found["critical steps accepted wrong"].met
    assert found["real single words accepted and right"].share == 0.8
    assert not found["real single words accepted and right"].met
    assert found["phrases accepted and right"].trials == 1
    assert found["numbers right before read-back"].hits == 90
    rows = judging.table(judging.figures(results))
    assert sum("MISSED" in row for row in rows) == 3
    assert sum("NOT TRIED" in row for row in rows) == 2 * len(judging.GOALS)


def test_what_was_not_tried_is_not_met() -> None:
    assert not any(one.met for one in judging.figures([]))


def test_the_breakdown_adds_up() -> None:
    results = [
        Result(trial("numbers", "radio", "90", 10), What.AFFIRM, "80"),
        Result(trial("numbers", "radio", "90", 10), What.ACCEPTED, "90"),
        Result(trial("numbers", "radio", "90", 10), What.AGAIN),
        Result(trial("numbers", "radio", "90", 10), What.ACCEPTED, "say again", control=True),
    ]
    head, row = judging.breakdown(results)
    assert row.split() == ["numbers", "radio", "10", "dB", "1", "0", "1", "0", "1", "1", "4"]
    assert head.split()[-1] == "of"


KINDS: list[Kind] = [("words", False), ("number", False), ("stray", False)]


def judged(words: Rate, number: Rate, stray: Rate) -> dict[tuple[Kind, float | None], Rate]:
    return {
        (kind, level): rate
        for kind, rate in zip(KINDS, (words, number, stray), strict=True)
        for level in LEVELS
    }


def test_a_day_is_added_up() -> None:
    """By hand: 80 words of which 1 in 5 is said again (1.25 tries), 20 numbers of which 1 in 10
    is read back and 1 in 100 wrong, 10 strays of which 1 in 100 is taken."""
    inputs = Counter({(KINDS[0], False): 50, (KINDS[0], True): 30, (KINDS[1], True): 20})
    rates = judged(Rate(80, 0, 0, 0, 20), Rate(89, 1, 10, 0, 0), Rate(0, 1, 0, 0, 99))
    found = day.reckon(inputs, rates, missed=0, strays=10)
    assert found.inputs == 100
    assert found.again == pytest.approx(80 * 0.25)
    assert found.affirms == pytest.approx(20 * 0.1)
    assert found.wrong == pytest.approx(20 * 0.01 + 10 * 0.01)
    assert found.of_critical == 0
    worst = day.reckon(inputs, rates, at_worst=True, missed=0, strays=10)
    assert worst.wrong > found.wrong
    assert "goal: at most 12" in day.told(found, worst)[-1]


def test_a_wrong_read_back_is_repeated_or_affirmed_by_mistake() -> None:
    inputs = Counter({(KINDS[1], False): 10})
    rates = judged(Rate(), Rate(50, 0, 0, 50, 0), Rate(0, 0, 0, 0, 10))
    clean = day.reckon(inputs, rates, missed=0, strays=0)
    assert clean.wrong == 0
    assert clean.affirms == pytest.approx(10 * 0.5 * 2)
    some = day.reckon(inputs, rates, missed=0.1, strays=0)
    assert some.wrong == pytest.approx(10 * 0.05 / (1 - 0.45))


def test_a_kind_that_was_not_judged_is_said() -> None:
    inputs = Counter({(("item", True), False): 1})
    with pytest.raises(ValueError, match="nothing was judged of item"):
        day.reckon(inputs, judged(Rate(1), Rate(1), Rate(1)))
    rates = judged(Rate(0, 0, 0, 0, 5), Rate(1), Rate(1))
    with pytest.raises(ValueError, match="never taken"):
        day.reckon(Counter({(KINDS[0], False): 1}), rates)


def test_rates_take_a_control_that_nobody_said_as_said_again() -> None:
    results = [
        Result(trial("phrases", "words", "on"), What.ACCEPTED, "on"),
        Result(trial("phrases", "words", "on"), What.ACCEPTED, "say again", control=True),
        Result(trial("critical", "other phrase", None), What.ACCEPTED, "on"),
        Result(trial("phrases", "near miss", None), What.ACCEPTED, "on"),
        Result(trial("words", "answer", "ON"), What.ACCEPTED, "OFF"),
        Result(trial("numbers", "radio", "9", 5), What.AFFIRM, "5"),
    ]
    assert day.rates(results) == {
        (("words", False), None): Rate(1, 0, 0, 0, 1),
        (("stray", True), None): Rate(0, 1, 0, 0, 0),
        (("number", False), 5): Rate(0, 0, 0, 1, 0),
    }


def test_the_mix_of_the_demo_day_is_its_own() -> None:
    found = day.mix(asked.answered())
    keys = sum(one.sort is asked.Sort.KEYS for one in asked.answered())
    assert sum(found.values()) == len(asked.answered()) - keys
    assert found[("number", False), True] > 20
    assert found[("words", True), True] > 20
    assert not any(kind == "number" and critical for (kind, critical), _ in found)
