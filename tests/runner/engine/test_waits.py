"""Waits and by-times: minimum and maximum times, at the moment itself and one unit beside it."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.state import How
from tests.runner.engine.crew import Crew, item, kinds, refused


def draining(crew: Crew) -> Crew:
    """The clutch drains: both conditions read, the harness locked."""
    crew.until("couple.drain")
    crew.say("1700")
    crew.say("50")
    crew.say("LOCKED")
    return crew


def test_a_wait_without_conditions_ends_by_the_clock_and_not_a_moment_before() -> None:
    crew = Crew().until("start.firing")
    crew.say("NOT FIRING")
    began = crew.run.at
    assert crew.stands(Prompt.WAITING)
    crew.wait_until(began + 119_999)
    assert crew.stands(Prompt.WAITING)
    crew.wait_until(began + 120_000)
    assert crew.asked == "start.engaged"


def test_no_word_ends_a_wait() -> None:
    crew = Crew().until("start.firing")
    crew.say("NOT FIRING")
    for word in ("done", "waited", "ROGER", "120"):
        assert refused(crew.say(word)) == "waiting"
    assert refused(crew.accept()) == "nobody may accept"
    assert refused(crew.put_off()) == "waiting"


def test_a_wait_starts_when_every_condition_was_read_and_met() -> None:
    crew = Crew().until("couple.drain")
    assert "wait started" not in kinds(crew.say("1700"))
    assert "unmet" in kinds(crew.taken("39"))
    assert "wait started" not in kinds(crew.say("1700"))
    assert "wait started" in kinds(crew.say("50"))


def test_the_conditions_are_asked_at_their_interval_and_at_the_end() -> None:
    crew = draining(Crew())
    crew.pause(57)
    assert crew.stands(Prompt.WAITING)
    crew.pause(3)
    assert crew.stands(Prompt.ASKING)
    crew.say("1700")
    assert kinds(crew.say("50")) == ["met", "wait kept"]
    crew.pause(70)
    assert kinds(crew.say("1700")) == ["met"]
    assert kinds(crew.say("50")) == ["met", "wait done"]


def test_a_condition_that_is_broken_starts_the_wait_again_from_now() -> None:
    crew = draining(Crew())
    crew.pause(60)
    outcome = crew.taken("1649")
    assert kinds(outcome) == ["unmet", "wait broken"]
    crew.say("1700")
    crew.say("50")
    began = crew.run.at
    crew.wait_until(began + 60_000)
    crew.say("1700")
    crew.say("50")
    # Without the rule that a broken wait counts anew, the moment of coupling would end it here.
    crew.wait_until(began + 119_999)
    assert crew.how("couple.drain") is How.OPEN
    assert crew.stands(Prompt.WAITING)
    crew.wait_until(began + 120_000)
    crew.say("1700")
    crew.say("50")
    assert crew.how("couple.drain") is How.ANSWERED


def test_condition_lost_starts_the_wait_again() -> None:
    crew = draining(Crew())
    assert kinds(crew.send(ev.ConditionLost(crew.at))) == ["wait broken"]
    assert crew.stands(Prompt.ASKING)
    assert refused(crew.send(ev.ConditionLost(crew.at))) == "not running"


def test_a_value_read_out_unasked_breaks_a_wait_and_answers_nothing() -> None:
    crew = draining(Crew())
    kept = ev.ReadingSeen(crew.at, name="engine_rpm", value="1650")
    assert kinds(crew.send(kept)) == ["noted"]
    broken = ev.ReadingSeen(crew.at, name="engine_rpm", value="1649")
    assert kinds(crew.send(broken)) == ["wait broken"]
    assert "engine_rpm" not in crew.run.state.values


def test_the_end_wants_readings_made_after_the_end() -> None:
    crew = draining(Crew())
    crew.pause(60)
    crew.say("1700")
    crew.pause(70)
    # One condition was read before the end, the other not at all: both are asked anew.
    crew.say("50")
    assert crew.how("couple.drain") is How.OPEN


def test_a_standby_and_a_drill_end_a_conditioned_wait() -> None:
    crew = draining(Crew())
    crew.send(ev.Standby(crew.at))
    crew.send(ev.Continue(crew.at))
    assert crew.stands(Prompt.ASKING)
    crew.say("1700")
    crew.say("50")
    crew.drill("hot")
    crew.say("GILLS OPEN")
    crew.say("CLOSED")
    assert crew.asked == "couple.drain"
    assert crew.stands(Prompt.ASKING)


def test_a_standby_stops_no_clock() -> None:
    crew = Crew().until("start.firing")
    crew.say("NOT FIRING")
    crew.send(ev.Standby(crew.at))
    crew.pause(121)
    assert crew.stands(Prompt.STANDBY)
    assert crew.how("start.cooling") is How.ANSWERED


def test_meanwhile_steps_are_offered_during_the_wait_and_not_before() -> None:
    crew = Crew().until("couple.drain")
    crew.say("1700")
    assert crew.asked == "couple.drain"
    crew.say("50")
    assert crew.asked == "couple.harness"


def test_a_wait_that_is_no_longer_required_does_not_go_on_unseen() -> None:
    crew = Crew().until("start.firing")
    crew.say("NOT FIRING")
    crew.pause(30)
    run = crew.run
    assert run.state.visits[0].wait is not None
    crew.send(ev.Discontinue(crew.at))
    crew.pause(300)
    assert crew.how("start.cooling") is How.NOT_DONE


# by-times ---------------------------------------------------------------------------------------


def started(crew: Crew) -> int:
    """Oil pressure is being waited for; when the clock began, in run time."""
    crew.until("start.rich")
    crew.say("RICH")
    return int(crew.run.at)


def test_a_by_time_calls_unasked_and_runs_out_at_its_end() -> None:
    crew = Crew()
    began = started(crew)
    crew.pause(60)
    calls = {
        event.at - began: outcome[0]
        for event, outcome in zip(crew.run.events, crew.run.outcomes, strict=True)
        if isinstance(event, ev.Wake) and event.at >= began
    }
    assert calls == {
        10_000: ("timer call", "oil_rise", "10"),
        20_000: ("timer call", "oil_rise", "20"),
        30_000: ("timer over", "oil_rise"),
    }


@pytest.mark.parametrize(("after", "how"), [(29_999, How.ANSWERED), (30_000, How.UNMET)])
def test_a_value_in_limits_is_met_only_while_its_by_time_runs(after: int, how: How) -> None:
    crew = Crew()
    began = started(crew)
    crew.wait_until(began + after)
    crew.say("60", after=0)
    assert crew.how("start.oil_pressure") is how


def test_a_by_time_that_runs_out_makes_its_step_unmet_before_any_answer() -> None:
    crew = Crew()
    started(crew)
    crew.pause(31)
    assert crew.latch("start.oil_pressure").why == "late"
    assert crew.stands(Prompt.UNMET)
    assert item(crew.say("60"), "unmet")[3:] == ("late",)


def test_a_by_time_that_never_started_meets_nothing() -> None:
    crew = Crew().until("start.rich")
    crew.correct("start.firing", "FIRING")
    crew.not_so()
    assert crew.how("start.oil_pressure") is How.OPEN
    assert "oil_rise" not in crew.run.state.timers
    assert crew.asked == "start.rich"


def test_a_met_by_time_calls_no_more() -> None:
    crew = Crew()
    started(crew)
    assert kinds(crew.say("60")) == ["met", "timer met"]
    wakes = len([e for e in crew.run.events if isinstance(e, ev.Wake)])
    crew.pause(60)
    assert len([e for e in crew.run.events if isinstance(e, ev.Wake)]) == wakes


def test_a_by_time_that_a_drill_ended_was_not_met_in_time() -> None:
    crew = Crew()
    began = started(crew)
    crew.drill("fire")
    crew.send(ev.MemoryDone(crew.at))
    assert "oil_rise" in [i[1] for i in crew.say("CUT OFF") if i[0] == "timer met"]
    crew.drill("hot")
    crew.say("GILLS OPEN")
    crew.say("CLOSED")
    crew.wait_until(began + 40_000)
    assert item(crew.say("60"), "unmet")[3:] == ("late",)


def test_a_drill_mutes_its_timers_and_their_clocks_go_on() -> None:
    crew = Crew()
    started(crew)
    crew.drill("fire")
    assert crew.run.state.timers["oil_rise"].muted
    crew.drill("hot")
    assert not crew.run.state.timers["oil_rise"].muted
    crew.pause(40)
    assert crew.run.state.timers["oil_rise"].over


def test_going_back_starts_the_by_time_anew() -> None:
    crew = Crew().until("start.firing")
    first = crew.run.state.timers["starter"].began
    crew.say("NOT FIRING")
    assert "starter" not in crew.run.state.timers
    crew.pause(121)
    crew.say("ENGAGED")
    assert crew.run.state.timers["starter"].began > first


def test_a_moment_noted_again_is_the_one_that_a_wait_counts_from() -> None:
    crew = Crew().until("start.firing")
    crew.say("NOT FIRING")
    crew.pause(60)
    crew.drill("fire")
    crew.send(ev.MemoryDone(crew.at))
    crew.say("CUT OFF")
    released = crew.run.at
    crew.drill("hot")
    crew.say("GILLS OPEN")
    crew.say("CLOSED")
    crew.wait_until(released + 119_999)
    assert crew.how("start.cooling") is How.OPEN
    crew.wait_until(released + 120_000)
    assert crew.how("start.cooling") is How.ANSWERED
