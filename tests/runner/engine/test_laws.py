"""The laws of the engine, over generated runs: what must hold whatever happens.

Each is named in the engine's model ("Laws to test"); the runs are seeded by hypothesis.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine import events as ev
from runner.engine.deciding import decide_visit
from runner.engine.draft import Draft
from runner.engine.effects import Prompt
from runner.engine.outcomes import Outcome
from runner.engine.session import Session, transition
from runner.engine.state import FIELDS, NEVER, State
from runner.engine.table import Kind, Table
from runner.engine.wire import write_event
from tests.runner.engine.generator import Run, aircraft
from tests.runner.engine.willing import Willing, starts

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

SEEDS = st.integers(0, 2**32)
SMALL = settings(max_examples=25, derandomize=True, database=None)


def watched(table: Table, seed: int, steps: int, check: object) -> None:
    """Runs from the first line of every list, with a check after every event."""
    for origin in starts(table, range(20)):
        run = origin.fork(seed)
        run.watch = check  # type: ignore[assignment]
        run.go(steps)


# deriving ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["tiny", "probe"])
@SMALL
@given(seed=SEEDS)
def test_deciding_everything_anew_changes_nothing(name: str, seed: int) -> None:
    table = aircraft(name)

    def check(before: State, event: ev.Event, outcome: Outcome, after: State) -> None:
        if not after.flight:
            return
        draft = Draft(table, after, ev.Wake(after.at))
        for visit in list(draft.live()):
            decide_visit(draft, visit.number)
        assert draft.freeze() == after, (event, outcome, draft.tale)

    watched(table, seed, 40, check)


@settings(max_examples=2, derandomize=True, database=None)
@given(seed=SEEDS)
def test_deciding_every_demo_list_anew_changes_nothing(seed: int) -> None:
    table = aircraft("corvane_c4")

    def check(before: State, event: ev.Event, outcome: Outcome, after: State) -> None:
        draft = Draft(table, after, ev.Wake(after.at))
        for visit in list(draft.live()):
            decide_visit(draft, visit.number)
        assert draft.freeze() == after, (event, outcome, draft.tale)

    watched(table, seed, 40, check)


# repeating and waking ---------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["tiny", "probe"])
@SMALL
@given(seed=SEEDS)
def test_saying_again_confirming_and_early_waking_change_nothing(name: str, seed: int) -> None:
    table = aircraft(name)

    def check(before: State, event: ev.Event, outcome: Outcome, after: State) -> None:
        due = Session(table, after).next_deadline()
        early = [ev.SayAgain(after.at), ev.Confirm(after.at), ev.Wake(after.at)]
        early += [ev.Wake(due - 1)] if due is not None and due > after.at else []
        for extra in early:
            if due is None or extra.at < due:
                assert transition(table, after, extra)[0] is after, extra

    watched(table, seed, 40, check)


@pytest.mark.parametrize("name", ["tiny", "probe"])
@SMALL
@given(seed=SEEDS)
def test_a_deadline_is_a_moment_at_which_something_changes(name: str, seed: int) -> None:
    table = aircraft(name)

    def check(before: State, event: ev.Event, outcome: Outcome, after: State) -> None:
        due = Session(table, after).next_deadline()
        if due is not None:
            assert due >= after.at
            woken, told = transition(table, after, ev.Wake(due))
            assert woken != after, (event, told)
            assert told != (("due",),)
            later = Session(table, woken).next_deadline()
            assert later is None or later >= due

    watched(table, seed, 40, check)


@SMALL
@given(seed=SEEDS)
def test_nothing_is_taken_after_a_moment_that_was_due(seed: int) -> None:
    table = aircraft("probe")

    def check(before: State, event: ev.Event, outcome: Outcome, after: State) -> None:
        due = Session(table, after).next_deadline()
        if due is not None:
            late = ev.Snag(due, text="late")
            assert transition(table, after, late) == (after, (("refused", "late wake"),))

    watched(table, seed, 30, check)


# refusing ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["tiny", "probe", "corvane_c4"])
@settings(max_examples=8, derandomize=True, database=None)
@given(seed=SEEDS)
def test_a_refusal_leaves_the_state_equal(name: str, seed: int) -> None:
    table = aircraft(name)
    seen = set()

    def check(before: State, event: ev.Event, outcome: Outcome, after: State) -> None:
        if outcome and outcome[0][0] == "refused":
            seen.add(outcome[0][1])
            assert after is before
            assert len(outcome) == 1

    watched(table, seed, 30, check)
    assert len(seen) >= 3


@SMALL
@given(seed=SEEDS)
def test_an_answer_to_an_earlier_question_is_refused_always(seed: int) -> None:
    table = aircraft("probe")

    def check(before: State, event: ev.Event, outcome: Outcome, after: State) -> None:
        if isinstance(event, ev.Asked) and event.ask != before.ask:
            assert outcome == (("refused", "stale"),)
        if isinstance(event, ev.Asked) and outcome and outcome[0][0] != "refused":
            assert after.ask > before.ask

    watched(table, seed, 40, check)


@SMALL
@given(seed=SEEDS)
def test_a_changed_question_has_a_new_number(seed: int) -> None:
    table = aircraft("probe")

    def check(before: State, event: ev.Event, outcome: Outcome, after: State) -> None:
        assert after.ask >= before.ask
        if (after.question, after.choosing) != (before.question, before.choosing):
            assert after.ask > before.ask

    watched(table, seed, 40, check)


def test_pasting_three_right_answers_answers_one_step() -> None:
    # What is pasted answers at most the one question that stood when it came.
    run = Run(aircraft("tiny"), 1).open()
    ask = run.state.ask
    taken = [
        run.send(ev.Answer(run.at + 10, ask, "commander", value=value))
        for value in ("SECURE", "REMOVED", "CLOSED")
    ]
    assert [outcome[0][0] for outcome in taken] == ["met", "refused", "refused"]


# order ------------------------------------------------------------------------------------------


def unnumbered(state: State) -> dict[str, object]:
    """A state without the numbers that count events."""
    fields = {name: getattr(state, name) for name in FIELDS if name not in ("entries", "at")}
    visits = [
        [visit.flow, [(v.how, v.value, v.why, v.back) for v in visit.latches], visit.closed_at]
        for visit in state.visits
    ]
    return {**fields, "visits": visits, "snags": sorted(k.text for k in state.snags)}


def unrelated() -> list[ev.Event]:
    """Events at the same time that touch places which have nothing to do with each other."""
    at = 10_000
    return [
        ev.Answer(at, 0, "commander", value="FULL", item="Oil level"),
        ev.Answer(at, 0, "ground", value="SECURE", item="Tail light"),
        ev.NotSo(at, 0, "commander", item="Nose hook cover"),
        ev.Snag(at, "copilot", text="scratch on the door"),
        ev.ReadingSeen(at, "copilot", name="oil_temp", value="20"),
        ev.CrewChange(at, seat="ground", name="T Moss"),
        ev.TurnTo(at, flow="tail"),
    ]


@pytest.mark.parametrize("one", range(7))
@pytest.mark.parametrize("two", range(7))
def test_events_on_unrelated_places_commute(one: int, two: int) -> None:
    if one >= two:
        return
    table = aircraft("probe")
    start = Run(table, 1).open(fit=("hook",)).state

    def after(*order: int) -> dict[str, object]:
        state = start
        for index in order:
            event = unrelated()[index]
            if isinstance(event, ev.Asked):
                event = event.but(ask=state.ask)
            state, outcome = transition(table, state, event)
            assert outcome[0][0] != "refused"
        return unnumbered(state)

    assert after(one, two) == after(two, one)


# replaying --------------------------------------------------------------------------------------

REPLAY = """
import sys, json, decimal
if sys.argv[1] == "narrow":
    decimal.setcontext(decimal.Context(prec=3, rounding=decimal.ROUND_UP, capitals=0, traps=[]))
from runner.engine.session import Session
from runner.engine.wire import read_event
from tests.runner.engine.generator import aircraft
name, wires = json.load(sys.stdin)
session = Session(aircraft(name))
for wire in wires:
    outcome = session.send(read_event(wire))
    print(session.state.digest(), json.dumps(outcome))
"""


@pytest.mark.parametrize("name", ["tiny", "probe", "corvane_c4"])
def test_a_replay_gives_equal_bytes_elsewhere(name: str, project: Path) -> None:
    run = Run(aircraft(name), 7).open()
    crew = Willing(run)
    for _ in range(60):
        run.send(crew.event())
    run.go(200)
    wires = [write_event(event) for event in run.events]
    session = Session(aircraft(name))
    expected = []
    for event, outcome in zip(run.events, run.outcomes, strict=True):
        assert session.send(event) == outcome
        expected.append(f"{session.state.digest()} {json.dumps(outcome)}")
    assert session.state == run.state

    for seed, context in (("0", "wide"), ("1", "narrow")):
        done = subprocess.run(
            [sys.executable, "-c", REPLAY, context],
            input=json.dumps([name, wires]), capture_output=True, text=True, check=True,
            cwd=project, env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(project)},
        )  # fmt: skip
        assert done.stdout.splitlines() == expected


@SMALL
@given(seed=SEEDS)
def test_equal_states_have_equal_digests_and_changed_ones_others(seed: int) -> None:
    table = aircraft("probe")
    digests: dict[str, State] = {}

    def check(before: State, event: ev.Event, outcome: Outcome, after: State) -> None:
        digest = after.digest()
        assert State(after).digest() == digest
        if digest in digests:
            assert digests[digest] == after
        digests[digest] = after

    run = Run(table, seed).open()
    run.watch = check
    run.go(150)


# the way out ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["tiny", "probe", "corvane_c4"])
@settings(max_examples=3, derandomize=True, database=None)
@given(seed=SEEDS)
def test_discontinue_leads_through_the_shutdown_list_from_every_state(name: str, seed: int) -> None:
    table = aircraft(name)
    ways = set(table.discontinue.values())
    for number, origin in enumerate(starts(table, range(20))):
        run = origin.fork(seed + number)
        run.go(1 + seed % 29)
        out = run.fork(seed)
        before = len(out.events)
        outcome = out.send(ev.Discontinue(out.at + 1000))
        assert outcome[0][0] != "refused"
        visit = next(v for v in out.state.visits if v.number == out.state.focus)
        assert visit.flow in ways
        crew = Willing(out)
        for _ in range(200):
            if any(i == ("list closed", visit.flow) for o in out.outcomes[before:] for i in o):
                break
            if not any(v.number == visit.number for v in out.state.visits):
                break
            out.send(crew.event())
        ended = [i for o in out.outcomes[before:] for i in o]
        assert ("list closed", visit.flow) in ended or ("left behind", visit.flow) in [
            i[:2] for i in ended
        ], (out.state.question, visit.flow)
        assert not any(i[0] == "accepted" for i in ended)
        assert out.monitor is not None
        assert out.monitor.faults == []


# growing ----------------------------------------------------------------------------------------


def test_a_run_of_many_flights_keeps_only_what_is_over_in_its_archive() -> None:
    run = Run(aircraft("tiny"), 3).open()
    crew = Willing(run)
    for flight in range(2, 6):
        while not any(i == ("list closed", "shutdown") for i in run.outcomes[-1]):
            run.send(crew.event())
        run.send(ev.NextFlight(run.at + 60_000))
        assert run.state.flight == flight
        assert len(run.state.visits) == 1
        assert len(run.state.timers) <= len(run.table.timers)
        assert all(v.closed_at != NEVER or v.left for v in run.state.archive)


def test_numbers_of_the_engine_are_exact_or_whole() -> None:
    run = Run(aircraft("probe"), 5).open().go(200)
    for name, value in run.state.values.items():
        kind = run.table.names[name].kind
        assert isinstance(value, {"number": Decimal, "text": str, "truth": bool}[kind])


def test_prompts_and_kinds_are_all_met_in_the_documents_of_the_tests() -> None:
    steps = [*aircraft("tiny").steps.values(), *aircraft("probe").steps.values()]
    assert {step.kind for step in steps} == set(Kind)
    assert len(Prompt) == 12
