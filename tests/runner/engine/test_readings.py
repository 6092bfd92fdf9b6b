"""Readings: what is taken, what is affirmed, what is never taken, and when a value has stopped."""

from __future__ import annotations

from decimal import Decimal

import pytest

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.state import How
from tests.runner.engine.crew import Crew, item, kinds, refused


@pytest.mark.parametrize("text", ["-41", "321", "1e9", "999999999999999999"])
def test_a_reading_outside_its_plausible_range_is_never_taken(text: str) -> None:
    crew = Crew("tiny").until("shutdown.head_temperature")
    assert refused(crew.say(text)) == "implausible"


@pytest.mark.parametrize("text", ["NaN", "inf", "-Infinity", "hot", "1 4 0", "0x10", "9" * 30, "½"])
def test_what_is_no_number_is_refused(text: str) -> None:
    crew = Crew("tiny").until("shutdown.head_temperature")
    assert refused(crew.say(text)) == "not a number"


def test_a_value_finer_than_the_instrument_is_refused() -> None:
    crew = Crew("tiny").until("shutdown.head_temperature")
    assert refused(crew.say("140.5")) == "decimals"
    assert kinds(crew.say("140.0")) == ["met"]


def test_the_first_value_out_of_limits_is_affirmed_and_the_next_ones_are_not() -> None:
    crew = Crew("tiny").until("shutdown.head_temperature")
    assert kinds(crew.say("160")) == ["read back"]
    assert kinds(crew.affirm()) == ["unmet"]
    assert kinds(crew.say("155")) == ["unmet"]
    assert kinds(crew.say("149")) == ["met"]


def test_a_keyed_value_inside_limits_is_never_affirmed() -> None:
    crew = Crew("tiny").until("shutdown.head_temperature")
    assert kinds(crew.say("149")) == ["met"]


def test_a_spoken_value_near_a_limit_is_affirmed() -> None:
    crew = Crew("tiny").until("shutdown.head_temperature")
    assert kinds(crew.say("148", source="voice")) == ["read back"]
    crew.send(ev.Disregard(crew.at, crew.run.state.ask))
    assert kinds(crew.say("147", source="voice")) == ["met"]


def test_a_doubtful_value_is_affirmed() -> None:
    crew = Crew("tiny").until("shutdown.head_temperature")
    assert kinds(crew.say("100", sure=False)) == ["read back"]


def test_nothing_is_decided_from_what_was_read_back_and_dropped() -> None:
    crew = Crew("tiny").until("shutdown.head_temperature")
    crew.say("160")
    crew.send(ev.Disregard(crew.at, crew.run.state.ask))
    assert crew.how("shutdown.head_temperature") is How.OPEN
    assert "head_temp" not in crew.run.state.values


def test_another_value_takes_the_place_of_the_one_read_back() -> None:
    crew = Crew("tiny").until("shutdown.head_temperature")
    crew.say("160")
    assert kinds(crew.say("140")) == ["met"]


def test_what_was_read_back_belongs_to_its_own_step() -> None:
    # A value that waits for affirm must not be taken for the step that a correction reopened.
    crew = Crew().until("run_up.head_temperature")
    crew.say("260")
    assert crew.stands(Prompt.READ_BACK)
    crew.correct("run_up.oil_temperature", "95")
    assert crew.asked == "run_up.oil_temperature"
    assert not crew.stands(Prompt.READ_BACK)
    affirm = ev.Affirm(crew.at, crew.run.state.ask, "commander")
    assert refused(crew.send(affirm)) == "nothing to affirm"
    assert crew.how("run_up.head_temperature") is How.OPEN


def test_what_was_read_back_for_one_condition_of_a_wait_is_not_another() -> None:
    crew = Crew().until("couple.drain")
    crew.say("1700")
    crew.say("50")
    crew.say("LOCKED")
    crew.pause(60)
    crew.say("1700")
    crew.say("45", sure=False)
    assert crew.stands(Prompt.READ_BACK)
    crew.pause(70)
    assert crew.stands(Prompt.ASKING)
    assert crew.run.state.question.sub == 0
    assert refused(crew.affirm()) == "nothing to affirm"


def test_a_threshold_meets_a_limit_that_it_implies_and_gives_no_number() -> None:
    crew = Crew().until("stopping.brake_rpm")
    assert refused(crew.say("below 81")) == "not an answer"
    assert refused(crew.say("above 40")) == "not an answer"
    assert kinds(crew.say("below 80")) == ["met"]
    assert "brake_rpm" not in crew.run.state.values


def test_a_threshold_is_no_answer_where_another_step_needs_the_number() -> None:
    crew = Crew().until("magnetos.left")
    assert refused(crew.say("above 1000")) == "not a value"


def test_a_threshold_forgets_the_value_that_was_read_before() -> None:
    crew = Crew().until("stopping.brake_rpm")
    crew.taken("90")
    assert crew.run.state.values["brake_rpm"] == 90
    crew.say("below 80")
    assert "brake_rpm" not in crew.run.state.values


def test_drop_eighty_is_the_base_less_eighty() -> None:
    # Base 1785, drops 84 and 72: trade.md, "Real magneto checks" [C].
    crew = Crew().until("magnetos.base")
    crew.say("1785")
    crew.say("drop 84")
    assert crew.run.state.values["left"] == Decimal(1701)
    assert crew.run.state.values["left_drop"] == 84


def test_a_drop_out_of_the_instruments_range_is_refused() -> None:
    crew = Crew().until("magnetos.base")
    crew.say("100")
    assert refused(crew.say("drop 101")) == "implausible"
    assert refused(crew.say("drop -5")) == "implausible"


def test_a_limit_that_stops_takes_no_other_value_as_an_answer() -> None:
    crew = Crew().until("run_up.oil_temperature")
    crew.taken("95")
    assert refused(crew.say("80")) == "stopped"
    assert "corrected" in kinds(crew.correct("run_up.oil_temperature", "80"))
    assert crew.how("run_up.oil_temperature") is How.ANSWERED


def test_unable_at_a_limit_that_stops_is_no_value_and_can_be_answered() -> None:
    crew = Crew().until("run_up.oil_temperature")
    crew.unable()
    crew.say("DEFECT")
    assert kinds(crew.say("80")) == ["met"]


def test_a_limit_that_branches_opens_its_drill_once_affirmed() -> None:
    crew = Crew().until("run_up.head_temperature")
    assert kinds(crew.say("240")) == ["read back"]
    assert kinds(crew.affirm())[-1] == "drill in"
    assert crew.asked == "hot.gills"


def test_a_value_that_stops_moving_short_of_its_limit_is_noticed_with_the_choices() -> None:
    crew = Crew().until("stopping.head_temperature")
    crew.taken("170")
    for value in ("169", "169", "168", "169"):
        outcome = crew.say(value, after=30)
    assert kinds(outcome)[-1] == "plateau"
    assert crew.run.state.choosing is not None
    assert crew.run.state.choosing.options == ("WAIT ON", "DRILL HOT", "DISCONTINUE")


def test_wait_on_begins_the_window_anew() -> None:
    crew = Crew().until("stopping.head_temperature")
    crew.taken("170")
    for _ in range(4):
        crew.say("169", after=30)
    assert crew.stands(Prompt.CHOOSING)
    crew.say("wait on")
    assert "plateau" not in kinds(crew.say("168", after=30))
    assert crew.asked == "stopping.head_temperature"


def test_a_new_value_is_the_shortest_way_of_waiting_on() -> None:
    crew = Crew().until("stopping.head_temperature")
    crew.taken("170")
    for _ in range(4):
        crew.say("169", after=30)
    assert refused(crew.say("149", "ground")) == "wrong responder"
    assert "met" in kinds(crew.say("149"))


def test_waiting_too_long_is_noticed_without_any_reading() -> None:
    crew = Crew().until("stopping.head_temperature")
    crew.pause(399)
    assert crew.stands(Prompt.ASKING)
    crew.pause(2)
    assert crew.stands(Prompt.CHOOSING)


def test_a_value_that_still_falls_is_no_plateau() -> None:
    crew = Crew().until("stopping.head_temperature")
    crew.taken("200")
    for value in range(196, 160, -4):
        assert "plateau" not in kinds(crew.say(str(value), after=30))


def test_a_reading_too_old_is_asked_again_while_its_list_is_in_hand() -> None:
    crew = Crew().until("stopping.head_temperature")
    crew.say("140")
    crew.pause(119.9)
    assert crew.asked == "stopping.mixture"
    crew.pause(0.2)
    assert crew.asked == "stopping.head_temperature"


def test_an_old_reading_is_not_asked_again_in_flight() -> None:
    crew = Crew().until("lift.take_off")
    crew.send(ev.Mark(crew.at, what="take-off", when=crew.run.at))
    crew.pause(400)
    assert crew.how("lift.lift_oil") is How.ANSWERED
    crew.send(ev.Mark(crew.at, what="landing", when=crew.run.at))
    crew.pause(1)
    assert crew.asked == "lift.lift_oil"


def test_what_a_computed_value_was_is_told() -> None:
    crew = Crew().until("magnetos.base")
    crew.say("1800")
    assert item(crew.say("1750"), "computed") == ("computed", "magnetos.left_drop", "50")


def test_a_value_is_as_old_as_its_reading_not_as_its_affirm() -> None:
    crew = Crew().until("stopping.head_temperature")
    crew.say("149", source="voice")
    crew.pause(125)
    crew.affirm()
    crew.pause(0.1)
    assert crew.asked == "stopping.head_temperature"


def test_what_was_read_before_the_end_of_a_wait_is_no_reading_of_its_end() -> None:
    crew = Crew().until("couple.drain")
    crew.say("1700")
    crew.say("50")
    crew.say("LOCKED")
    crew.pause(60)
    crew.say("1700", sure=False)
    crew.pause(70)
    assert refused(crew.affirm()) == "nothing to affirm"
