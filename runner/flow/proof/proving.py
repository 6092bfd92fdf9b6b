"""The whole proof of one aircraft: every goal, alone and beside what may break in, in processes.

Rules: a goal is explored with what may break in once in a run: an interruption, the paper card, and
every drill that can touch it (it voids, restarts, turns or mutes something of the slice, or the
goal's steps name it) - of the drills that cannot, one stands for all; a drill that restarts a list
has a slice of its own, since it brings lists along. Slices of one shape are explored once, and each
by itself where something is wrong. What is told: states and transitions, what was reached,
every fault with its shortest way, what is stuck, dead ends, and what was left out.
"""

from __future__ import annotations

import gc
import os
import signal
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import NamedTuple

from runner.engine import events as ev
from runner.engine.table import EndKind, Table
from runner.flow.loader import load_aircraft
from runner.flow.proof.alphabet import INTERRUPTED, PAPER
from runner.flow.proof.explore import Explored, Explorer
from runner.flow.proof.lifting import lift
from runner.flow.proof.shapes import Shape, Shaper, renaming
from runner.flow.proof.slices import Cutter, Goal, Slice, goals

MOST_STATES = 60_000
MOST_ALIKE = 12
Named = tuple[str, tuple[str, ...]]
"""A slice by its goal and what stands beside it."""


class Job(NamedTuple):
    """A slice to be explored, and those of its shape."""

    folder: str
    piece: Named
    alike: tuple[Named, ...] = ()


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
    """What the slices of one shape came to, small enough to be handed between processes."""

    pieces: tuple[Named, ...]
    states: int
    transitions: int
    whole: bool
    stuck: int
    reached: set[tuple[str, str]] = field(default_factory=set)
    dead_ends: dict[str, int] = field(default_factory=dict)
    left_out: set[str] = field(default_factory=set)
    faults: list[Counterexample] = field(default_factory=list)
    untold: tuple[Named, ...] = ()


@dataclass
class Proof:
    """What all slices of an aircraft came to."""

    slices: int = 0
    shapes: int = 0
    states: int = 0
    transitions: int = 0
    stuck: list[str] = field(default_factory=list)
    unfinished: list[str] = field(default_factory=list)
    reached: set[tuple[str, str]] = field(default_factory=set)
    dead_ends: dict[str, int] = field(default_factory=dict)
    left_out: set[str] = field(default_factory=set)
    broken: set[str] = field(default_factory=set)
    faults: list[Counterexample] = field(default_factory=list)

    def take(self, result: Result) -> None:
        """Adds the slices of one shape."""
        names = [f"{goal} beside {', '.join(beside)}" for goal, beside in result.pieces]
        self.slices += len(names)
        self.shapes += 1
        self.states += result.states
        self.transitions += result.transitions
        self.reached |= result.reached
        self.left_out |= result.left_out
        for step, number in result.dead_ends.items():
            self.dead_ends[step] = max(number, self.dead_ends.get(step, 0))
        self.stuck += names if result.stuck else []
        self.unfinished += [] if result.whole else names
        self.broken.update(goal for goal, _ in (*result.untold,))
        for fault in result.faults:
            self._add(fault)

    def _add(self, fault: Counterexample) -> None:
        """Keeps the shortest way to each fault."""
        self.broken.add(fault.goal)
        for number, known in enumerate(self.faults):
            if known.what == fault.what:
                if (not known.events, len(known.way)) > (not fault.events, len(fault.way)):
                    self.faults[number] = fault
                return
        self.faults.append(fault)

    @property
    def holds(self) -> bool:
        """Whether everything was explored and nothing was found."""
        return not (self.faults or self.broken or self.stuck or self.unfinished)


def besides(table: Table, cutter: Cutter, goal: Goal) -> Iterator[tuple[str, ...]]:
    """What may break into the slice of a goal, by slices: an interruption, paper, and drills."""
    together, apart = [INTERRUPTED, PAPER], list[str]()
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
            restarts = any(end.kind is EndKind.RESTART for end in flow.ends)
            (apart if restarts else together).append(drill)
        other = other or ("" if touches else drill)
    yield (*together, other) if other else tuple(together)
    yield from ((drill,) for drill in apart)


def prove_slice(table: Table, piece: Slice) -> tuple[Explored, list[Counterexample]]:
    """Explores one slice and lifts what is wrong in it to the whole day."""
    collected = gc.isenabled()
    # Nothing that is explored refers back to itself: looking for circles would cost a quarter.
    gc.disable()
    try:
        found = Explorer(piece, MOST_STATES).explore()
    finally:
        if collected:
            gc.enable()
    faults = []
    for fault in found.faults:
        lifted = lift(table, piece, fault.way, fault.beginning)
        events = lifted.events if lifted.followed and fault.what in lifted.faults else ()
        broken_in = _broken_in(piece, fault.way)
        faults.append(Counterexample(piece.goal.name, broken_in, fault.what, fault.way, events))
    return found, faults


def _broken_in(piece: Slice, way: tuple[ev.Event, ...]) -> str:
    """What broke into a way; empty where nothing did."""
    for event in way:
        if isinstance(event, ev.OnPaper):
            return PAPER
        if isinstance(event, (ev.Standby, ev.Recovered)):
            return INTERRUPTED
        if isinstance(event, ev.OpenDrill) and event.drill in piece.beside:
            return event.drill
    return ""


@cache
def _aircraft(folder: str) -> tuple[Table, Cutter, dict[str, Goal]]:
    table = load_aircraft(Path(folder)).table
    return table, Cutter(table), {goal.name: goal for goal in goals(table)}


def work(job: Job) -> Result:
    """Everything that is to be known of the slices of one shape."""
    table, cutter, known = _aircraft(job.folder)
    piece = cutter.cut(known[job.piece[0]], job.piece[1])
    found, faults = prove_slice(table, piece)
    result = Result(
        (job.piece, *job.alike), found.states, found.transitions, found.whole, len(found.stuck),
        set(found.reached), dict(found.dead_ends), set(piece.left_out),
        faults,
    )  # fmt: skip
    shaper = Shaper(piece)
    for number, (goal, beside) in enumerate(job.alike):
        other = cutter.cut(known[goal], beside)
        names = renaming(shaper, Shaper(other))
        result.reached |= {(kind, names.get(item, item)) for kind, item in found.reached}
        result.dead_ends |= {names.get(s, s): n for s, n in found.dead_ends.items()}
        result.left_out |= set(other.left_out)
        if faults and number < MOST_ALIKE:
            result.faults += prove_slice(table, other)[1]
    result.untold = job.alike[MOST_ALIKE:] if faults else ()
    return result


def jobs(folder: str, part: str = "") -> list[Job]:
    """Every slice of an aircraft, by shape; with `part` only of goals whose name holds it."""
    table, cutter, known = _aircraft(folder)
    shapes: dict[Shape, list[Named]] = {}
    for goal in known.values():
        if part in goal.name:
            for beside in besides(table, cutter, goal):
                shape = Shaper(cutter.cut(goal, beside)).shape
                shapes.setdefault(shape, []).append((goal.name, beside))
    return [Job(folder, pieces[0], tuple(pieces[1:])) for pieces in shapes.values()]


def prove(todo: list[Job], processes: int | None = None) -> Iterator[Result]:
    """What each shape came to, as each is done."""
    count = processes or os.cpu_count() or 1
    if count == 1:
        yield from map(work, todo)
        return
    # An interruption is the parent's to answer.
    deaf = (signal.SIGINT, signal.SIG_IGN)
    with ProcessPoolExecutor(count, initializer=signal.signal, initargs=deaf) as pool:
        try:
            for done in as_completed([pool.submit(work, job) for job in todo]):
                yield done.result()
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
