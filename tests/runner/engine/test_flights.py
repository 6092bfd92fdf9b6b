"""Lists of a day: the order, groups, validity, conditions of whole lists, the next flight."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.state import How
from tests.runner.engine.crew import Crew, item, kinds, refused


def landed(crew: Crew) -> Crew:
    """The first flight is over and its shutdown list closed."""
    return crew.until("papers")


def entered(crew: Crew) -> list[str]:
    """Every list entered so far."""
    return [i[1] for o in crew.run.outcomes for i in o if i[0] == "entered"]


def test_every_role_reads_the_first_page_before_the_first_list() -> None:
    crew = Crew(read=False)
    assert crew.stands(Prompt.FIRST_PAGE)
    assert refused(crew.say("SECURE")) == "first page"
    assert refused(crew.send(ev.Standby(crew.at))) == "first page"
    crew.send(ev.PageRead(crew.at, role="copilot"))
    assert refused(crew.send(ev.PageRead(crew.at, role="copilot"))) == "already read"
    assert refused(crew.send(ev.PageRead(crew.at, role="ground"))) == "already read"
    assert refused(crew.send(ev.PageRead(crew.at))) == "say who"
    crew.send(ev.PageRead(crew.at, role="commander"))
    assert crew.stands(Prompt.STATION)
    assert refused(crew.send(ev.PageRead(crew.at, role="commander"))) == "already read"


def test_a_run_opens_once_and_only_with_a_list_that_exists() -> None:
    crew = Crew()
    assert refused(crew.send(ev.Opened(crew.at, ("crew",)))) == "opened already"
    wrong = Crew(only="no_such_list", read=False)
    assert refused(wrong.run.outcomes[0]) == "unknown list"


def test_lists_of_a_group_are_open_together_and_the_next_waits_for_all() -> None:
    crew = Crew()
    assert [v.flow for v in crew.run.state.visits] == ["nose", "tail"]
    crew.send(ev.TurnTo(crew.at, flow="tail"))
    crew.both("REMOVED")
    crew.say("SECURE")
    assert item(crew.say("CLOSED"), "list closed") == ("list closed", "tail")
    assert crew.asked.startswith("nose.")
    assert refused(crew.send(ev.TurnTo(crew.at, flow="tail"))) == "unknown list"


def test_equipment_that_is_not_fitted_is_not_required_with_the_condition() -> None:
    crew = Crew()
    assert crew.latch("nose.nose_hook_cover").how is How.NOT_REQUIRED
    assert crew.latch("nose.nose_hook_cover").why == "hook"
    assert Crew(fit=("hook",)).how("nose.nose_hook_cover") is How.OPEN


def test_the_next_flight_begins_only_after_a_list_that_allows_it() -> None:
    crew = Crew().until("prepare.day")
    assert refused(crew.send(ev.NextFlight(crew.at))) == "not next flight"
    landed(crew)
    assert item(crew.send(ev.NextFlight(crew.at)), "flight") == ("flight", "2")


def test_the_next_flight_does_not_begin_in_flight_or_in_a_drill() -> None:
    crew = landed(Crew())
    crew.drill("hot")
    assert refused(crew.send(ev.NextFlight(crew.at))) == "not next flight"
    crew.say("GILLS OPEN")
    crew.say("CLOSED")
    crew.send(ev.Mark(crew.at, what="take-off", when=crew.run.at))
    assert refused(crew.send(ev.NextFlight(crew.at))) == "airborne"
    crew.send(ev.Mark(crew.at, what="landing", when=crew.run.at))
    assert item(crew.send(ev.NextFlight(crew.at)), "flight")


def test_once_the_list_after_it_is_begun_the_next_flight_has_to_wait() -> None:
    crew = landed(Crew())
    crew.until("papers.defects")
    assert refused(crew.send(ev.NextFlight(crew.at))) == "not next flight"


def test_what_is_still_valid_is_skipped_and_what_happened_ends_it() -> None:
    crew = landed(Crew())
    crew.send(ev.NextFlight(crew.at))
    assert entered(crew)[-1] == "start"

    crew = landed(Crew())
    outcome = crew.send(ev.Happened(crew.at, what="refuelled"))
    # This flight is over: only the next one asks for it.
    assert outcome == (("happened", "refuelled"), ("lapsed", "tail"))
    crew.send(ev.NextFlight(crew.at))
    assert entered(crew)[-1] == "tail"
    assert "nose" not in [v.flow for v in crew.run.state.visits]


@pytest.mark.parametrize(("minutes", "again"), [(29, False), (31, True)])
def test_stopped_more_than_thirty_minutes_ends_the_validity_that_says_so(
    minutes: int, *, again: bool
) -> None:
    crew = landed(Crew())
    crew.pause(minutes * 60)
    crew.say("WAIT ON")
    crew.send(ev.NextFlight(crew.at))
    assert ("run_up" in crew.run.state.plan) is again
    crew.until("turnround" if again else "couple")
    if again:
        assert crew.how("turnround.oil_looked_at") is How.OPEN
        assert crew.how("turnround.hook") is How.NOT_REQUIRED


def test_lists_of_the_first_flight_are_not_done_on_the_second() -> None:
    crew = landed(Crew())
    crew.send(ev.NextFlight(crew.at))
    assert "prepare" not in crew.run.state.plan
    assert crew.run.state.values["flight"] == 2
    assert crew.run.state.values["first_flight"] is False


def test_a_list_whose_condition_is_false_is_not_required_and_not_closed() -> None:
    crew = landed(Crew())
    crew.send(ev.NextFlight(crew.at))
    crew.until("papers.defects")
    crew.say("WRITTEN")
    outcome = crew.say("CLOSED")
    assert item(outcome, "not required")[1] == "turnround"
    assert ("list closed", "turnround") not in outcome


def test_values_of_a_list_are_unknown_when_it_is_entered_again() -> None:
    crew = landed(Crew())
    assert "let_go" in crew.run.state.values
    crew.send(ev.NextFlight(crew.at))
    crew.until("stopping")
    assert "let_go" not in crew.run.state.values
    assert crew.how("stopping.brake_rpm") is How.OPEN


def test_a_by_time_met_on_one_flight_vouches_for_no_other() -> None:
    crew = landed(Crew())
    crew.send(ev.NextFlight(crew.at))
    assert "oil_rise" not in crew.run.state.timers


def test_a_mark_of_an_earlier_flight_answers_nothing() -> None:
    crew = landed(Crew())
    crew.send(ev.NextFlight(crew.at))
    crew.until("lift.take_off")
    assert crew.how("lift.take_off") is How.OPEN


def test_with_no_stop_on_record_the_engine_may_have_stood_for_months() -> None:
    assert Crew().run.state.values["stopped_minutes"] == 99999
    carried = (("moment:engine stopped", str(50 * 60_000)),)
    assert Crew(carried=carried).run.state.values["stopped_minutes"] == 50


def test_after_the_last_list_the_day_is_closed_and_the_way_out_stays_open() -> None:
    crew = Crew(only="papers")
    crew.until("papers.defects")
    crew.say("WRITTEN")
    assert "day closed" in kinds(crew.say("CLOSED"))
    assert crew.stands(Prompt.CLOSED)
    assert refused(crew.say("CLOSED")) == "nothing asked"
    crew.send(ev.Discontinue(crew.at))
    assert crew.run.state.visits[0].flow == "stopping"


def unheated(crew: Crew) -> Crew:
    """The run-up said that no heat is needed; the list for it was not required."""
    crew.until("run_up.carburettor_heat")
    crew.say("NOT NEEDED")
    crew.say("CLOSED")
    return crew


def test_a_list_that_was_not_required_is_taken_up_when_it_comes_out_otherwise() -> None:
    crew = unheated(Crew())
    assert crew.asked == "magnetos.base"
    outcome = crew.correct("run_up.carburettor_heat", "NEEDED")
    assert ("reopened", "heated") in outcome
    assert crew.asked == "magnetos.base"
    crew.until("heated.heat_lever")


def test_a_list_is_taken_up_again_once_only() -> None:
    crew = unheated(Crew())
    crew.correct("run_up.carburettor_heat", "NEEDED")
    crew.until("heated.heat_lever")
    crew.say("HOT")
    crew.say("CLOSED")
    crew.correct("run_up.carburettor_heat", "NOT NEEDED")
    outcome = crew.correct("run_up.carburettor_heat", "NEEDED")
    assert ("reopened", "heated") not in outcome


def test_what_lies_below_the_floor_is_never_decided_again() -> None:
    crew = unheated(Crew())
    crew.send(ev.Discontinue(crew.at))
    outcome = crew.correct("run_up.carburettor_heat", "NEEDED")
    assert ("reopened", "heated") not in outcome
    assert "heated" not in crew.run.state.plan
