"""What a view says of the day: answers with units, acceptances, flights, validity, card numbers."""

from __future__ import annotations

from runner.engine import events as ev
from runner.engine.days import until
from runner.engine.effects import Line, ListLine, View
from runner.engine.steplines import line
from runner.engine.views import view
from tests.runner.engine.crew import Crew
from tests.runner.engine.test_flights import landed


def seen(crew: Crew) -> View:
    return view(crew.table, crew.run.state)


def answered(crew: Crew, step: str) -> Line:
    """A step of the present list behind the question."""
    return next(one for one in seen(crew).before if one.key == step)


def list_line(lines: tuple[ListLine, ...], key: str) -> ListLine:
    return next(one for one in lines if one.key == key)


def test_the_answer_of_a_reading_carries_its_unit() -> None:
    crew = Crew().until("magnetos.base")
    crew.say("1800")
    assert answered(crew, "magnetos.base").answer == "1800 rpm"


def test_a_computed_value_carries_its_unit_and_words_none() -> None:
    crew = landed(Crew())
    said: dict[str, set[str]] = {}
    for visit in crew.run.state.archive:
        for step, latch in zip(crew.table.flows[visit.flow].steps, visit.latches, strict=True):
            shown = line(crew.table, step, latch, {}).answer
            if latch.value:
                said.setdefault(step.kind.value, set()).add(shown.removeprefix(latch.value))
    assert said["computed"] == {" rpm"}
    assert said["challenge"] == said["choice"] == {""}
    assert " °C" in said["reading"]


def test_a_called_side_carries_the_unit_too() -> None:
    crew = Crew().until("stopping.brake_rpm")
    crew.say("below 60")
    assert crew.latch("stopping.brake_rpm").value == "below 60"
    assert answered(crew, "stopping.brake_rpm").answer == "below 60 rpm"


def test_what_the_commander_accepted_stands_until_its_list_is_asked_anew() -> None:
    crew = Crew().until("stopping.let_go")
    assert seen(crew).accepted == ()
    crew.taken("115")
    crew.accept()
    (one,) = seen(crew).accepted
    assert (one.key, one.answer, one.why) == (
        "stopping.let_go", "115 rpm", "Needed for safety",
    )  # fmt: skip
    landed(crew)
    assert [one.key for one in seen(crew).accepted] == ["stopping.let_go"]
    crew.send(ev.NextFlight(crew.at))
    assert [one.key for one in seen(crew).accepted] == ["stopping.let_go"]
    crew.until("stopping")
    assert seen(crew).accepted == ()


def test_a_correction_ends_an_acceptance() -> None:
    crew = Crew().until("stopping.let_go")
    crew.taken("115")
    crew.accept()
    crew.correct("stopping.let_go", "95", "commander")
    assert seen(crew).accepted == ()


def test_the_flights_of_the_day_with_marks_lists_and_what_still_holds() -> None:
    crew = Crew()
    begun = crew.run.state.flight_began
    landed(crew)
    crew.send(ev.NextFlight(crew.at))
    first, second = seen(crew).flights
    assert (first.number, first.begun, first.now) == (1, begun, False)
    assert (second.number, second.begun, second.now) == (2, crew.run.state.flight_began, True)
    assert [what for what, _ in first.marks if what in ("take-off", "landing")] == [
        "take-off", "landing",
    ]  # fmt: skip
    assert second.marks == ()
    tail = list_line(first.lists, "tail")
    assert (tail.status, tail.until) == ("closed", until(crew.table, crew.table.flows["tail"]))
    assert tail.until == "refuelled or maintenance"
    assert list_line(second.lists, "tail") == tail._replace(status="still valid")
    assert second.lists == seen(crew).lists


def test_a_list_that_lost_its_validity_says_what_that_can_have_been() -> None:
    crew = landed(Crew())
    crew.send(ev.Happened(crew.at, what="refuelled"))
    crew.send(ev.NextFlight(crew.at))
    first, second = seen(crew).flights
    assert list_line(first.lists, "tail").until == ""
    tail = list_line(second.lists, "tail")
    assert tail.status == "current"
    assert tail.why == "again after refuelled or maintenance"
    assert list_line(second.lists, "nose").why == ""


def test_nothing_is_asked_again_the_first_time() -> None:
    assert {line.why for line in seen(Crew()).lists if line.status != "not required"} == {""}


def test_the_card_has_every_list_of_today_in_one_run_of_numbers() -> None:
    crew = Crew()
    shown = seen(crew)
    assert [one.title for one in shown.card] == [one.title for one in shown.lists]
    for there, one in zip(shown.lists, shown.card, strict=True):
        steps = crew.table.flows[there.key].steps
        assert (one.first, one.last) == (steps[0].number, steps[-1].number)
        assert one.last - one.first == len(steps) - 1


def test_what_is_not_required_says_what_is_so_instead() -> None:
    crew = Crew("corvane_c4").until("brief.cabin_load", most=2500)
    crew.say("ONLY CREW")
    crew.until("cockpit", most=2500)
    lost = list_line(seen(crew).lists, "passengers")
    assert (lost.status, lost.why) == ("not required", "Cabin ONLY CREW")
    crew = Crew("corvane_c4", only="shutdown", mode="solo")
    crew.say("AT REST")
    crew.say("STOPPED")
    whys = {one.why for one in seen(crew).before if one.status == "not required"}
    assert whys == {"Rotor AT REST", "Engine STOPPED"}


def test_a_list_planned_again_is_to_come() -> None:
    crew = Crew().until("prepare")
    crew.send(ev.Discontinue(crew.at))
    by_key = {line.key: line.status for line in seen(crew).lists}
    assert by_key["prepare"] == "not done"
    assert {status for key, status in by_key.items() if key in crew.run.state.plan} == {"to come"}
