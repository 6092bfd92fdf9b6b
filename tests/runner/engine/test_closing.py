"""Closing a list: only when nothing before it is open, by its own word, and never by itself."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.draft import Draft
from runner.engine.effects import Prompt
from runner.engine.errors import Refused
from runner.engine.flights import close
from runner.engine.state import How, Latch, may_pass, ordinary
from tests.runner.engine.crew import Crew, item, kinds, refused
from tests.runner.engine.generator import aircraft


def test_the_closing_call_is_asked_last_and_answered_by_its_own_word() -> None:
    crew = Crew("tiny")
    crew.say("SECURE")
    assert refused(crew.say("CLOSED")) == "not an answer"
    crew.say("REMOVED")
    assert crew.stands(Prompt.CLOSING)
    for word in ("closed and locked", "done", "affirm"):
        assert refused(crew.say(word)) == "not an answer"
    assert item(crew.say("closed"), "list closed") == ("list closed", "outside")


def test_a_closing_call_not_surely_heard_closes_nothing() -> None:
    crew = Crew("tiny")
    crew.say("SECURE")
    crew.say("REMOVED")
    assert refused(crew.say("CLOSED", sure=False)) == "unsure"


def test_a_reading_that_grew_old_is_asked_again_before_the_list_closes() -> None:
    crew = Crew().until("lift.take_off")
    crew.send(ev.Mark(crew.at, what="take-off", when=crew.run.at))
    crew.say("60")
    assert crew.stands(Prompt.CLOSING)
    crew.run.at += 400_000
    assert kinds(crew.say("CLOSED")) == ["reopened"]
    assert crew.asked == "lift.lift_oil"


@pytest.mark.parametrize("how", [How.OPEN, How.UNMET, How.PUT_OFF, How.NOT_DONE])
def test_no_list_closes_over_a_step_that_is_not_passed(how: How) -> None:
    crew = Crew("tiny").until("start")
    draft = Draft(crew.table, crew.run.state, ev.Wake(crew.at))
    visit = draft.visits[0]
    latches = [Latch(How.ANSWERED)] * len(visit.latches)
    latches[4] = Latch(how, "30")
    with pytest.raises(Refused) as told:
        close(draft, visit._replace(latches=tuple(latches)))
    assert told.value.code == "open"


def test_paper_passes_ordinary_steps_only() -> None:
    for step in [*aircraft("tiny").steps.values(), *aircraft("probe").steps.values()]:
        done = may_pass(step, Latch(How.ON_PAPER))
        assert done is ordinary(step)
        if step.limit or step.critical or step.timer or step.wait or step.turns or step.choices:
            assert not done
    for how in (How.OPEN, How.UNMET, How.PUT_OFF, How.NOT_DONE):
        assert not may_pass(aircraft("tiny").steps["start.harness"], Latch(how))


def test_a_closed_list_is_over() -> None:
    crew = Crew("tiny").until("start")
    (over,) = crew.run.state.archive
    assert (over.flow, over.closed_at, over.left) == ("outside", crew.run.at, "")


def test_an_item_of_another_station_named_at_the_closing_call_is_ticked() -> None:
    crew = Crew()
    crew.both("SECURE")
    crew.say("FULL")
    assert crew.stands(Prompt.CLOSING)
    assert kinds(crew.say("SECURE", "ground", item="Tail light")) == ["met"]
    assert refused(crew.say("CLOSED", item="Tail ties")) == "not an answer"
