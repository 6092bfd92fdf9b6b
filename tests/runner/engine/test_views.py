"""What the crew sees of a question that is not the step behind it, and of a wait being read."""

from __future__ import annotations

from runner.engine import events as ev
from runner.engine.listening import listen
from runner.engine.views import view
from tests.runner.engine.crew import Crew
from tests.runner.engine.test_ways_past_the_rule import crew, until


def test_the_facts_after_a_stop_are_called_by_themselves() -> None:
    run = until(crew(), "documents.hours_to_next_inspection")
    run.send(ev.Recovered(run.run.at + 5000, gap=5000))
    shown = view(run.table, run.run.state)
    assert (shown.challenge, shown.gauge, shown.response) == ("Engine now", None, "")
    assert shown.options == ("ENGINE STOPPED", "ENGINE RUNNING")
    assert listen(run.table, run.run.state).responses == shown.options


def test_the_reading_of_a_wait_shows_its_limit_and_the_wait_it_belongs_to() -> None:
    run = until(Crew("corvane_c4", only="engage", mode="solo"), "engage.drain")
    assert run.run.state.question.sub == 0
    shown = view(run.table, run.run.state)
    step = run.table.steps["engage.drain"]
    assert step.wait is not None
    assert shown.response == step.wait.conditions[0][1].text()
    assert shown.section == step.challenge


def test_a_by_time_is_offered_while_a_list_that_starts_it_is_open() -> None:
    run = until(crew(), "documents.hours_to_next_inspection")
    assert view(run.table, run.run.state).timers == ()
    assert view(run.table, run.run.state).happenings == run.table.happenings != ()
    run = until(Crew("corvane_c4", only="start", mode="solo"), "start.starter")
    shown = view(run.table, run.run.state)
    assert [name for name, _ in shown.timers] == ["starter", "oil_pressure"]
    run = until(Crew("corvane_c4", only="engage", mode="solo"), "engage.drain")
    assert [name for name, _ in view(run.table, run.run.state).timers] == ["rotor_up"]


def test_where_discontinuing_leads_is_named_by_what_turns() -> None:
    run = until(crew(), "documents.hours_to_next_inspection")
    assert view(run.table, run.run.state).way_out == "Switches and fuel off"
    run = until(Crew("corvane_c4", only="engage", mode="solo"), "engage.drain")
    assert view(run.table, run.run.state).way_out == "Shutdown"


def test_a_run_of_one_list_says_so_among_its_modes() -> None:
    alone = Crew("corvane_c4", only="engage", mode="solo")
    assert view(alone.table, alone.run.state).modes == ("solo", "only")
    assert alone.run.state.modes == ("solo",)
    whole = Crew("corvane_c4", mode="solo")
    assert view(whole.table, whole.run.state).modes == ("solo",)
