"""The whole proof of one aircraft: every goal, alone and beside what may break in, in processes.

Rules: a goal is explored alone; beside an interruption and the paper card; and beside every drill
that can touch it (it voids, restarts, turns or mutes something of the slice, or the goal's steps
name it) - of the drills that cannot, one stands for all. What is told: how many states and
transitions, what was reached, every fault with its shortest way, what is stuck, what was left out.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from runner.engine import events as ev
from runner.engine.table import EndKind, Table
from runner.flow.loader import load_aircraft
from runner.flow.proof.alphabet import INTERRUPTED, PAPER
from runner.flow.proof.explore import Explored, Explorer
from runner.flow.proof.lifting import lift
from runner.flow.proof.slices import Cutter, Goal, Slice, goals

MOST_STATES = 60_000


@dataclass
class Counterexample:
    """A fault, with the run of the whole day that comes to it (empty where none does)."""

    goal: str
    beside: str
    what: str
    way: tuple[ev.Event, ...]
    events: tuple[ev.Event, ...] = ()


@dataclass
class Result:
    """What one slice came to, small enough to be handed from process to process."""

    goal: str
    beside: str
    states: int
    transitions: int
    whole: bool
    reached: set[tuple[str, str]]
    stuck: int
    left_out: tuple[str, ...]
    faults: list[Counterexample]


@dataclass
class Proof:
    """What all slices of an aircraft came to."""

    aircraft: str
    slices: int = 0
    states: int = 0
    transitions: int = 0
    stuck: int = 0
    unfinished: list[str] = field(default_factory=list)
    reached: set[tuple[str, str]] = field(default_factory=set)
    left_out: set[str] = field(default_factory=set)
    goals: dict[str, bool] = field(default_factory=dict)
    faults: list[Counterexample] = field(default_factory=list)

    def take(self, result: Result) -> None:
        """Adds one slice."""
        self.slices += 1
        self.states += result.states
        self.transitions += result.transitions
        self.stuck += result.stuck
        self.reached |= result.reached
        self.left_out |= set(result.left_out)
        name = f"{result.goal} beside {result.beside}" if result.beside else result.goal
        if not result.whole:
            self.unfinished.append(name)
        self.goals[result.goal] = self.goals.get(result.goal, True) and not result.faults
        known = {fault.what for fault in self.faults}
        self.faults += [fault for fault in result.faults if fault.what not in known]


def besides(table: Table, cutter: Cutter, goal: Goal) -> Iterator[str]:
    """What may break into the slice of a goal: nothing, an interruption, paper, and drills."""
    yield from ("", INTERRUPTED, PAPER)
    alone = cutter.cut(goal)
    names = {s.gives for s in alone.table.steps.values()} - {""}
    timers = set(alone.table.timers)
    named = {d for s in goal.steps for d in (table.steps[s].drill, table.steps[s].branch)}
    other = ""
    for drill in table.drills:
        flow = table.flows[drill]
        if any(flow.id == s.split(".", 1)[0] for s in goal.steps):
            continue
        touches = (
            drill in named
            or not names.isdisjoint(v for e in flow.ends for v in e.voids)
            or not timers.isdisjoint(flow.mutes)
            or (goal.need is not None and any(e.kind is EndKind.RESTART for e in flow.ends))
        )
        if touches:
            yield drill
        other = other or ("" if touches else drill)
    if other:
        yield other


def prove_slice(table: Table, piece: Slice) -> Result:
    """Explores one slice and lifts what is wrong in it to the whole day."""
    found: Explored = Explorer(piece, MOST_STATES).explore()
    faults = []
    for fault in found.faults:
        lifted = lift(table, piece, fault.way)
        real = lifted.followed and bool(lifted.faults)
        faults.append(
            Counterexample(
                piece.goal.name, piece.drill, fault.what, fault.way, lifted.events if real else ()
            )
        )
    return Result(
        piece.goal.name, piece.drill, found.states, found.transitions, found.whole, found.reached,
        len(found.stuck), piece.left_out, faults,
    )  # fmt: skip


@cache
def _aircraft(folder: str) -> tuple[Table, Cutter, dict[str, Goal]]:
    table = load_aircraft(Path(folder)).table
    return table, Cutter(table), {goal.name: goal for goal in goals(table)}


def _task(job: tuple[str, str, str]) -> Result:
    folder, name, beside = job
    table, cutter, known = _aircraft(folder)
    return prove_slice(table, cutter.cut(known[name], beside))


def jobs(folder: str) -> list[tuple[str, str, str]]:
    """Every slice of an aircraft: its folder, the goal, and what stands beside it."""
    table, cutter, known = _aircraft(folder)
    return [(folder, g.name, b) for g in known.values() for b in besides(table, cutter, g)]


def prove(folder: Path, processes: int | None = None) -> Iterable[Result]:
    """Every slice of the aircraft in a folder, as each is done."""
    work = jobs(str(folder))
    count = processes or os.cpu_count() or 1
    if count == 1:
        yield from map(_task, work)
        return
    with ProcessPoolExecutor(count) as pool:
        yield from pool.map(_task, work, chunksize=4)
