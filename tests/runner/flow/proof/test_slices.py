"""Slices say of the whole what the whole says of itself, and runs stay within what was explored."""

from __future__ import annotations

import random
from collections import Counter

import pytest

from runner.engine import events as ev
from runner.engine.state import State, initial
from runner.engine.waking import next_deadline
from runner.flow.proof.alphabet import BREAKS_IN
from runner.flow.proof.explore import CREW, Explorer, step
from runner.flow.proof.homeward import ways_home
from runner.flow.proof.monitor import Monitor
from runner.flow.proof.proving import _aircraft, jobs
from runner.flow.proof.shapes import Shaper
from runner.flow.proof.slices import Cutter, Goal, Slice, goals
from tests.runner.engine.generator import ROOT, aircraft
from tests.runner.flow.proof.planted import explored


def test_slices_of_a_small_flow_reach_what_the_whole_of_it_reaches() -> None:
    table = aircraft("short")
    steps = tuple(s.id for s in table.flows["check"].steps)
    whole = Explorer(Slice(Goal("all", steps), "", table)).explore()
    cutter = Cutter(table)
    pieces = [Explorer(cutter.cut(goal)).explore() for goal in goals(table)]
    assert whole.whole
    assert whole.faults == [] == [fault for piece in pieces for fault in piece.faults]
    assert whole.stuck == [] == [way for piece in pieces for way in piece.stuck]
    assert set().union(*(piece.reached for piece in pieces)) >= whole.reached
    # The product of what five steps can be is what slices spare.
    assert whole.states > max(piece.states for piece in pieces)


WALKED = ("before shutdown.mixture: head_temp BELOW 165 °C",
          "before engage.clutch: oil_pressure 60 TO 100 psi",
          "before shutdown.rotor_brake: rotor_rpm BELOW 70 RPM")  # fmt: skip


@pytest.mark.parametrize("goal", WALKED)
def test_a_run_of_a_slice_stays_within_the_states_explored(goal: str) -> None:
    explorer = explored(aircraft("corvane_c4"), goal)
    table, seen = explorer.table, Counter[int]()
    for seed in range(40):
        dice = random.Random(seed)
        opened = ev.Opened(0, modes=("crew",), crew=CREW, fit=tuple(table.fit))
        state, monitor, _ = step(table, initial(), Monitor(table), opened)
        for _ in range(25):
            moves = list(explorer.alphabet.moves(state, next_deadline(table, state), False))
            event = dice.choice([m for m in moves if not isinstance(m, BREAKS_IN)])
            state, monitor, _ = step(table, state, monitor, event)
            key = (False, *explorer.keys.of(state, monitor))
            if not explorer._matters(state, False):
                break
            assert key in explorer.numbers, event
            seen[explorer.numbers[key]] += 1
    assert len(seen) > 20


def test_slices_of_one_shape_come_to_the_same() -> None:
    folder = str(ROOT / "flows" / "corvane_c4")
    _, cutter, known = _aircraft(folder)
    alike = [job for job in jobs(folder) if len(job.alike) > 2 and not job.piece[1]][:4]
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
