"""A flight that began with the rotor turning, and the rotor stands: what makes it turn comes first.

The list that engages it was not required, since it turned. Each test lets it come to stand in
another way before the flight; what follows on an engaged rotor must not be asked before it.
"""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.effects import Prompt
from tests.runner.engine.crew import Crew
from tests.runner.engine.test_ways_past_the_rule import until

TYPES = ("corvane_c4", "tern_t2")
FAULT = {"corvane_c4": "clutch_fault", "tern_t2": "belts_fault"}
AGAIN = {"corvane_c4": "ENGAGE ONCE MORE", "tern_t2": "TIGHTEN ONCE MORE"}


def turning(name: str) -> Crew:
    """The second flight of a day, begun with the rotor turning, on its way to the taxi."""
    run = Crew(name)
    shutdown = run.table.flows["shutdown"].steps[0].id
    until(run, shutdown)
    run.send(ev.NextFlight(run.at))
    assert run.run.state.flight == 2
    until(run, run.table.flows["before_take_off"].steps[0].id)
    assert run.run.state.values["rotor_at_brief"] == 1
    assert "engage" not in ahead(run)
    return run


def ahead(run: Crew) -> list[str]:
    """The lists that stand, and those that are planned, in the order in which they come."""
    return [*(v.flow for v in run.run.state.visits), *run.run.state.plan]


def engaged_anew(run: Crew) -> bool:
    """Whether the brief finds the rotor standing, and the engagement comes behind it, before
    everything that rests upon it."""
    until(run, run.table.flows["brief"].steps[-1].id)
    assert run.run.state.values["rotor_at_brief"] == 0
    run.say("CLOSED")
    lists = ahead(run)
    return "engage" in lists and lists.index("engage") < lists.index("before_take_off")


@pytest.mark.parametrize("name", TYPES)
@pytest.mark.parametrize("engine", ["ENGINE STOPPED", "ENGINE RUNNING"])
def test_a_rotor_found_standing_after_a_stop(name: str, engine: str) -> None:
    run = turning(name)
    run.send(ev.Recovered(run.run.at + 5000, gap=5000))
    for fact in (engine, "ROTOR STOPPED", "ON THE GROUND"):
        run.taken(fact)
    assert not run.stands(Prompt.CHOOSING)
    # The brief says anew that it does not turn, and then the engagement is required.
    assert engaged_anew(run)


@pytest.mark.parametrize("name", TYPES)
def test_a_rotor_stopped_in_a_drill_that_leads_back_to_its_engagement(name: str) -> None:
    run = turning(name)
    run.send(ev.OpenDrill(run.at, drill=FAULT[name]))
    result = next(s.id for s in run.table.flows[FAULT[name]].steps if s.id.endswith("_result"))
    run.send(ev.MemoryDone(run.at))
    until(run, result)
    run.say(AGAIN[name])
    assert engaged_anew(run)


@pytest.mark.parametrize("name", TYPES)
def test_a_rotor_that_still_turns_after_a_stop_asks_for_no_engagement(name: str) -> None:
    run = turning(name)
    run.send(ev.Recovered(run.run.at + 5000, gap=5000))
    for fact in ("ENGINE RUNNING", "ROTOR TURNING", "ON THE GROUND"):
        run.taken(fact)
    assert run.run.state.values["rotor_at_brief"] == 1
    assert "engage" not in ahead(run)
