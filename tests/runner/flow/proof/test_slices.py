"""Slices say of the whole what the whole says of itself, and runs stay within what was explored."""

from __future__ import annotations

import gc
import random
import weakref
from collections.abc import Callable, Iterator

import pytest

from runner.engine import events as ev
from runner.engine.state import How, State, initial
from runner.engine.table import Table
from runner.engine.waking import next_deadline
from runner.flow.proof.alphabet import BREAKS_IN
from runner.flow.proof.explore import CREW, Explored, Explorer, step
from runner.flow.proof.homeward import ways_home
from runner.flow.proof.monitor import Monitor
from runner.flow.proof.proving import _aircraft, besides, jobs
from runner.flow.proof.shapes import Shaper
from runner.flow.proof.slices import Cutter, Goal, goals
from tests.runner.engine.generator import ROOT, aircraft
from tests.runner.engine.mutants import closes_anyhow, passes
from tests.runner.flow.proof.planted import explored

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

Patch = pytest.MonkeyPatch


TOLD = ("flagged", "lifted")
"""What names how many are open, or which of them: a slice has fewer."""


def naive_and_sliced(table: Table, flow: str) -> tuple[Explored, list[Explored]]:
    """One list gone through with all its steps at once, and step by step in slices."""
    cutter = Cutter(table)
    pieces = [g for g in goals(table) if g.need is None and g.steps[0].split(".", 1)[0] == flow]
    steps = tuple(goal.steps[0] for goal in pieces)
    whole = Explorer(cutter.cut(Goal("all", steps))).explore()
    return whole, [Explorer(cutter.cut(goal)).explore() for goal in pieces]


@pytest.mark.parametrize(
    ("name", "flow"),
    [
        ("short", "check"), ("tiny", "outside"), ("tiny", "shutdown"),
        ("tern_t2", "outside_drains"), ("tern_t2", "cabin"), ("tern_t2", "fuel"),
        ("tern_t2", "last_look"), ("tern_t2", "take_off"), ("tern_t2", "after_landing"),
        ("corvane_c4", "last_look"), ("corvane_c4", "take_off"),
    ],
)  # fmt: skip
def test_slices_of_a_list_reach_what_the_whole_of_it_reaches(name: str, flow: str) -> None:
    whole, pieces = naive_and_sliced(aircraft(name), flow)
    assert whole.whole
    assert whole.faults == [] == [fault for piece in pieces for fault in piece.faults]
    assert whole.stuck == [] == [way for piece in pieces for way in piece.stuck]
    reached = set().union(*(piece.reached for piece in pieces))
    assert {one for one in whole.reached if one[0] not in TOLD} <= reached
    # The product of what its steps can be is what slices spare.
    assert whole.states > max(piece.states for piece in pieces)


@pytest.mark.parametrize("mutate", [passes(How.UNMET), passes(How.OPEN), closes_anyhow])
@pytest.mark.parametrize(
    ("name", "flow"), [("short", "check"), ("tiny", "shutdown"), ("tern_t2", "take_off")]
)
def test_slices_of_a_list_find_what_the_whole_of_it_finds(
    name: str, flow: str, mutate: Callable[[Patch], None], monkeypatch: Patch
) -> None:
    table = aircraft(name)
    mutate(monkeypatch)
    whole, pieces = naive_and_sliced(table, flow)
    found = {fault.what for piece in pieces for fault in piece.faults}
    # A list that closes over all of its steps is told of one of them.
    assert set() < {fault.what for fault in whole.faults} <= found


WALKED = ("before engage.clutch: oil_pressure 60 TO 100 psi",
          "before shutdown.rotor_brake: rotor_rpm BELOW 70 RPM",
          "shutdown.clutch_out", "take_off.hover_power", "clutch_fault.clutch_head",
          "long_stop.under_the_nose")  # fmt: skip


@pytest.mark.parametrize("goal", WALKED)
def test_a_run_of_a_slice_stays_within_the_states_explored(goal: str) -> None:
    table, seen = aircraft("corvane_c4"), set[int]()
    known = {one.name: one for one in goals(table)}
    for beside in besides(table, Cutter(table), known[goal]):
        explorer = explored(table, goal, *beside)
        assert explorer.result.whole
        for seed in range(60):
            for number in walk(explorer, random.Random(seed)):
                seen.add(number)
    assert len(seen) > 20


def walk(explorer: Explorer, dice: random.Random) -> Iterator[int]:
    """One run by chance, with what may break in once: the number of each state it comes to."""
    table, keys, numbers = explorer.table, explorer.keys, explorer.numbers
    opened = ev.Opened(0, modes=("crew",), crew=CREW, fit=tuple(table.fit))
    begun = dice.choice(explorer._beginnings())
    state, judge, _ = step(table, begun, Monitor(table), opened)
    spent = False
    for _ in range(40):
        event = dice.choice(moves(explorer, state, spent))
        before, (state, judge, _) = state, step(table, state, judge, event)
        if isinstance(event, ev.OpenDrill) and event.drill in explorer.within:
            state, judge = through(explorer, state, judge, dice)
            spent = True
        if state is before:
            continue
        assert judge.faults == []
        spent = spent or isinstance(event, BREAKS_IN)
        key = keys.of(state, judge)
        # What is known of a state before anything broke in is more than what is asked here.
        number = numbers.get((spent, key), numbers.get((False, key)))
        assert number is not None, event
        yield number
        if not explorer._matters(state, spent):
            return


def moves(explorer: Explorer, state: State, spent: bool) -> list[ev.Event]:
    """What may happen in a state, a drill from beside with it."""
    found = list(explorer.alphabet.moves(state, next_deadline(explorer.table, state), spent))
    if not spent and state.drill is None:
        found += [ev.OpenDrill(state.at + 1000, drill=drill) for drill in explorer.within]
    return found


def through(
    explorer: Explorer, state: State, judge: Monitor, dice: random.Random
) -> tuple[State, Monitor]:
    """Plainly out of a drill from beside."""
    while state.drill is not None:
        due = next_deadline(explorer.table, state)
        event = dice.choice(list(explorer.alphabet.plain(state, due)))
        state, judge, _ = step(explorer.table, state, judge, event)
    return state, judge


def test_what_was_explored_is_let_go_at_once() -> None:
    # With the collector at rest a circle anywhere would hold every state of every slice before.
    table = aircraft("corvane_c4")
    gc.disable()
    try:
        explorer = explored(table, "take_off.hover_power", "an interruption")
        assert explorer.result.states > 20
        held = weakref.ref(explorer)
        del explorer
        assert held() is None
    finally:
        gc.enable()


def test_slices_of_one_shape_come_to_the_same() -> None:
    folder = str(ROOT / "flows" / "corvane_c4")
    _, cutter, known = _aircraft(folder)
    alike = [job for job in jobs(folder) if len(job.alike) > 2][:4]
    assert alike
    for job in alike:
        first, second = (Explorer(cutter.cut(known[g], b)) for g, b in (job.piece, job.alike[-1]))
        one, other = first.explore(), second.explore()
        assert (one.states, one.transitions) == (other.states, other.transitions)


def test_a_limit_of_its_own_makes_a_shape_of_its_own() -> None:
    table = aircraft("corvane_c4")
    known = {goal.name: goal for goal in goals(table)}
    cutter = Cutter(table)
    first, second = (
        Shaper(cutter.cut(known[name])).shape for name in ("shutdown.brake_rpm", "engage.drain_rpm")
    )
    assert first != second


@pytest.mark.parametrize("name", ["corvane_c4", "tern_t2", "tiny"])
def test_from_everywhere_discontinue_leads_home(name: str) -> None:
    ways = list(ways_home(aircraft(name)))
    assert [way.place for way in ways if not way.home] == []
    assert len(ways) > 8


def test_time_that_passes_unseen_is_seen_by_the_next_event() -> None:
    table = aircraft("short")
    opened = ev.Opened(0, modes=("crew",), crew=CREW)
    state, monitor, _ = step(table, initial(), Monitor(table), opened)
    later, _, _ = step(table, state, monitor, ev.SayAgain(60_000))
    assert later == State(state, at=60_000)
