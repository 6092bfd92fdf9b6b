"""A newer value of an instrument opens again the later limit that an older value met."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.state import How
from tests.runner.engine.crew import Crew, kinds
from tests.runner.engine.test_ways_past_the_rule import until
from tests.runner.engine.willing import Willing

IDLE, LIMIT, BEHIND = "papers.idle_head", "papers.covered_head", "papers.defects"


def behind_both() -> Crew:
    """The head was read twice, the second time below its limit of 130 °C."""
    crew = Crew().until(IDLE)
    crew.say("170")
    crew.say("120", after=50)
    assert crew.asked == BEHIND
    return crew


def aged() -> Crew:
    """The first of the two readings has grown too old, and is asked again."""
    crew = behind_both()
    crew.pause(75)
    crew.say("120")
    assert crew.asked == IDLE
    assert crew.how(LIMIT) is How.ANSWERED
    return crew


def test_an_earlier_step_asked_again_opens_the_later_limit_that_its_value_does_not_meet() -> None:
    crew = aged()
    assert ("reopened", LIMIT) in crew.say("272")
    assert crew.asked == LIMIT
    assert crew.latch(LIMIT).value == ""
    crew.say("129")
    assert crew.asked == BEHIND


@pytest.mark.parametrize(("value", "open_again"), [("129", False), ("130", True)])
def test_the_newer_value_is_held_against_the_limit_exactly(value: str, open_again: bool) -> None:
    crew = aged()
    assert ("reopened" in kinds(crew.say(value))) is open_again


def test_a_reading_never_opens_a_limit_that_stands_before_it() -> None:
    crew = Crew("corvane_c4").until("engage.drive_rpm")
    before = "engage.clutch_rpm"
    low, high = (crew.table.steps[s].limit for s in (before, "engage.drive_rpm"))
    assert low is not None
    assert high is not None
    assert high.low is not None
    assert not low.meets(high.low)
    assert "reopened" not in kinds(crew.say(str(high.low)))
    assert crew.how(before) is How.ANSWERED


def test_a_correction_of_an_older_reading_is_no_newer_value() -> None:
    crew = behind_both()
    assert "reopened" not in kinds(crew.correct(IDLE, "272"))
    assert crew.how(LIMIT) is How.ANSWERED


def test_a_correction_of_the_newest_reading_opens_the_later_limit() -> None:
    crew = aged()
    crew.say("120")
    assert crew.asked == BEHIND
    assert ("reopened", LIMIT) in crew.correct(IDLE, "272")
    assert crew.asked == LIMIT


def test_an_acceptance_does_not_stand_on_a_newer_value() -> None:
    crew = Crew().until(IDLE)
    crew.say("170")
    crew.taken("180", after=50)
    crew.accept()
    assert crew.how(LIMIT) is How.ACCEPTED
    crew.pause(75)
    # A value inside the limit asks nothing of what was accepted outside it.
    assert "reopened" not in kinds(crew.say("120"))
    crew.pause(5)
    assert crew.asked == IDLE
    assert ("reopened", LIMIT) in crew.say("181")


def test_a_value_read_out_unasked_opens_the_limit_that_it_does_not_meet() -> None:
    crew = behind_both()
    assert kinds(crew.send(ev.ReadingSeen(crew.at, name="head_temp", value="129"))) == ["noted"]
    seen = crew.send(ev.ReadingSeen(crew.at, name="head_temp", value="130"))
    assert seen == (("reopened", LIMIT),)
    assert crew.asked == LIMIT


def test_of_an_instrument_that_never_ages_a_value_read_out_opens_nothing() -> None:
    crew = Crew().until("stopping.mixture")
    seen = crew.send(ev.ReadingSeen(crew.at, name="engine_rpm", value="1700"))
    assert kinds(seen) == ["noted"]
    assert crew.how("stopping.reduced") is How.ANSWERED


def test_a_value_read_in_a_drill_opens_the_limit_of_the_list_that_is_held() -> None:
    crew = until(Crew("corvane_c4"), "shutdown.mixture")
    crew.drill("head_hot")
    willing = Willing(crew.run)
    while not crew.asked or crew.table.steps[crew.asked].reading != "head_temp":
        crew.run.send(willing.event())
    assert crew.asked.startswith("head_hot.")
    assert ("reopened", "shutdown.cut_off_head") in crew.taken("230")


def test_a_running_wait_starts_again_by_a_value_read_at_another_step() -> None:
    crew = Crew().until("couple.drain")
    for value in ("1700", "45"):
        crew.say(value)
    seen = crew.send(ev.ReadingSeen(crew.at, name="oil_press", value="39"))
    assert seen == (("wait broken", "couple.drain"),)


def test_a_head_asked_again_too_hot_is_not_cut_off() -> None:
    crew = until(Crew("corvane_c4"), "shutdown.mixture")
    crew.pause(5)
    while crew.asked != "shutdown.head_before_letting_go":
        # What was read for the cooling is the oldest, and is asked again first.
        assert crew.asked == "shutdown.mixture"
        crew.pause(5)
    crew.taken("272")
    assert crew.asked == "shutdown.cut_off_head"
    assert crew.run.monitor is not None
    crew.taken("150")
    crew.say("MIXTURE CUT-OFF")
    assert crew.how("shutdown.mixture") is How.ANSWERED
    assert crew.run.monitor.faults == []
