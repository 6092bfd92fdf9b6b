"""Every case that conditions can tell apart, and none that cannot be."""

from __future__ import annotations

from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest

from runner.engine.conditions import Condition, compile_condition
from runner.flow.checks.cases import MOST_CASES, can_hold, cases, said
from runner.flow.checks.subject import Subject
from runner.flow.loader import load_documents

CLEAN = Path(__file__).parents[3] / "examples" / "valid" / "clean"
WORK = """\
list: work
title: Work
phase: work
flights: first
only when: airborne || hook
steps:
  - {reading: temp}
  - {choose: Fuel, as: fuel, choices: [MAIN, REAR, BOTH]}
  - close: Work
"""


@cache
def subject() -> Subject:
    documents = {p.relative_to(CLEAN).as_posix(): p.read_bytes() for p in CLEAN.rglob("*.yaml")}
    return Subject(load_documents({**documents, "lists/work.yaml": WORK.encode()}))


def condition(source: str) -> Condition:
    return compile_condition(source, subject().table.names)


def test_a_choice_has_its_answers_and_a_truth_both() -> None:
    every = cases(subject(), [condition('fuel == "MAIN" && hook')])
    assert every is not None
    assert {(case["fuel"], case["hook"]) for case in every} == {
        (fuel, hook) for fuel in ("MAIN", "REAR", "BOTH") for hook in (True, False)
    }


def test_a_number_has_what_it_is_compared_with_and_its_neighbours() -> None:
    every = cases(subject(), [condition("temp > 50.0"), condition("80.0 >= temp")])
    assert every is not None
    marks = [-40, 49, 50, 51, 79, 80, 81, 300]
    assert [case["temp"] for case in every] == [Decimal(mark) for mark in marks]


def test_nothing_lies_outside_the_plausible_range() -> None:
    every = cases(subject(), [condition("temp > 300.0 || temp == -40.0")])
    assert every is not None
    assert {case["temp"] for case in every} == {Decimal(n) for n in (-40, -39, 299, 300)}


@pytest.mark.parametrize("source", ["temp * 2.0 > 50.0", "temp > gauge_temp", "temp + 1.0 == 5.0"])
def test_a_number_that_is_computed_with_is_not_judged(source: str) -> None:
    one = condition(source)
    assert cases(subject(), [one]) is None
    assert can_hold(subject(), [one])


def test_too_many_cases_are_not_gone_through() -> None:
    many = [condition(f"temp == {number}.0") for number in range(0, 200, 3)]
    many += [condition(f"gauge_speed == {number}.0") for number in range(0, 900, 9)]
    assert cases(subject(), many) is None
    assert MOST_CASES < 60 * 90


def test_the_first_flight_is_flight_one() -> None:
    assert not can_hold(subject(), [condition("first_flight && flight == 2.0")])
    assert not can_hold(subject(), [condition("!first_flight"), condition("flight == 1.0")])
    assert can_hold(subject(), [condition("!first_flight && flight == 2.0")])


def test_a_list_is_worked_on_its_flights_and_under_its_condition() -> None:
    flow = subject().table.flows["work"]
    assert not can_hold(subject(), [condition("!first_flight")], flow)
    assert not can_hold(subject(), [condition("flight > 1.0")], flow)
    assert not can_hold(subject(), [condition("!airborne && !hook")], flow)
    assert can_hold(subject(), [condition("!airborne")], flow)


def test_conditions_hold_together_or_not() -> None:
    one, other = condition('fuel == "MAIN"'), condition('fuel != "MAIN"')
    assert can_hold(subject(), [one])
    assert can_hold(subject(), [other, None])
    assert not can_hold(subject(), [one, other])
    assert can_hold(subject(), [])


def test_a_case_is_told_in_words() -> None:
    assert said({"fuel": "MAIN", "hook": False, "temp": Decimal("50.0")}) == (
        "fuel is MAIN and hook is false and temp is 50.0"
    )
