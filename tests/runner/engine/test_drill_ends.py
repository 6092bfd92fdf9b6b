"""What a drill leaves behind: values made void behind closed lists, and by-times that run."""

from __future__ import annotations

from runner.engine import events as ev
from runner.engine.draft import Draft
from runner.engine.drills import void
from runner.engine.effects import Prompt
from runner.engine.flights import first_not_closed
from runner.engine.state import NEVER, How
from tests.runner.engine.crew import Crew, item


def hot(crew: Crew) -> tuple[tuple[str, ...], ...]:
    """Works the drill that makes the temperatures void, and continues."""
    crew.drill("hot")
    crew.say("GILLS OPEN")
    return crew.say("CLOSED")


def test_a_value_made_void_behind_a_closed_list_has_it_asked_again() -> None:
    crew = Crew().until("magnetos.base")
    assert "run_up" in crew.run.state.valid
    assert "head_temp" in crew.run.state.values
    outcome = hot(crew)
    assert item(outcome, "reopened") == ("reopened", "run_up")
    assert "run_up" not in crew.run.state.valid
    flags = [f.where for f in crew.run.state.flags]
    assert flags == ["run_up.head_temperature", "run_up.oil_temperature"]
    assert [v.flow for v in crew.run.state.visits] == ["run_up", "magnetos"]
    opened = [step.id for step in crew.table.flows["run_up"].steps if crew.how(step.id) is How.OPEN]
    assert opened == ["run_up.oil_temperature", "run_up.head_temperature", "run_up.run_up"]
    assert crew.asked == "run_up.oil_temperature"
    crew.taken("60")
    crew.taken("180")
    assert crew.how("run_up.carburettor_heat") is How.ANSWERED
    assert item(crew.say("CLOSED"), "list closed") == ("list closed", "run_up")
    assert crew.asked == "magnetos.base"
    assert "run_up" in crew.run.state.valid


def test_what_is_asked_again_comes_before_the_list_that_lifts_off() -> None:
    crew = Crew().until("lift.lift_oil")
    hot(crew)
    assert crew.asked == "run_up.oil_temperature"
    assert "lift" not in crew.run.state.plan
    crew.until("lift.lift_oil")
    assert crew.how("run_up.oil_temperature") is How.ANSWERED
    assert "run_up" in crew.run.state.valid


def test_a_list_skipped_as_valid_whose_value_is_made_void_is_asked_whole() -> None:
    crew = Crew().until("papers")
    crew.send(ev.NextFlight(crew.at))
    crew.until("magnetos.base")
    assert "run_up" in crew.run.state.valid
    hot(crew)
    assert "run_up" not in crew.run.state.valid
    assert [v.flow for v in crew.run.state.visits] == ["run_up", "magnetos"]
    assert crew.how("run_up.carburettor_heat") is How.OPEN


def test_in_flight_it_is_flagged_and_no_longer_valid_but_not_asked() -> None:
    crew = Crew().until("lift.lift_press")
    assert crew.run.state.airborne
    outcome = hot(crew)
    assert item(outcome, "reopened") == ()
    assert item(outcome, "flagged")
    assert "run_up" not in crew.run.state.valid
    assert "run_up" not in crew.run.state.plan


def test_after_the_flight_nothing_that_belongs_before_it_is_asked() -> None:
    crew = Crew().until("stopping.reduced")
    hot(crew)
    assert "run_up" not in crew.run.state.valid
    assert "run_up" not in crew.run.state.plan
    assert crew.asked == "stopping.reduced"


def test_a_restart_leads_to_the_closed_list_whose_value_the_drill_made_void() -> None:
    crew = Crew().until("couple.coupling")
    closed = [v.flow for v in crew.run.state.archive if v.closed_at != NEVER]
    assert closed[-1] == "start"
    crew.drill("fire")
    crew.send(ev.MemoryDone(crew.at))
    crew.say("CUT OFF")
    crew.say("OUT")
    crew.say("CLOSED")
    outcome = crew.say("OUT")
    assert item(outcome, "flagged")[2] == "start.oil_pressure"
    assert [v.flow for v in crew.run.state.visits] == ["start"]
    draft = Draft(crew.table, crew.run.state, ev.Wake(crew.at))
    assert first_not_closed(draft, "couple") == "start"


def test_a_way_back_begins_with_what_is_undone_and_takes_the_rest_as_closed() -> None:
    crew = Crew().until("magnetos.base")
    draft = Draft(crew.table, crew.run.state, ev.Wake(crew.at))
    assert first_not_closed(draft, "magnetos") == "magnetos"
    assert void(draft, ("head_temp",)) == {"run_up"}
    assert first_not_closed(draft, "magnetos", {"run_up"}) == "run_up"


def test_a_by_time_that_runs_is_not_lost_by_opening_a_drill_that_uses_it() -> None:
    crew = Crew("corvane_c4")
    crew.until("start.starter", most=2500)
    crew.say("STARTER ENGAGED") if crew.stands(Prompt.ASKING) else None
    began = crew.run.state.timers["starter"].began
    assert crew.run.state.timers["starter"].ended == NEVER
    crew.drill("over_primed")
    assert crew.run.state.timers["starter"].began == began
    assert crew.run.state.timers["starter"].ended == NEVER
