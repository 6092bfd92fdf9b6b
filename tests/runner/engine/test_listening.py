"""What may answer is told as the transition takes it: what means the same together, how sure."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.effects import Listen, Prompt
from runner.engine.listening import listen, listen_to
from runner.engine.outcomes import Outcome
from runner.engine.session import transition
from runner.engine.table import Kind
from tests.runner.engine.crew import Crew
from tests.runner.engine.generator import Run, aircraft
from tests.runner.engine.willing import Willing, starts


def every_question(name: str) -> list[tuple[Run, Listen]]:
    """Runs of an aircraft at the first line of every list and drill, and a little behind it."""
    found = []
    for run in starts(aircraft(name), range(6)):
        for _ in range(12):
            found.append((run.fork(1), listen(run.table, run.state)))
            run.step()
    return found


def refused(run: Run, value: str, item: str, *, sure: bool) -> str:
    """The code by which an answer is refused here, or an empty text."""
    step = run.table.steps.get(listen(run.table, run.state).step)
    role = run.role(step)
    event = ev.Answer(run.at, run.state.ask, role, "voice", sure, value, item)
    outcome: Outcome = transition(run.table, run.state, event)[1]
    return outcome[0][1] if outcome and outcome[0][0] == "refused" else ""


@pytest.mark.parametrize("name", ["tiny", "probe", "corvane_c4"])
def test_an_unsure_answer_is_read_back_or_refused_as_it_is_told(name: str) -> None:
    told: set[tuple[bool, bool]] = set()
    for run, asked in every_question(name):
        if asked.number or asked.prompt in (Prompt.CHOOSING, Prompt.READ_BACK):
            assert not asked.words_read_back
            continue
        for value in asked.responses:
            if refused(run, value, "", sure=True):
                continue
            code = refused(run, value, "", sure=False)
            told.add((asked.critical, asked.words_read_back))
            if asked.prompt is not Prompt.STATION:
                assert (code == "critical") is asked.critical
            assert (code == "") is (asked.words_read_back and not asked.critical)
    assert {True, False} == {back for _, back in told}


@pytest.mark.parametrize("name", ["tiny", "probe", "corvane_c4"])
def test_what_means_the_same_stands_together_and_is_all_there_is(name: str) -> None:
    for _, asked in every_question(name):
        assert asked.responses == tuple(text for same in asked.meanings for text in same)


def test_of_a_station_the_open_items_that_are_critical_are_named() -> None:
    run = Crew("corvane_c4", only="outside_nose", mode="solo")
    critical = [s for s in run.table.flows["outside_nose"].steps if s.critical]
    assert critical
    assert not listen(run.table, run.run.state).critical
    for number, step in enumerate(critical):
        asked = listen(run.table, run.run.state)
        assert asked.critical_items == tuple(s.id for s in critical[number:])
        run.say(step.response, item=step.challenge)
    assert run.stands(Prompt.STATION)
    assert listen(run.table, run.run.state).critical_items == ()


def test_the_items_of_stations_beside_the_list_are_taken_as_they_are_told() -> None:
    run = Run(aircraft("corvane_c4"), 3).open()
    crew = Willing(run)
    while len(run.state.visits) < 2:
        run.send(crew.event())
    while (asked := listen(run.table, run.state)).prompt is Prompt.STATION:
        run.send(ev.TurnTo(run.at + 1000, flow="cabin"))
    ticks = [
        s for v in run.state.visits if v.number != run.state.focus
        for s in run.table.flows[v.flow].steps if s.kind is Kind.TICK
    ]  # fmt: skip
    assert [key for key, _, _ in asked.elsewhere] == [s.id for s in ticks]
    assert asked.critical_items == tuple(s.id for s in ticks if s.critical)
    key, _, response = asked.elsewhere[-1]
    tick = ev.Answer(run.at + 1000, asked.ask, "", "voice", True, response, key.upper())
    assert run.send(tick)[0][:2] == ("met", key)
    assert key not in {k for k, _, _ in listen(run.table, run.state).elsewhere}


def test_an_earlier_answer_is_corrected_in_its_own_form() -> None:
    run = Crew("tiny", only="start", mode="solo")
    state = run.run.state
    number = listen_to(run.table, state, "start.oil_pressure")
    reading = run.table.readings["oil_press"]
    assert (number.ask, number.number, number.unit) == (state.ask, True, "psi")
    assert (number.low, number.high) == (reading.low, reading.high)
    words = listen_to(run.table, state, "start.rotor_brake")
    assert words.meanings == (("RELEASED", "OFF AND STOWED"),)
    assert words.critical
    assert not words.words_read_back
