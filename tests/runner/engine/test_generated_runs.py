"""No run of any kind passes what the monitor would not pass, and the runs reach everything.

A generator that never gets behind the first list would let a broken rule pass: so each test fails
unless its runs together reached every list end, every limited step met, unmet and accepted, and (on
the small aircraft) every cell of question and event.
"""

from __future__ import annotations

import inspect

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine import events as ev
from runner.engine.cells import BEFORE, CELLS
from runner.engine.effects import Prompt
from runner.engine.outcomes import OUTCOMES, REFUSALS
from runner.engine.session import transition
from runner.engine.state import initial
from runner.flow.proof.monitor import Clock, Ledger, Monitor
from tests.runner.engine.generator import Run, Tally, aircraft
from tests.runner.engine.willing import starts

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

SEEDS = st.integers(0, 2**32)


def explore(name: str, seed: int, tally: Tally, steps: int, rounds: int, tries: int) -> list[str]:
    """Runs from the first line of every list, more from those that have not given all they hold."""
    table = aircraft(name)
    origins = list(starts(table, range(40)))
    for turn in range(rounds):
        missing = {text.split(".")[0].split(" ")[0] for text in tally.missing(table)}
        for number, origin in enumerate(origins):
            own = {v.flow for v in origin.state.visits}
            drill = origin.state.drill
            own |= {drill.flow} if drill is not None else set()
            if turn and not own & missing:
                continue
            for attempt in range(tries):
                run = origin.fork(hash((seed, turn, number, attempt)))
                run.watch = lambda before, event, outcome, _: tally.see(
                    table, before, event, outcome
                )
                run.go(steps)
                if run.monitor is not None and run.monitor.faults:
                    return run.monitor.faults
        if not tally.missing(table):
            break
    return []


@pytest.mark.parametrize("name", ["tiny", "probe"])
def test_nothing_passes_that_the_monitor_would_not_let_pass(name: str) -> None:
    tally = Tally()

    @settings(max_examples=6, derandomize=True, database=None)
    @given(SEEDS)
    def runs(seed: int) -> None:
        assert explore(name, seed, tally, 60, rounds=4, tries=8) == []

    runs()
    assert tally.missing(aircraft(name)) == []


@pytest.mark.parametrize("name", ["corvane_c4", "tern_t2"])
def test_no_shipped_list_is_passed_without_its_limits(name: str) -> None:
    tally = Tally()

    @settings(max_examples=1, derandomize=True, database=None)
    @given(SEEDS)
    def runs(seed: int) -> None:
        assert explore(name, seed, tally, 60, rounds=40, tries=16) == []

    runs()
    assert tally.missing(aircraft(name)) == []


@pytest.mark.parametrize("mode", ["crew", "solo", "single-pilot"])
def test_a_day_from_its_first_page_holds_in_every_mode(mode: str) -> None:
    @settings(max_examples=30, derandomize=True, database=None)
    @given(SEEDS)
    def runs(seed: int) -> None:
        run = Run(aircraft("probe"), seed).open(mode=mode).go(250)
        assert run.monitor is not None
        assert run.monitor.faults == []

    runs()


def standing(name: str) -> dict[Prompt, Run]:
    """A run that stands at each kind of question."""
    table = aircraft(name)
    found: dict[Prompt, Run] = {}
    for seed in range(60):
        for origin in starts(table, range(3)):
            run = origin.fork(seed)
            for _ in range(40):
                found.setdefault(run.state.question.prompt, run.fork(seed))
                run.step()
    first = Run(table, 0)
    first.send(ev.Opened(0, ("crew",), (("commander", "A"), ("copilot", "B"))))
    return {**found, Prompt.FIRST_PAGE: first}


def test_runs_reach_every_cell_of_question_and_event() -> None:
    tally = Tally()
    table = aircraft("tiny")
    origins = standing("tiny")
    assert set(origins) == set(Prompt)

    @settings(max_examples=600, derandomize=True, database=None)
    @given(SEEDS)
    def runs(seed: int) -> None:
        for origin in origins.values():
            run = origin.fork(seed)
            run.wild = 1.0
            run.watch = lambda before, event, outcome, _: tally.see(table, before, event, outcome)
            run.step()
            assert run.monitor is not None
            assert run.monitor.faults == []

    runs()
    every = {(prompt, kind) for prompt in Prompt for kind in ev.ALL}
    assert every - tally.cells == set()


def test_no_cell_of_the_table_is_empty() -> None:
    assert set(CELLS) == set(Prompt)
    for row in [*CELLS.values(), BEFORE]:
        assert set(row) == set(ev.ALL)
        for cell in row.values():
            assert callable(cell) or cell in REFUSALS


def test_every_outcome_is_one_of_the_closed_list() -> None:
    @settings(max_examples=20, derandomize=True, database=None)
    @given(SEEDS)
    def runs(seed: int) -> None:
        for outcome in Run(aircraft("probe"), seed).open().go(200).outcomes:
            for kind, *details in outcome:
                assert kind == "refused" or kind in OUTCOMES
                assert kind != "refused" or (details[0] in REFUSALS and len(outcome) == 1)

    runs()


def test_an_event_before_the_run_is_open_changes_nothing() -> None:
    for kind in ev.ALL:
        if kind is not ev.Opened:
            state, outcome = transition(aircraft("tiny"), initial(), kind(5))
            assert state == initial()
            assert outcome == (("refused", "not opened"),)


def test_the_monitor_is_small_enough_to_be_read() -> None:
    for judge in (Ledger, Clock, Monitor):
        lines = [line for line in inspect.getsource(judge).splitlines() if line.strip()]
        assert len(lines) <= 60, judge.__name__


def test_the_monitor_notices_what_it_is_there_for() -> None:
    table = aircraft("tiny")
    said = ev.Answer(1000, 1, "commander", value="151")
    told = Monitor(table)
    told.see(said, (("met", "shutdown.head_temperature", "151"),))
    assert told.faults

    told = Monitor(table)
    told.see(said, (("list closed", "shutdown"),))
    assert told.faults

    told = Monitor(table)
    told.see(said, (("accepted", "start.magneto_drop", "maintenance only", "151", "x"),))
    assert told.faults

    told = Monitor(table)
    told.see(said, (("met", "start.rotor_brake", "x"), ("met", "start.harness", "x")))
    assert told.faults
