"""A by-time that ran out ends with the engine and its list, at the latest with the flight."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.draft import Draft
from runner.engine.passing import flight_begins
from runner.engine.state import NEVER
from runner.engine.views import view
from tests.flows.support import TYPES
from tests.runner.engine.crew import Crew

NAME = "oil_pressure"
STARTS = {
    "corvane_c4": ("start.running", "MIXTURE RICH"),
    "tern_t2": ("start.starter_out", "STARTER RELEASED"),
}
"""The step that starts it, and its answer."""


def start(crew: Crew) -> Crew:
    """The engine runs and the oil pressure is waited for."""
    step, answer = STARTS[crew.table.aircraft]
    crew.until(step)
    crew.say(answer)
    return crew


def ran_out(name: str) -> Crew:
    """The oil pressure did not come in time; its list stands open."""
    crew = start(Crew(name))
    crew.pause(60)
    assert crew.run.state.timers[NAME].over
    assert stands(crew)
    return crew


def stands(crew: Crew) -> bool:
    """Whether the screen counts it."""
    return any(one.key == NAME for one in view(crew.table, crew.run.state).running)


def stop(crew: Crew) -> None:
    """Shuts down until the engine stands."""
    crew.send(ev.Discontinue(crew.at))
    assert stands(crew)
    crew.until("switches")
    assert not crew.run.state.engine


@pytest.mark.parametrize("name", TYPES)
def test_it_ends_when_the_engine_stands_and_its_list_is_left(name: str) -> None:
    crew = ran_out(name)
    stop(crew)
    assert not stands(crew)
    timer = crew.run.state.timers[NAME]
    assert (timer.over, timer.met) == (True, False)


@pytest.mark.parametrize("name", TYPES)
def test_while_its_list_stands_it_neither_ends_nor_begins_again(name: str) -> None:
    crew = ran_out(name)
    began = crew.run.state.timers[NAME].began
    crew.drill("fire_in_start")
    assert stands(crew)
    draft = Draft(crew.table, crew.run.state, ev.Wake(crew.at))
    flight_begins(draft)
    assert draft.timers[NAME].ended == NEVER
    assert draft.timers[NAME].began == began


@pytest.mark.parametrize("name", TYPES)
def test_it_runs_out_behind_a_list_that_was_left_and_is_gone_at_once(name: str) -> None:
    crew = start(Crew(name))
    crew.send(ev.Discontinue(crew.at))
    crew.send(ev.Recovered(crew.at, gap=0))
    for fact in ("ENGINE STOPPED", "ROTOR STOPPED", "ON THE GROUND"):
        crew.taken(fact)
    assert not crew.run.state.timers[NAME].over
    crew.pause(60)
    assert crew.run.state.timers[NAME].over
    assert not stands(crew)


@pytest.mark.parametrize("name", TYPES)
def test_the_next_start_counts_anew_and_is_late_by_its_own_clock(name: str) -> None:
    crew = ran_out(name)
    stop(crew)
    crew.until("secure")
    crew.send(ev.NextFlight(crew.at))
    assert not stands(crew)
    crew.until(STARTS[name][0])
    assert NAME not in crew.run.state.timers
    start(crew)
    assert not crew.run.state.timers[NAME].over
    crew.pause(60)
    assert crew.run.state.timers[NAME].over
