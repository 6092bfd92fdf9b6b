"""The question of a step without a run: what the engine would listen for there."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from runner.engine.effects import Prompt
from runner.engine.table import Kind
from runner.flow.loader import Loaded, load_aircraft
from runner.host.questions import NoSuchStep, find_step, question_of
from tests.runner.speech.day import day

ROOT = Path(__file__).resolve().parents[3]
AIRCRAFT = ["flows/corvane_c4", "flows/tern_t2", "flows/starter", "tests/data/tiny"]


@cache
def loaded(name: str = AIRCRAFT[0]) -> Loaded:
    return load_aircraft(ROOT / name)


@pytest.mark.parametrize("name", AIRCRAFT)
def test_every_step_that_is_asked_has_its_question(name: str) -> None:
    table = loaded(name).table
    for step in table.steps.values():
        if not step.asked:
            with pytest.raises(NoSuchStep, match=step.id):
                question_of(table, step)
            continue
        found = question_of(table, step)
        assert found.listen.step == step.id
        assert found.listen.critical == step.critical
        assert found.listen.number == (step.kind is Kind.READING) or step.kind is Kind.WAIT
        assert found.view.flow == step.id.partition(".")[0]


def test_it_is_the_question_that_a_run_asks() -> None:
    """Of every question of the scripted day that asks for a step, for the first time."""
    table = loaded().table
    compared = 0
    for said in day():
        listen = said.listen
        if listen.prompt not in (Prompt.ASKING, Prompt.CAUTION, Prompt.CLOSING) or listen.elsewhere:
            continue
        if not listen.step or said.state.seen or table.steps[listen.step].kind is Kind.WAIT:
            continue
        compared += 1
        here = question_of(table, table.steps[listen.step]).listen
        assert here._replace(ask=0) == listen._replace(ask=0, critical_items=())
    assert compared > 150


def test_a_station_has_the_items_that_are_open() -> None:
    table = loaded().table
    nose = table.flows["outside_nose"].steps
    found = question_of(table, nose[0]).listen
    assert found.prompt is Prompt.STATION
    assert {one for one, _ in found.items} == {s.challenge for s in nose if s.kind is Kind.TICK}


@pytest.mark.parametrize(
    ("flow", "name", "step"),
    [
        ("start", "retry", "start.retry"),
        ("start", "start.retry", "start.retry"),
        ("", "start.retry", "start.retry"),
        ("", "start.193", "start.fire_guard"),
        ("", "193", "start.fire_guard"),
        ("start", "193", "start.fire_guard"),
        ("start", "Fire guard", "start.fire_guard"),
        ("start", "fire_guard", "start.fire_guard"),
    ],
)
def test_a_step_by_its_names(flow: str, name: str, step: str) -> None:
    assert find_step(loaded(), flow, name).id == step


@pytest.mark.parametrize(
    ("flow", "name", "told"),
    [
        ("start", "retri", "no such step in start; nearest: retry; allowed: fire_guard, "),
        ("start", "99", "or a number of 193 to 216"),
        ("", "strat.retry", "nearest: start.retry; allowed: LIST.STEP"),
        ("", "start.retri", "nearest: retry"),
    ],
)
def test_a_step_that_is_not_there(flow: str, name: str, told: str) -> None:
    with pytest.raises(NoSuchStep) as fault:
        find_step(loaded(), flow, name)
    assert told in str(fault.value)
