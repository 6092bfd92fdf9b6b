"""Putting off, accepting and maintenance: who may let a step go by, and what it leaves."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.acceptance import accept, put_off
from runner.engine.answers import answer
from runner.engine.asking import Question
from runner.engine.draft import Draft
from runner.engine.effects import Prompt
from runner.engine.errors import Refused
from runner.engine.state import How
from tests.runner.engine.crew import Crew, item, kinds, refused


def test_nobody_accepts_what_its_author_gave_to_nobody() -> None:
    crew = Crew().until("stopping.brake_rpm")
    crew.taken("90")
    assert refused(crew.accept()) == "nobody may accept"
    assert refused(crew.accept("Needed for safety", emergency=True)) == "nobody may accept"


@pytest.mark.parametrize("role", ["copilot", "ground", ""])
def test_only_the_commander_accepts(role: str) -> None:
    crew = Crew().until("stopping.let_go")
    crew.taken("115")
    assert refused(crew.accept(role=role)) == "commander only"


def test_an_acceptance_wants_one_of_the_aircrafts_reasons() -> None:
    crew = Crew().until("stopping.let_go")
    crew.taken("115")
    assert refused(crew.accept("no time")) == "reason"
    assert refused(crew.accept("")) == "reason"
    outcome = crew.accept("  needed   for SAFETY ")
    assert item(outcome, "accepted")[2:] == ("commander", "115", "Needed for safety")
    assert crew.run.state.defects == ()


def test_no_go_on_the_ground_wants_the_emergency_words_and_opens_a_defect() -> None:
    crew = Crew().until("stopping.head_temperature")
    crew.taken("160")
    assert refused(crew.accept()) == "emergency only"
    assert refused(crew.accept("", emergency=True)) == "text"
    crew.accept("fire on the apron", emergency=True)
    assert crew.how("stopping.head_temperature") is How.ACCEPTED
    assert "emergency only" in crew.run.state.defects[0].text


def test_an_acceptance_not_surely_heard_is_none() -> None:
    crew = Crew().until("stopping.let_go")
    crew.taken("115")
    assert refused(crew.accept(sure=False)) == "unsure"


def test_maintenance_only_is_accepted_by_nobody_and_measured_again() -> None:
    crew = Crew().until("magnetos.base")
    crew.say("1800")
    crew.say("drop 60")
    crew.say("drop 5")
    assert crew.asked == "magnetos.right_drop"
    assert refused(crew.accept()) == "maintenance only"
    assert refused(crew.accept("x", emergency=True)) == "maintenance only"
    blank = ev.Happened(crew.at, what="maintenance", note=" ")
    assert refused(crew.send(blank)) == "note"
    crew.send(ev.Happened(crew.at, what="maintenance", note="right lead changed"))
    assert crew.asked == "magnetos.base"


def test_an_accepted_step_has_not_done_what_its_answer_does() -> None:
    crew = Crew().until("start.rich")
    crew.say("RICH")
    crew.taken("20")
    crew.accept("x", emergency=True)
    assert crew.how("start.oil_pressure") is How.ACCEPTED
    assert crew.run.state.timers["oil_rise"].ended >= 0


def test_an_open_item_may_be_accepted_without_a_value() -> None:
    crew = Crew().until("prepare.doors")
    crew.accept()
    assert crew.latch("prepare.doors").value == ""
    assert crew.asked == "prepare.day"


def test_what_a_step_waits_for_comes_back_when_it_is_needed() -> None:
    crew = Crew().until("run_up.carburettor_heat")
    crew.put_off()
    assert crew.latch("run_up.heat_bus").why == "heat"
    assert crew.asked == "run_up.carburettor_heat"
    assert refused(crew.put_off()) == "already back"


def test_a_step_whose_condition_is_not_known_is_neither_answered_accepted_nor_put_off() -> None:
    crew = Crew().until("run_up.carburettor_heat")
    crew.unable()
    crew.say("DEFECT")
    state = crew.run.state
    visit = state.visits[0]
    index = crew.table.flows["run_up"].index("run_up.heat_bus")
    draft = Draft(crew.table, state, ev.Accept(crew.at, state.ask, "commander"))
    draft.question = Question(Prompt.ASKING, visit.number, index)
    for handler, event in (
        (accept, ev.Accept(crew.at, 0, "commander", reason="Needed for safety")),
        (put_off, ev.PutOff(crew.at, 0, "commander")),
        (answer, ev.Answer(crew.at, 0, "commander", value="26.0")),
    ):
        draft.event = event
        with pytest.raises(Refused) as told:
            handler(draft)
        assert (told.value.code, told.value.details) == ("blocked", ("heat",))


def test_what_may_not_be_put_off_is_not() -> None:
    crew = Crew().until("prepare.day")
    assert refused(crew.put_off()) == "may not put off"


def test_what_was_put_off_comes_back_at_its_trigger_and_then_cannot_be_put_off() -> None:
    crew = Crew().until("prepare.doors")
    crew.put_off()
    crew.say("WARM")
    crew.both("26.0")
    assert crew.asked == "prepare.doors"
    assert crew.latch("prepare.doors").back
    assert refused(crew.put_off()) == "already back"
    crew.say("LATCHED")
    assert crew.asked == "prepare.lamp"


def test_without_a_trigger_it_comes_back_before_the_closing_call() -> None:
    crew = Crew().until("couple.drain")
    crew.say("1700")
    crew.say("50")
    assert crew.asked == "couple.harness"
    crew.put_off()
    crew.pause(150)
    crew.taken("1700")
    crew.say("50")
    crew.pause(150)
    while crew.asked == "couple.drain":
        crew.say("1700")
        crew.say("50")
        crew.pause(60)
    assert crew.asked == "couple.harness"
    assert refused(crew.put_off()) == "already back"
    assert refused(crew.say("CLOSED")) == "not an answer"


def test_what_is_not_so_and_put_off_comes_back_not_so() -> None:
    crew = Crew().until("prepare.doors")
    crew.not_so()
    crew.put_off()
    crew.say("WARM")
    crew.both("26.0")
    assert crew.how("prepare.doors") is How.UNMET
    # A fault that only maintenance clears would else come back as one that a key answers.
    assert crew.latch("prepare.doors").why == "not so"
    assert refused(crew.not_so()) == "not so here"


def test_a_choice_that_must_be_made_is_not_left_by_putting_off_or_accepting() -> None:
    # After a stop the facts are asked; putting off what stood there must not drop the questions.
    crew = Crew().until("prepare.doors")
    crew.send(ev.Recovered(crew.at, gap=1000, certain=True))
    assert refused(crew.put_off()) == "choose"
    assert refused(crew.accept()) == "choose"


def test_kinds_of_acceptance_are_told_with_the_outcome() -> None:
    crew = Crew().until("prepare.doors")
    assert kinds(crew.accept()) == ["accepted"]
