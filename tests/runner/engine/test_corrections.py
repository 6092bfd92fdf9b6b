"""Corrections: a new entry for an earlier answer, and everything decided from it decided again."""

from __future__ import annotations

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.state import How
from tests.runner.engine.crew import Crew, item, kinds, refused


def test_a_correction_keeps_what_still_holds_and_tells_what_was_and_is() -> None:
    crew = Crew().until("run_up.head_temperature")
    outcome = crew.correct("", "54")
    assert item(outcome, "corrected")[1:] == ("run_up.oil_temperature", "65", "54")
    assert crew.asked == "run_up.head_temperature"


def test_a_correction_out_of_limits_opens_its_step_again() -> None:
    crew = Crew().until("magnetos.base")
    crew.say("1800")
    crew.say("drop 50")
    crew.say("drop 60")
    assert crew.asked == "magnetos.magnetos"
    outcome = crew.correct("magnetos.right", "1500")
    assert "reopened" in kinds(outcome)
    assert crew.asked == "magnetos.right_drop"


def test_a_corrected_base_asks_again_what_was_called_as_a_drop() -> None:
    crew = Crew().until("magnetos.base")
    crew.say("1800")
    crew.say("drop 50")
    crew.say("1740")
    crew.correct("magnetos.base", "1810")
    assert crew.asked == "magnetos.left"
    assert crew.latch("magnetos.right").value == "1740"
    assert crew.run.state.values["right_drop"] == 70


def test_a_drop_that_waits_for_affirm_falls_away_with_its_base() -> None:
    crew = Crew().until("magnetos.base")
    crew.say("1800")
    crew.say("drop 50", sure=False)
    crew.correct("magnetos.base", "1810")
    assert crew.stands(Prompt.ASKING)
    assert refused(crew.affirm()) == "nothing to affirm"


def test_a_correction_that_changes_a_condition_opens_and_drops_steps() -> None:
    crew = Crew().until("prepare.day")
    crew.say("WARM")
    crew.both("26.0")
    crew.say("LIT")
    assert crew.asked == "prepare.ground_crew_clear"
    crew.correct("prepare.day", "COLD")
    assert crew.asked == "prepare.cold_oil"
    crew.say("5")
    assert crew.how("prepare.ground_crew_clear") is How.NOT_REQUIRED


def test_an_acceptance_stands_only_on_the_value_that_it_accepted() -> None:
    crew = Crew().until("stopping.let_go")
    crew.taken("115")
    crew.accept()
    assert crew.how("stopping.let_go") is How.ACCEPTED
    crew.correct("stopping.let_go", "115")
    assert crew.how("stopping.let_go") is How.ACCEPTED
    assert "reopened" in kinds(crew.correct("stopping.let_go", "116"))
    assert crew.asked == "stopping.let_go"


def test_a_computed_value_is_never_corrected_and_says_from_what_it_comes() -> None:
    crew = Crew().until("magnetos.left")
    crew.taken("drop 60")
    assert crew.how("magnetos.left_drop") is How.ANSWERED
    for role in ("", "commander"):
        outcome = crew.correct("magnetos.left_drop", "50", role)
        assert outcome == (("refused", "computed", "Base, Left"),)


def test_an_accepted_computed_value_is_decided_again_with_its_inputs() -> None:
    crew = Crew().until("magnetos.base")
    crew.say("1800")
    crew.say("drop 10")
    crew.say("drop 30")
    assert crew.asked == "magnetos.left_drop"
    crew.accept()
    assert crew.asked == "magnetos.magnetos"
    crew.correct("magnetos.left", "1791")
    assert crew.asked == "magnetos.left_drop"


def test_a_correction_is_never_an_early_answer() -> None:
    crew = Crew().until("run_up.oil_temperature")
    assert refused(crew.correct("run_up.head_temperature", "100")) == "nothing to correct"
    assert refused(crew.correct("", "100")) == "nothing to correct"
    assert refused(crew.correct("run_up.no_such_step", "100")) == "unknown step"


def test_a_corrected_value_is_judged_as_an_answer_is() -> None:
    crew = Crew().until("run_up.head_temperature")
    assert refused(crew.correct("run_up.oil_temperature", "500")) == "implausible"
    assert refused(crew.correct("run_up.oil_temperature", "5.5")) == "decimals"
    assert refused(crew.correct("run_up.oil_temperature", "below 80")) == "not a value"
    wrong = crew.correct("run_up.oil_temperature", "80", role="ground")
    assert refused(wrong) == "wrong responder"


def test_a_correction_inside_an_utterance_repairs_that_utterance() -> None:
    crew = Crew().until("run_up.head_temperature")
    crew.say("250")
    assert crew.stands(Prompt.READ_BACK)
    crew.correct("", "230")
    assert crew.latch("run_up.head_temperature").value == "230"
    assert crew.latch("run_up.oil_temperature").value == "65"


def test_one_persons_correction_is_no_second_look() -> None:
    crew = Crew().until("prepare.bus_voltage")
    crew.both("26.0")
    crew.correct("prepare.bus_voltage", "26.5", role="copilot")
    assert crew.asked == "prepare.bus_voltage"
    crew.say("26.5", "copilot")
    assert crew.asked == "prepare.bus_voltage"


def test_a_correction_never_passes_a_step_that_is_not_so() -> None:
    crew = Crew().until("prepare.lamp")
    crew.not_so()
    assert refused(crew.correct("prepare.lamp", "LIT")) == "not an answer"


def test_an_answered_item_can_be_found_not_so() -> None:
    crew = Crew().until("prepare.ground_crew_clear")
    assert "reopened" in kinds(crew.correct("prepare.lamp", "not so"))
    assert crew.asked == "prepare.lamp"


def test_a_correction_to_a_met_value_does_what_the_answer_would_have_done() -> None:
    crew = Crew().until("couple.coupling")
    crew.taken("140")
    assert "coupled" not in crew.run.state.moments
    crew.correct("couple.coupling", "130")
    assert crew.run.state.rotor
    assert "coupled" in crew.run.state.moments


def test_a_value_found_wrong_was_never_in_time() -> None:
    crew = Crew().until("start.rich")
    crew.say("RICH")
    crew.say("60")
    crew.correct("start.oil_pressure", "20")
    crew.pause(40)
    assert item(crew.say("60"), "unmet")[3:] == ("late",)


def test_a_number_that_was_in_time_stays_in_time() -> None:
    crew = Crew().until("start.rich")
    crew.say("RICH")
    crew.say("60")
    crew.pause(40)
    crew.correct("start.oil_pressure", "61")
    assert crew.how("start.oil_pressure") is How.ANSWERED


def test_behind_a_closed_list_the_consequence_is_flagged_and_the_crew_stays() -> None:
    crew = Crew().until("magnetos.base")
    assert "run_up" in crew.run.state.valid
    outcome = crew.correct("run_up.oil_temperature", "95")
    assert kinds(outcome) == ["flagged", "flagged", "corrected"]
    assert crew.asked == "magnetos.base"
    assert "run_up" not in crew.run.state.valid
    assert crew.run.state.flags[0].text == "Run-up: Oil temperature is 95, wanted 40 TO 90 °C"


def test_behind_a_closed_list_what_now_is_required_is_flagged() -> None:
    crew = Crew().until("run_up.carburettor_heat")
    crew.say("NOT NEEDED")
    crew.say("CLOSED")
    crew.correct("run_up.carburettor_heat", "NEEDED")
    assert any("now required" in flag.text for flag in crew.run.state.flags)


def test_an_older_value_does_not_replace_what_was_read_since() -> None:
    crew = Crew().until("prepare.bus_voltage")
    crew.both("26.0")
    crew.drill("smoke")
    crew.send(ev.MemoryDone(crew.at))
    crew.until("prepare")
    assert crew.run.state.values["bus"] == 26
    crew.correct("prepare.day", "COLD")
    assert "day" in crew.run.state.values


def test_in_flight_what_a_correction_opens_waits_for_the_lists_end() -> None:
    crew = Crew().until("lift.take_off")
    crew.send(ev.Mark(crew.at, what="take-off", when=crew.run.at))
    crew.correct("lift.doors", "not so")
    assert crew.asked == "lift.lift_press"
    assert crew.how("lift.doors") is How.PUT_OFF
    assert crew.run.state.flags
    crew.say("60")
    assert crew.asked == "lift.doors"
    assert refused(crew.say("CLOSED")) == "not an answer"


def test_in_flight_too_nothing_behind_a_limit_is_passed_before_it_is_met() -> None:
    crew = Crew().until("lift.take_off")
    crew.send(ev.Mark(crew.at, what="take-off", when=crew.run.at))
    crew.correct("lift.lift_oil", "95")
    assert crew.run.state.flags
    assert crew.asked == "lift.lift_oil"


def test_a_correction_during_a_drill_opens_no_other_drill() -> None:
    crew = Crew().until("run_up.carburettor_heat")
    crew.drill("smoke")
    crew.correct("run_up.head_temperature", "250")
    assert crew.run.state.drill is not None
    assert crew.run.state.drill.flow == "smoke"
    assert crew.how("run_up.head_temperature") is How.UNMET
