"""A step beside the question: what it was answered, who let it go by and why, where it returns."""

from __future__ import annotations

from runner.engine.effects import Line, View
from runner.engine.views import view
from tests.runner.engine.crew import Crew
from tests.runner.engine.test_ways_past_the_rule import until


def seen(crew: Crew) -> View:
    return view(crew.table, crew.run.state)


def one(lines: tuple[Line, ...], key: str) -> Line:
    return next(line for line in lines if line.key == key)


def test_an_accepted_step_keeps_its_value_with_the_unit_and_the_reason() -> None:
    crew = Crew().until("stopping.let_go")
    crew.taken("115")
    crew.accept()
    line = one(seen(crew).before, "stopping.let_go")
    assert (line.status, line.answer, line.why) == ("accepted", "115 rpm", "Needed for safety")
    assert line == one(seen(crew).accepted, "stopping.let_go")


def test_what_is_put_off_without_a_trigger_comes_back_at_the_end_of_its_list() -> None:
    crew = until(Crew("corvane_c4", only="warm_up", mode="solo"), "warm_up.hour_meter")
    crew.put_off()
    line = one(seen(crew).put_off, "warm_up.hour_meter")
    assert line.why == f"at the end of {crew.table.flows['warm_up'].title}"


def test_what_is_put_off_until_a_step_names_it() -> None:
    crew = Crew("corvane_c4", mode="solo")
    step = next(s for s in crew.table.steps.values() if s.may_put_off and s.back_before)
    crew = until(Crew("corvane_c4", only=step.id.split(".")[0], mode="solo"), step.id)
    crew.put_off()
    trigger = crew.table.steps[step.back_before]
    assert one(seen(crew).put_off, step.id).why == f"before {trigger.challenge}"


def test_what_was_not_met_and_then_put_off_says_where_it_comes_back() -> None:
    """That it was not met is no place."""
    crew = until(Crew("corvane_c4", only="warm_up", mode="solo"), "warm_up.hour_meter")
    crew.not_so()
    crew.put_off()
    assert one(seen(crew).put_off, "warm_up.hour_meter").why.startswith("at the end of")
