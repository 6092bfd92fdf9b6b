"""Drills and discontinue: from anywhere, at once, each to an end that its author wrote."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.outcomes import sentence
from runner.engine.state import How
from tests.runner.engine.crew import Crew, item, kinds, refused


def smoke(crew: Crew, source: str = "CABIN") -> None:
    """Works the smoke drill up to its closing call."""
    crew.drill("smoke")
    crew.send(ev.MemoryDone(crew.at))
    crew.say("BATTERY OFF")
    crew.say(source)
    crew.say("12.0")


def test_a_drill_opens_at_once_over_whatever_stands() -> None:
    crew = Crew().until("run_up.head_temperature")
    crew.say("250")
    assert crew.stands(Prompt.READ_BACK)
    assert kinds(crew.drill("smoke")) == ["entered", "drill in"]
    assert crew.stands(Prompt.MEMORY_ITEMS)
    assert crew.run.state.pending is None


def test_memory_items_come_first_and_are_verified_one_by_one() -> None:
    crew = Crew().until("prepare.day")
    crew.drill("smoke")
    for word in ("BATTERY OFF", "done", "roger"):
        assert refused(crew.say(word)) == "memory items"
    assert kinds(crew.send(ev.MemoryDone(crew.at))) == ["memory done"]
    assert crew.asked == "smoke.battery"
    assert refused(crew.send(ev.MemoryDone(crew.at))) == "no memory items"


def test_continue_here_recalls_the_place_and_asks_again_what_it_made_void() -> None:
    crew = Crew().until("prepare.bus_voltage")
    crew.both("26.0")
    smoke(crew)
    outcome = crew.say("CLOSED")
    assert item(outcome, "drill out")[2:] == ("continue here", "Gone")
    assert crew.asked == "prepare.bus_voltage"
    assert "bus" not in crew.run.state.values


def test_a_drill_in_a_drill_replaces_it() -> None:
    crew = Crew().until("start.firing")
    crew.say("FIRE")
    crew.send(ev.MemoryDone(crew.at))
    crew.say("CUT OFF")
    assert "left behind" in kinds(crew.say("SMOKE ONLY"))
    assert crew.run.state.drill is not None
    assert crew.run.state.drill.flow == "smoke"
    fire = crew.run.state.archive[-1]
    assert fire.left == "drill Smoke"


def test_a_restart_leaves_the_lists_behind_and_begins_at_the_first_line() -> None:
    crew = Crew().until("start.oil_pressure")
    crew.taken("20")
    crew.drill("fire")
    crew.send(ev.MemoryDone(crew.at))
    crew.say("CUT OFF")
    crew.say("OUT")
    crew.say("CLOSED")
    crew.say("OUT")
    assert crew.run.state.visits[0].flow == "start"
    assert crew.how("start.engaged") is How.OPEN
    assert [d.text for d in crew.run.state.defects] == ["Fire in start"]
    left = [v for v in crew.run.state.archive if v.flow == "start"]
    assert left[-1].left == "drill Fire"
    assert left[-1].closed_at < 0


def test_unserviceable_opens_a_defect_and_leads_to_the_shutdown_list() -> None:
    crew = Crew().until("start.firing")
    crew.say("FIRE")
    crew.send(ev.MemoryDone(crew.at))
    crew.say("CUT OFF")
    crew.say("BURNING")
    outcome = crew.say("CLOSED")
    assert item(outcome, "drill out")[2] == "unserviceable"
    assert crew.run.state.visits[0].flow == "stopping"


def test_several_ends_that_apply_are_offered() -> None:
    crew = Crew().until("prepare.day")
    smoke(crew, "ENGINE")
    assert item(crew.say("CLOSED"), "choose")[2:] == ("Gone", "Still there")
    assert crew.run.state.drill is not None
    assert kinds(crew.say("STILL THERE"))[0] == "drill out"
    assert crew.run.state.visits[0].flow == "stopping"


def test_ends_that_are_offered_follow_a_correction() -> None:
    crew = Crew().until("prepare.day")
    smoke(crew, "ENGINE")
    crew.say("CLOSED")
    crew.correct("smoke.source", "CABIN")
    assert refused(crew.say("STILL THERE")) == "choose"
    assert kinds(crew.say("GONE"))[0] == "drill out"


def test_a_drill_opened_again_by_a_correction_does_not_end() -> None:
    crew = Crew().until("prepare.day")
    smoke(crew, "ENGINE")
    crew.say("CLOSED")
    crew.correct("smoke.smoke_bus", "26.0")
    assert crew.asked == "smoke.smoke_bus"
    assert crew.stands(Prompt.UNMET)
    crew.say("12.0")
    assert crew.stands(Prompt.CLOSING)
    crew.say("CLOSED")
    assert crew.stands(Prompt.CHOOSING)


def test_a_drill_is_not_closed_while_a_step_is_open() -> None:
    crew = Crew().until("prepare.day")
    crew.drill("smoke")
    crew.send(ev.MemoryDone(crew.at))
    assert refused(crew.say("CLOSED")) == "not an answer"
    assert crew.run.state.drill is not None


def test_an_unknown_drill_opens_nothing_and_names_the_nearest() -> None:
    crew = Crew().until("prepare.day")
    assert crew.drill("smok") == (("refused", "unknown drill", "smoke"),)


def test_a_drill_before_the_first_page_leaves_the_page_to_be_read() -> None:
    crew = Crew(read=False)
    crew.drill("hot")
    assert crew.asked == "hot.gills"
    crew.say("GILLS OPEN")
    crew.say("CLOSED")
    assert crew.stands(Prompt.FIRST_PAGE)


@pytest.mark.parametrize(
    ("turning", "goal"),
    [((), "stopping"), (("engine",), "stopping"), (("engine", "rotor"), "stopping")],
)
def test_discontinue_leads_by_what_is_turning(turning: tuple[str, ...], goal: str) -> None:
    crew = Crew().until({0: "prepare.day", 1: "start.oil_pressure", 2: "run_up"}[len(turning)])
    assert crew.run.state.engine is ("engine" in turning)
    assert crew.run.state.rotor is ("rotor" in turning)
    crew.send(ev.Discontinue(crew.at))
    assert crew.run.state.visits[0].flow == goal


def test_discontinue_in_flight_leads_to_the_landing_list() -> None:
    crew = Crew().until("lift.take_off")
    crew.send(ev.Mark(crew.at, what="take-off", when=crew.run.at))
    crew.send(ev.Discontinue(crew.at))
    assert crew.run.state.visits[0].flow == "hover"


def test_discontinue_leaves_lists_not_done_and_never_closed() -> None:
    crew = Crew().until("run_up.head_temperature")
    outcome = crew.send(ev.Discontinue(crew.at))
    assert item(outcome, "left behind") == ("left behind", "run_up", "discontinued")
    left = crew.run.state.archive[-1]
    assert left.closed_at < 0
    assert left.latches[-1].how is How.NOT_DONE


def test_discontinue_on_the_way_there_already_stays_there() -> None:
    crew = Crew().until("stopping.mixture")
    assert kinds(crew.send(ev.Discontinue(crew.at))) == ["turned"]
    assert crew.asked == "stopping.mixture"
    assert crew.how("stopping.head_temperature") is How.ANSWERED


def test_discontinue_in_a_drill_leaves_the_drill_too() -> None:
    crew = Crew().until("stopping.mixture")
    crew.drill("smoke")
    crew.send(ev.Discontinue(crew.at))
    assert crew.run.state.drill is None
    assert crew.run.state.visits[0].flow == "stopping"


def test_a_drill_that_is_open_is_not_opened_again_and_keeps_what_is_done() -> None:
    crew = Crew().until("prepare.day")
    crew.drill("fire")
    for done in (False, True):
        if done:
            crew.send(ev.MemoryDone(crew.at))
            crew.say("CUT OFF")
        before = crew.run.state
        (told,) = crew.drill("fire")
        title = crew.table.flows["fire"].title
        assert told == ("refused", "drill open", title)
        assert sentence("drill open", (title,)) == f"The drill {title} is open already."
        after = crew.run.state
        assert (after.drill, after.mistake, after.archive) == (
            before.drill, before.mistake, before.archive
        )  # fmt: skip
    # Another one still takes its place.
    assert item(crew.drill("smoke"), "drill in") == ("drill in", "smoke")
