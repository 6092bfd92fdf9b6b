"""Answers: whose they are, what they may be, and that one answers one step."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.state import How
from tests.runner.engine.crew import Crew, item, kinds, refused


def test_an_answer_is_the_state_itself_in_any_case_and_spacing() -> None:
    crew = Crew("tiny").until("start.rotor_brake")
    assert refused(crew.say("set")) == "not an answer"
    assert refused(crew.say("released indeed")) == "not an answer"
    assert kinds(crew.say("  off   and stowed ")) == ["met"]
    assert crew.latch("start.rotor_brake").value == "RELEASED"


@pytest.mark.parametrize("word", ["", "   "])
def test_an_empty_line_answers_nothing(word: str) -> None:
    crew = Crew("tiny").until("start.rotor_brake")
    assert refused(crew.say(word)) == "empty"


def test_roger_answers_a_caution_and_nothing_else() -> None:
    # ICAO Annex 10 Vol II 5.2: roger is "I have received all of your last transmission".
    crew = Crew("tiny").until("start.propeller_and_rotor_clear_before_the_starter")
    assert kinds(crew.say("roger")) == ["met"]
    assert refused(crew.say("roger")) == "roger"
    crew.until("shutdown")
    crew.taken("140")
    crew.both("CUT OFF")
    assert crew.stands(Prompt.CLOSING)
    assert refused(crew.say("roger")) == "roger"
    assert refused(crew.say("wilco")) == "not an answer"


def test_a_caution_is_answered_by_its_key_words_and_by_nothing_near_them() -> None:
    crew = Crew("tiny").until("start.propeller_and_rotor_clear_before_the_starter")
    assert refused(crew.say("clear ahead")) == "caution"
    assert kinds(crew.say("clear")) == ["met"]


def test_the_wrong_person_answers_nothing() -> None:
    crew = Crew().until("prepare.lamp")
    assert refused(crew.say("LIT", "commander")) == "wrong responder"
    assert refused(crew.say("LIT", "ground")) == "wrong responder"
    assert kinds(crew.say("LIT", "")) == ["met"]


def test_handling_and_monitoring_follow_the_hand_over() -> None:
    crew = Crew().until("prepare.lamp")
    crew.send(ev.HandOver(crew.at))
    assert refused(crew.say("LIT", "copilot")) == "wrong responder"
    assert kinds(crew.say("LIT", "commander")) == ["met"]


def test_what_both_look_at_wants_both_by_name_and_each_once() -> None:
    crew = Crew("tiny").until("shutdown.mixture")
    assert refused(crew.say("CUT OFF", "")) == "say who"
    assert kinds(crew.say("CUT OFF", "copilot")) == ["one of two"]
    assert refused(crew.say("CUT OFF", "copilot")) == "already looked"
    assert crew.how("shutdown.mixture") is How.OPEN
    assert "met" in kinds(crew.say("CUT OFF", "commander"))


def test_both_look_at_readings_too_and_at_the_same_value() -> None:
    crew = Crew().until("prepare.bus_voltage")
    assert kinds(crew.say("26.0", "commander")) == ["one of two"]
    assert kinds(crew.say("26.1", "copilot")) == ["one of two"]
    assert crew.how("prepare.bus_voltage") is How.OPEN
    assert kinds(crew.say("26.1", "commander")) == ["met"]


def test_one_pair_of_eyes_is_enough_to_find_a_value_out_of_limits() -> None:
    crew = Crew().until("prepare.bus_voltage")
    crew.say("26.0", "commander")
    assert "unmet" in kinds(crew.taken("30.0", role="copilot"))


def test_a_look_at_one_item_is_no_look_at_another() -> None:
    crew = Crew()
    crew.say("SECURE", "commander", item="Cowl latches")
    assert kinds(crew.say("REMOVED", "copilot", item="Tail ties")) == ["one of two"]
    assert crew.how("tail.tail_ties") is How.OPEN
    assert kinds(crew.say("SECURE", "copilot", item="Cowl latches")) == ["met"]


def test_a_first_look_is_lost_when_the_crew_turns_elsewhere_or_hands_over() -> None:
    crew = Crew("tiny").until("shutdown.mixture")
    crew.say("CUT OFF", "commander")
    crew.send(ev.HandOver(crew.at))
    assert kinds(crew.say("CUT OFF", "copilot")) == ["one of two"]


def test_one_person_alone_answers_for_both() -> None:
    crew = Crew("tiny", mode="solo").until("shutdown.mixture")
    assert "met" in kinds(crew.say("CUT OFF", "commander"))


def test_an_answer_spoken_before_the_question_changed_answers_nothing() -> None:
    crew = Crew("tiny").until("start.rotor_brake")
    ask = crew.run.state.ask
    crew.say("RELEASED")
    late = ev.Answer(crew.at, ask, "commander", value="ENGAGED")
    assert refused(crew.send(late)) == "stale"
    assert crew.how("start.starter") is How.OPEN


def test_not_so_leaves_the_step_open_and_never_passes_it() -> None:
    crew = Crew("tiny").until("start.rotor_brake")
    assert kinds(crew.not_so()) == ["unmet"]
    assert crew.asked == "start.rotor_brake"
    assert refused(crew.not_so()) == "not so here"
    assert "met" in kinds(crew.say("RELEASED"))


def test_a_fault_on_a_station_opens_a_defect_and_waits_behind_the_other_items() -> None:
    crew = Crew("tiny", fit=("hook",))
    assert kinds(crew.not_so("Nose cowl latches")) == ["unmet", "noted"]
    assert crew.asked == "outside.tie_downs"
    crew.say("REMOVED")
    crew.say("LATCHED")
    assert crew.asked == "outside.nose_cowl_latches"
    assert crew.stands(Prompt.UNMET) or crew.stands(Prompt.STATION)
    assert [d.text for d in crew.run.state.defects] == ["Nose cowl latches: not SECURE"]


def test_stations_are_ticked_in_any_order_and_across_the_group() -> None:
    crew = Crew()
    assert kinds(crew.say("SECURE", "ground", item="Tail light")) == ["met"]
    assert kinds(crew.say("FULL", item="oil level")) == ["met"]
    assert refused(crew.say("FULL", item="oil level")) == "not an answer"
    # Only what is on the page of the station at hand is named: the tail's items are not.
    outcome = crew.say("FULL", item="no such item")
    assert outcome == (("refused", "not an answer", "Cowl latches"),)
    crew.send(ev.TurnTo(crew.at, flow="tail"))
    outcome = crew.say("FULL", item="no such item")
    assert outcome == (("refused", "not an answer", "Tail ties"),)


def test_a_choice_takes_its_own_answers_and_does_what_its_author_wrote() -> None:
    crew = Crew().until("start.firing")
    assert refused(crew.say("COUGHING")) == "not an answer"
    outcome = crew.say("NOT FIRING")
    assert [i[1] for i in outcome if i[0] == "reopened"] == [
        "start.engaged", "start.firing", "start.cooling",
    ]  # fmt: skip
    assert crew.run.state.values["attempts"] == 1
    assert crew.asked == "start.cooling"


def test_words_not_surely_heard_are_read_back_and_want_affirm() -> None:
    crew = Crew().until("prepare.doors")
    assert kinds(crew.say("LATCHED", sure=False, source="voice")) == ["read back"]
    assert crew.how("prepare.doors") is How.OPEN
    assert kinds(crew.affirm()) == ["met"]


def test_a_critical_step_never_takes_what_was_not_surely_heard() -> None:
    crew = Crew().until("prepare.lamp")
    assert refused(crew.say("LAMP LIT", sure=False, source="voice")) == "critical"
    assert crew.stands(Prompt.ASKING)


def test_a_spoken_choice_that_decides_a_branch_is_affirmed() -> None:
    crew = Crew().until("prepare.day")
    assert kinds(crew.say("WARM", source="voice")) == ["read back"]
    assert "not required" in kinds(crew.affirm())


def test_a_spoken_choice_that_opens_a_drill_is_not_affirmed() -> None:
    crew = Crew().until("start.firing")
    assert "drill in" in kinds(crew.say("FIRE", source="voice"))


def test_the_key_of_a_by_time_answers_its_step_and_starts_the_clock() -> None:
    crew = Crew().until("start.engaged")
    outcome = crew.send(ev.StartTimer(crew.at, "commander", timer="starter"))
    assert kinds(outcome) == ["met", "timer started"]
    assert crew.asked == "start.firing"
    again = crew.send(ev.StartTimer(crew.at, "commander", timer="starter"))
    assert refused(again) == "timer not now"


def test_the_key_of_a_by_time_is_no_key_for_another_person() -> None:
    crew = Crew().until("start.engaged")
    outcome = crew.send(ev.StartTimer(crew.at, "ground", timer="starter"))
    assert refused(outcome) == "wrong responder"


def test_the_key_of_a_later_by_time_starts_the_clock_and_passes_nothing() -> None:
    crew = Crew().until("start.engaged")
    assert kinds(crew.send(ev.StartTimer(crew.at, timer="oil_rise"))) == ["timer started"]
    assert crew.how("start.rich") is How.OPEN
    began = crew.run.state.timers["oil_rise"].began
    crew.until("start.oil_pressure")
    assert crew.run.state.timers["oil_rise"].began == began


def test_unable_offers_what_may_be_done_and_passes_nothing() -> None:
    crew = Crew().until("prepare.lamp")
    assert item(crew.unable(), "choose")[2:] == ("DRILL SMOKE", "DEFECT", "GO BACK")
    assert refused(crew.say("LIT")) == "choose"
    crew.say("DEFECT")
    assert crew.how("prepare.lamp") is How.UNMET
    assert crew.asked == "prepare.lamp"


def test_a_choice_offered_for_one_step_falls_away_when_another_is_asked() -> None:
    crew = Crew().until("prepare.lamp")
    crew.unable()
    crew.correct("prepare.day", "WARM")
    crew.correct("prepare.day", "COLD")
    assert crew.asked == "prepare.cold_oil"
    assert crew.stands(Prompt.ASKING)


def test_unable_at_a_wait_keeps_the_wait() -> None:
    crew = Crew().until("couple.drain")
    crew.say("1700")
    crew.say("50")
    crew.say("LOCKED")
    assert crew.stands(Prompt.WAITING)
    crew.unable()
    crew.say("DEFECT")
    assert crew.stands(Prompt.WAITING)
    assert crew.how("couple.drain") is How.OPEN
