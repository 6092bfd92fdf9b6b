"""A drill opened by mistake costs one key: what it took goes back, and nothing of it counts."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.state import How
from tests.runner.engine.crew import Crew, item, kinds, refused


def test_a_drill_opened_by_mistake_is_left_and_the_held_question_asked_anew() -> None:
    crew = Crew().until("prepare.lamp")
    before = crew.run.state
    crew.drill("smoke")
    held = crew.run.state.ask
    outcome = crew.send(ev.Mistaken(crew.at))
    assert kinds(outcome) == ["left behind", "drill undone"]
    assert item(outcome, "drill undone") == ("drill undone", "smoke")
    after = crew.run.state
    assert crew.asked == "prepare.lamp"
    assert after.ask > held > before.ask
    assert (after.visits, after.values, after.timers) == (
        before.visits, before.values, before.timers
    )  # fmt: skip
    assert after.archive[-1].left == "opened by mistake"
    assert after.mistake is None
    assert crew.run.monitor is not None
    assert crew.run.monitor.faults == []


def test_muted_by_times_are_heard_again() -> None:
    crew = Crew().until("start.oil_pressure")
    assert not crew.run.state.timers["oil_rise"].muted
    crew.drill("fire")
    assert crew.run.state.timers["oil_rise"].muted
    crew.send(ev.Mistaken(crew.at))
    assert not crew.run.state.timers["oil_rise"].muted


def test_what_an_earlier_drill_gave_is_known_again() -> None:
    crew = Crew().until("prepare.day")
    crew.drill("smoke")
    crew.send(ev.MemoryDone(crew.at))
    crew.say("BATTERY OFF")
    crew.say("CABIN")
    crew.say("12.5")
    crew.say("CLOSED")
    before = crew.run.state
    assert str(before.values["smoke_bus"]) == "12.5"
    crew.drill("smoke")
    assert "smoke_bus" not in crew.run.state.values
    crew.send(ev.Mistaken(crew.at))
    assert (crew.run.state.values, crew.run.state.givers) == (before.values, before.givers)


def test_nothing_goes_back_once_anything_is_done() -> None:
    crew = Crew().until("prepare.day")
    crew.drill("smoke")
    crew.send(ev.MemoryDone(crew.at))
    assert refused(crew.send(ev.Mistaken(crew.at))) == "not by mistake"
    crew = Crew().until("prepare.day")
    crew.drill("hot")
    crew.say("GILLS OPEN")
    assert refused(crew.send(ev.Mistaken(crew.at))) == "not by mistake"
    assert refused(Crew().send(ev.Mistaken(60_000))) == "not by mistake"


def test_a_drill_without_memory_items_is_left_while_nothing_is_answered() -> None:
    crew = Crew().until("prepare.day")
    crew.drill("hot")
    assert crew.stands(Prompt.ASKING)
    assert "drill undone" in kinds(crew.send(ev.Mistaken(crew.at)))
    assert crew.asked == "prepare.day"


def test_a_drill_that_an_answer_demanded_is_not_left_so() -> None:
    crew = Crew().until("start.firing")
    crew.say("FIRE")
    assert crew.stands(Prompt.MEMORY_ITEMS)
    assert refused(crew.send(ev.Mistaken(crew.at))) == "not by mistake"


@pytest.mark.parametrize(("begun", "again"), [(False, "drill undone"), (True, "refused")])
def test_the_drill_that_it_replaced_stands_again_from_its_top(begun: bool, again: str) -> None:
    crew = Crew().until("prepare.day")
    crew.drill("fire")
    if begun:
        crew.send(ev.MemoryDone(crew.at))
        crew.say("CUT OFF")
    crew.drill("smoke")
    crew.send(ev.Mistaken(crew.at))
    drill = crew.run.state.drill
    assert drill is not None
    assert drill.flow == "fire"
    assert crew.stands(Prompt.MEMORY_ITEMS)
    assert {latch.how for latch in drill.latches} == {How.OPEN}
    # Only a drill of which nothing had been done can itself have been opened by mistake.
    assert again in kinds(crew.send(ev.Mistaken(crew.at)))


def test_the_choice_or_the_standby_that_it_came_over_stands_again() -> None:
    crew = Crew().until("prepare.lamp")
    at = crew.at
    crew.send(ev.Standby(at))
    crew.drill("smoke")
    crew.send(ev.Mistaken(crew.at))
    assert crew.stands(Prompt.STANDBY)
    crew.send(ev.Continue(at + 121_000))
    offered = crew.run.state.choosing
    assert offered is not None
    crew.drill("smoke")
    crew.send(ev.Mistaken(crew.at))
    assert crew.run.state.choosing == offered
