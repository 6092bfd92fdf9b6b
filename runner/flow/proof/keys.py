"""Which states of a slice are alike: clocks and counters erased, values by region.

Rules: two states with one key are explored once, by the shortest way that leads to the first of
them; the key holds everything that decides what happens next, but how long something has run, how
often something was done, who is named where nobody is asked for, and what is kept for reading only
(snags, flags, and of the lists that are over all that nothing asks for again). What the judge
remembers is part of it, so that a run which broke a rule is never taken for one that did not.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from runner.engine.state import NEVER, Latch, State, Visit
from runner.engine.table import Step, Table
from runner.flow.proof.behind import Behind
from runner.flow.proof.monitor import Monitor
from runner.flow.proof.values import Regions

Key = tuple[Any, ...]
_TWICE = 2


class Keys:
    """The keys of one slice."""

    def __init__(self, table: Table, regions: Regions, home: frozenset[str] = frozenset()) -> None:
        self.table, self.regions = table, regions
        self.lengths = {
            s.wait.since: s.wait.length
            for s in table.steps.values()
            if s.wait is not None and s.wait.since
        }
        self.within = {n.reading: n.within for n in table.needs if n.within is not None}
        self.steps = {f.id: f.steps for f in table.flows.values()}
        self.behind = Behind(table, home, "stopped_minutes" in regions.used)
        # A by-time that no step has to meet is only told.
        self.timers = sorted({s.within for s in table.steps.values()} - {""})
        self.told = {*table.timers} - {*self.timers}
        self.told.update("met " + name for name in ("", *table.timers))
        self.numbers = sorted({s.number for s in table.steps.values()})
        self.waits = {s.id for s in table.steps.values() if s.wait is not None}
        self.waited = {n.step for n in table.needs}
        self.judged = sorted({f"reading {n.reading}" for n in table.needs})
        formulas = [s.formula.names for s in table.steps.values() if s.formula is not None]
        bases = {s.drop_from for s in table.steps.values() if s.drop_from}
        self.inputs = sorted(bases.union(*formulas))

    def of(self, state: State, monitor: Monitor) -> Key:
        """The key of a state with what its judge remembers."""
        number = {v.number: v.flow for v in state.visits}
        if state.drill is not None:
            number[state.drill.number] = state.drill.flow
        question = state.question
        pending, choosing = state.pending, state.choosing
        region, used, lengths = self.regions.region, self.regions.used, self.lengths
        return (
            question.prompt, number.get(question.visit), question.step, question.sub,
            state.unread, state.plan, number.get(state.focus), state.memory,
            tuple([self._visit(v, state) for v in state.visits]),
            None if state.drill is None else self._visit(state.drill, state),
            self.behind.of(state),
            tuple([(n, region(n, v)) for n, v in state.values.items() if n in used]),
            tuple([(n, number.get(p[0])) for n, p in state.givers.items() if n in used]),
            tuple([
                (n, state.at - at >= lengths[n]) for n, at in state.moments.items() if n in lengths
            ]),
            tuple([
                (n, t.ended != NEVER, t.over, t.muted, t.again, t.met)
                for n, t in state.timers.items()
                if n in self.timers
            ]),
            tuple(state.valid),
            None if pending is None else (_said(pending.value), pending.spot[1:]),
            None if choosing is None else (choosing.kind, choosing.options, choosing.spot[1:]),
            state.standby is not None,
            tuple([(look.spot[1:], look.role, look.text) for look in state.looks]),
            state.owed, state.handling, min(state.flight, _TWICE), self._paper(state.paper),
            any(d.grounding for d in state.defects if d.open),
            state.engine, state.rotor, state.airborne,
            any(m.what == "take-off" and m.flight == state.flight for m in state.marks),
            self._judge(monitor, state),
        )  # fmt: skip

    def _visit(self, visit: Visit, state: State) -> Key:
        steps, of_step = self.steps[visit.flow], self.regions.of_step
        wait = visit.wait
        return (
            visit.flow, visit.flight == state.flight,
            tuple([
                (v.how, of_step(s, v.value), v.back, _ground(s, v))
                for s, v in zip(steps, visit.latches, strict=True)
            ]),
            None if wait is None else (
                wait.step, wait.began == NEVER, wait.next_ask == NEVER, wait.pending, wait.ending,
                bool(wait.last),
            ),
        )  # fmt: skip

    def _paper(self, ranges: tuple[tuple[int, int], ...]) -> Key:
        if not ranges:
            return ()
        return tuple([n for n in self.numbers if any(a <= n <= b for a, b in ranges)])

    def _judge(self, monitor: Monitor, state: State) -> Key:
        region, value, within = self.regions.region, monitor.value, self.within
        since = monitor.since
        judged = [(n, *value[n]) for n in self.judged if n in value]
        return (
            tuple([k for k, v in monitor.ok.items() if v and k in self.waited]),
            tuple([
                (n, region(n, _exact(v)), state.at - at > within.get(n[8:], state.at))
                for n, v, at in judged
            ]),
            tuple([state.values.get(n) == value[n][0] for n in self.inputs if n in value]),
            tuple(sorted(since.keys() - self.told)),
            tuple([n for n in self.timers if since.get(f"met {n}", NEVER) >= since.get(n, 0)]),
            tuple([r for r in monitor.newest.items() if f"reading {r[0]}" in self.judged]),
            tuple([k for k, v in monitor.kept.items() if v and k in self.waited]),
            tuple(monitor.looks.items()), self._paper(tuple(monitor.paper)),
            tuple([(k, min(len(v), _TWICE)) for k, v in monitor.reads.items() if k in self.waits]),
        )  # fmt: skip


def _ground(step: Step, latch: Latch) -> str | bool:
    """What of a latch's ground decides anything."""
    if latch.how == "put off":
        return latch.why
    if latch.how == "unmet":
        return latch.why == "not so"
    if latch.how == "open":
        return bool(latch.why)
    return bool(step.drop_from) and latch.why.startswith("drop ")


def _said(pending: str) -> str:
    """What is read back, without the way in which it was said."""
    return pending.rpartition("|")[2]


def _exact(value: Fraction | None) -> Decimal | None:
    return None if value is None else Decimal(value.numerator) / Decimal(value.denominator)


def fork(monitor: Monitor) -> Monitor:
    """A judge that remembers the same, and goes on by itself."""
    other: Monitor = object.__new__(type(monitor))
    held = other.__dict__
    held.update(monitor.__dict__)
    for name in ("ok", "kept", "value", "since", "looks", "newest"):
        held[name] = held[name].copy()
    held["paper"], held["faults"] = [*monitor.paper], [*monitor.faults]
    held["reads"] = {k: [*v] for k, v in monitor.reads.items()}
    return other
