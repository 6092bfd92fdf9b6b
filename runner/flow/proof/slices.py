"""A slice: the documents of one aircraft, cut down to what one goal hangs on.

Rules: the engine runs a slice as it runs the whole, since a slice is a `Table` like any other; a
list of a slice keeps the goal's steps, their feeders, one step of the plainest kind, and its end;
a drill keeps what decides its ends; a condition keeps its meaning, and what a slice has no step
for, but the whole has, is named in `left_out`. Two slices of the same `shape` are explored once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import NamedTuple

from runner.engine.table import EndKind, Flow, Kind, Need, Step, Table
from runner.flow.proof.feeders import Feeders


class Goal(NamedTuple):
    """What is to be shown: of a step, that its rule holds and that its list's end wants it; or a
    need of the documents."""

    name: str
    steps: tuple[str, ...]
    need: Need | None = None


class Slice(NamedTuple):
    """A goal, what may break in from beside it, and the table that is left of the documents."""

    goal: Goal
    beside: tuple[str, ...]
    table: Table
    left_out: tuple[str, ...] = ()


def goals(table: Table) -> Iterator[Goal]:
    """Every need of the documents, and every step of every list and drill but its end."""
    for need in table.needs:
        wanted = [need.before, need.step] if need.step else [need.before]
        if need.reading:
            wanted += [s.id for s in _readers(table, need)]
        yield Goal(f"before {need.before}: {need.what}", tuple(wanted), need)
    for flow in table.flows.values():
        for step in flow.steps:
            if step.kind not in (Kind.CLOSING, Kind.REMARK):
                yield Goal(step.id, (step.id,))


def _readers(table: Table, need: Need) -> Iterator[Step]:
    """The steps of the same list that read what a need is about; of the lists before, where the
    list itself has none."""
    own = table.flows[need.before.split(".", 1)[0]]
    found = [s for s in own.steps if s.reading == need.reading]
    if not found:
        before = table.order[: table.order.index(own.id)] if own.id in table.order else table.order
        flows = [table.flows[f] for f in before]
        found = [s for flow in flows for s in flow.steps if s.reading == need.reading]
    yield from found


class Cutter:
    """Cuts slices out of one aircraft's documents."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self.feeders = Feeders(table)

    def cut(self, goal: Goal, beside: tuple[str, ...] = ()) -> Slice:
        """The slice of a goal, with the drills of these beside it."""
        kept = self.feeders.closure(goal.steps)
        home = {self.feeders.flow_of[s].id for s in goal.steps}
        lists = {self.feeders.flow_of[s].id for s in kept}
        drills = {f for f in lists if self.table.flows[f].drill}
        drills |= self.table.flows.keys() & {*beside}
        drills |= self._named_drills(kept)
        flows: dict[str, Flow] = {}
        for flow_id in drills:
            flow = self.table.flows[flow_id]
            own = flow_id in home
            flows[flow_id] = _only(flow, self._of_drill(flow, own) | (kept if own else set()))
        goals_of_ends = {
            end.flow for flow in flows.values() for end in flow.ends if end.kind is EndKind.RESTART
        }
        for flow_id in (lists - drills) | goals_of_ends | set(self.table.discontinue.values()):
            flow = self.table.flows[flow_id]
            flows[flow_id] = _only(
                flow, kept | (_plainest(flow, kept) if flow_id in home else set())
            )
        ordered = {f: flows[f] for f in self.table.flows if f in flows}
        behind = lists | goals_of_ends
        return Slice(goal, beside, self._table(goal, ordered, behind), self._left_out(kept))

    def _named_drills(self, kept: set[str]) -> set[str]:
        found: set[str] = set()
        for step_id in kept:
            step = self.table.steps[step_id]
            found.update(filter(None, (step.drill, step.branch, *(c.drill for c in step.choices))))
        return found

    def _of_drill(self, flow: Flow, own: bool) -> set[str]:
        """What decides a drill's ends, what it turns, and the first of its memory items; of the
        goal's `own` what decides its ends, for what it turns matters to the lists only."""
        names = {n for end in flow.ends if end.when is not None for n in end.when.names}
        deciding = [s.id for s in flow.steps if s.gives in names or (s.turns and not own)]
        kept = {s for s in self.feeders.closure(deciding) if self.feeders.flow_of[s] is flow}
        if own:
            return kept
        return kept | {s.id for s in [s for s in flow.steps if s.memory][:1]}

    def _table(self, goal: Goal, flows: dict[str, Flow], behind: set[str]) -> Table:
        steps, dependents = Table.index(flows)
        timers = {s.timer for s in steps.values()} | {s.within for s in steps.values()}
        return replace(
            self.table,
            flows=flows,
            order=tuple(f for f in self.table.order if f in behind),
            drills=tuple(f for f in self.table.drills if f in flows),
            timers={k: v for k, v in self.table.timers.items() if k in timers},
            needs=(goal.need,) if goal.need is not None else (),
            copied=(),
            steps=steps,
            dependents=dependents,
        )

    def _left_out(self, kept: set[str]) -> tuple[str, ...]:
        """What the slice does not have: turning points of other lists, and their counters."""
        found: set[str] = set()
        for step_id in kept:
            for name in self.feeders.read_by(self.table.steps[step_id]):
                if name in self.table.counters:
                    found.add(f"counter {name} is what this slice's own steps add to it")
                elif name in ("engine_running", "rotor_turning"):
                    found.add(f"{name} is what this slice's own steps turn")
        return tuple(sorted(found))


def _only(flow: Flow, kept: Iterable[str]) -> Flow:
    """The list with these steps and its end, each under the heading that it stands under."""
    wanted = set(kept)
    found: list[Step] = []
    headings: list[str] = []
    heading = ""
    for step in flow.steps:
        heading = step.section or heading
        if step.id in wanted or step.kind is Kind.CLOSING:
            found.append(step)
            headings.append(heading)
    if len(set(headings[:-1])) <= 1:
        # One section is the whole list, however it is called.
        headings = [""] * len(found)
    steps = [
        step if step.section == name else replace(step, section=name)
        for step, name in zip(found, headings, strict=True)
    ]
    return replace(flow, steps=tuple(steps))


def _plainest(flow: Flow, kept: set[str]) -> set[str]:
    """One step that is nothing but a challenge: what may stand between, put off, done on paper."""
    for step in flow.steps:
        bound = (
            step.limit, step.when, step.timer, step.within, step.mark, step.turns, step.notes,
            step.adds, step.clears, step.ends, step.critical, step.drill, step.accept,
        )  # fmt: skip
        if step.kind in (Kind.CHALLENGE, Kind.TICK) and step.id not in kept and not any(bound):
            return {step.id}
    return set()
