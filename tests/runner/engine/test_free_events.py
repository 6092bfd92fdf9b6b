"""Marks, snags, paper, crew, readings: taken in every state, and passing only what they may."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.state import How
from tests.runner.engine.crew import Crew, item, kinds, refused


def test_a_mark_is_taken_in_every_state_and_says_what_was_open() -> None:
    crew = Crew().until("lift.lift_oil")
    assert crew.how("lift.doors") is How.ANSWERED
    outcome = crew.send(ev.Mark(crew.at, what="take-off", when=crew.run.at))
    assert item(outcome, "lifted")[1:] == ("2", "0", "Oil temperature", "Oil pressure")
    assert crew.run.state.airborne
    crew.send(ev.Standby(crew.at))
    assert kinds(crew.send(ev.Mark(crew.at, what="landing", when=crew.run.at))) == ["marked"]


def test_lifting_names_the_lists_that_were_never_begun_before_the_items_open() -> None:
    # Without the hook its list is still to come while nobody knows; "heated" asks for heat.
    crew = Crew(fit=()).until("prepare.bus_voltage")
    still = crew.run.state.plan
    outcome = crew.send(ev.Mark(crew.at, what="take-off", when=crew.run.at))
    lifted = item(outcome, "lifted")
    unbegun = lifted[3 : 3 + int(lifted[2])]
    assert set(unbegun) <= set(still)
    assert unbegun[:3] == ("start", "couple", "run_up")
    # What is the take-off itself, or behind it, need not be closed before it.
    assert {"lift", "hover", "stopping", "papers"}.isdisjoint(unbegun)
    assert {"lift", "stopping"} <= set(still)
    assert "Bus voltage" in lifted[3 + len(unbegun) :]


@pytest.mark.parametrize(("use", "counted"), [("IN USE", True), ("NOT FITTED", False)])
def test_a_list_whose_condition_does_not_hold_was_not_left_out_at_lift_off(
    use: str, counted: bool
) -> None:
    crew = Crew("corvane_c4").until("brief.hook_use")
    crew.say(use)
    lifted = item(crew.send(ev.Mark(crew.at, what="take-off", when=crew.run.at)), "lifted")
    unbegun = lifted[3 : 3 + int(lifted[2])]
    assert {"fuel", "start", "before_take_off"} <= set(unbegun)
    assert ("hook" in unbegun) is counted


def test_a_mark_may_be_late_and_never_ahead() -> None:
    crew = Crew().until("lift.take_off")
    assert refused(crew.send(ev.Mark(crew.at, what="take-off", when=crew.at + 1))) == "mark ahead"
    crew.send(ev.Mark(crew.at, what="take-off", when=crew.at - 120_000))
    assert crew.run.state.marks[-1].when == crew.run.at - 120_000
    assert refused(crew.send(ev.Mark(crew.at, what="rolling", when=0))) == "unknown mark"


def test_a_mark_answers_its_step_and_the_answer_makes_the_mark() -> None:
    crew = Crew().until("lift.take_off")
    crew.say("AIRBORNE")
    assert crew.run.state.airborne
    assert [m.what for m in crew.run.state.marks][-1] == "take-off"

    crew = Crew().until("lift.take_off")
    crew.not_so()
    crew.send(ev.Mark(crew.at, what="take-off", when=crew.run.at))
    assert crew.how("lift.take_off") is How.ANSWERED


def test_a_mark_made_before_its_list_is_entered_counts_for_it() -> None:
    crew = Crew().until("magnetos.base")
    crew.send(ev.Mark(crew.at, what="take-off", when=crew.run.at))
    crew.until("lift")
    assert crew.how("lift.take_off") is How.ANSWERED


def test_a_landing_before_the_last_take_off_does_not_count() -> None:
    crew = Crew().until("lift.take_off")
    for what in ("take-off", "landing", "take-off"):
        crew.send(ev.Mark(crew.at, what=what, when=crew.run.at))
    crew.until("hover")
    assert crew.how("hover.landing") is How.OPEN


def test_a_snag_moves_no_list() -> None:
    crew = Crew().until("prepare.lamp")
    ask = crew.run.state.ask
    crew.send(ev.Snag(crew.at, text="vibration, left pedal"))
    assert crew.run.state.snags[0].where == "prepare"
    assert crew.run.state.ask == ask
    assert refused(crew.send(ev.Snag(crew.at, text="  "))) == "text"


def test_paper_satisfies_ordinary_steps_and_limits_still_want_values() -> None:
    crew = Crew().until("prepare.doors")
    last = max(step.number for step in crew.table.steps.values())
    crew.send(ev.OnPaper(crew.at, first=1, last=last, revision="3"))
    assert crew.how("prepare.doors") is How.ON_PAPER
    assert crew.asked == "prepare.day"
    crew.say("WARM")
    assert crew.asked == "prepare.bus_voltage"
    crew.both("26.0")
    assert crew.asked == "prepare.lamp"


def test_paper_of_another_revision_or_range_satisfies_nothing() -> None:
    crew = Crew().until("prepare.doors")
    wrong = ev.OnPaper(crew.at, first=1, last=20, revision="2")
    assert refused(crew.send(wrong)) == "card revision"
    for first, last in ((0, 5), (5, 4), (1, 999)):
        strange = ev.OnPaper(crew.at, first=first, last=last, revision="3")
        assert refused(crew.send(strange)) == "card range"


def test_paper_does_not_outlive_a_restart() -> None:
    crew = Crew().until("couple.drain")
    last = max(step.number for step in crew.table.steps.values())
    crew.send(ev.OnPaper(crew.at, first=1, last=last, revision="3"))
    assert crew.how("couple.harness") is How.ON_PAPER
    crew.send(ev.Discontinue(crew.at))
    assert crew.run.state.paper == ()


def test_a_crew_change_takes_a_seat_and_no_person_twice() -> None:
    crew = Crew().until("prepare.lamp")
    change = ev.CrewChange(crew.at, seat="copilot", name="T Moss")
    assert kinds(crew.send(change)) == ["crew", "happened"]
    assert dict(crew.run.state.crew)["copilot"] == "T Moss"
    assert crew.asked == "prepare.lamp"
    twice = ev.CrewChange(crew.at, seat="copilot", name="A Holt")
    assert refused(crew.send(twice)) == "same person"
    assert refused(crew.send(ev.CrewChange(crew.at, seat="steward", name="X"))) == "unknown seat"
    assert refused(crew.send(ev.CrewChange(crew.at, seat="copilot", name=""))) == "name"


@pytest.mark.parametrize("mode", ["solo", "single-pilot"])
def test_one_pilot_hands_over_to_nobody(mode: str) -> None:
    crew = Crew("tiny", mode=mode)
    assert refused(crew.send(ev.HandOver(crew.at))) == "one pilot"


def test_a_value_read_out_unasked_is_checked_as_any_value() -> None:
    crew = Crew().until("prepare.lamp")
    assert refused(crew.send(ev.ReadingSeen(crew.at, name="heat", value="1"))) == "unknown reading"
    far = ev.ReadingSeen(crew.at, name="oil_temp", value="400")
    assert refused(crew.send(far)) == "implausible"
    assert kinds(crew.send(ev.ReadingSeen(crew.at, name="oil_temp", value="40"))) == ["noted"]


def test_something_unknown_that_happened_ends_no_validity() -> None:
    crew = Crew().until("prepare.lamp")
    assert refused(crew.send(ev.Happened(crew.at, what="rain"))) == "unknown happening"


def test_time_never_runs_backwards() -> None:
    crew = Crew().until("prepare.lamp")
    assert refused(crew.run._send(ev.Snag(crew.run.at - 1, text="early"))) == "clock"
    assert crew.stands(Prompt.ASKING)
