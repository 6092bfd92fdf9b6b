"""Which states of a slice are alike: clocks and counters erased, values by region.

Rules: two states with one key are explored once, by the shortest way that leads to the first of
them; the key holds everything that decides what happens next, but how long something has run, how
often something was done, who is named where nobody is asked for, and what is kept for reading only
(snags, flags, and of the lists that are over all that nothing asks for again). What the judge
remembers is part of it, so that a run which broke a rule is never taken for one that did not.
A key is a number: keys are equal exactly if everything that they hold is.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from runner.engine.book import Book
from runner.engine.state import NEVER, Latch, State, Visit
from runner.engine.table import Step, Table
from runner.flow.proof.behind import Behind
from runner.flow.proof.lately import Lately, Numbers
from runner.flow.proof.monitor import Monitor
from runner.flow.proof.values import Region, Regions

Key = int
Held = tuple[Any, ...]
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
        self.waited = sorted({n.step for n in table.needs})
        self.judged = [(n, f"reading {n}") for n in sorted({n.reading for n in table.needs})]
        formulas = [s.formula.names for s in table.steps.values() if s.formula is not None]
        bases = {s.drop_from for s in table.steps.values() if s.drop_from}
        self.inputs = sorted(bases.union(*formulas))
        # What keys are made of, by numbers; and what was made of the objects lately seen.
        self.of_equal = Numbers()
        self.of_latches: dict[str, list[dict[Held, int]]] = {
            f.id: [{} for _ in f.steps] for f in table.flows.values()
        }
        self.of_visits: Lately[int] = Lately()
        self.of_values: Lately[int] = Lately()
        self.of_givers: Lately[list[tuple[str, int]]] = Lately()
        self.of_valid: Lately[tuple[str, ...]] = Lately()
        self.of_read: Lately[Region] = Lately()
        self.of_inputs: Lately[bool] = Lately()
        self.of_since: dict[Held, int] = {}
        self.of_paper: dict[Held, Held] = {(): ()}

    def of(self, state: State, monitor: Monitor) -> Key:
        """The key of a state with what its judge remembers."""
        number = {v.number: v.flow for v in state.visits}
        if state.drill is not None:
            number[state.drill.number] = state.drill.flow
        prompt, asked, step, sub = state.question
        pending, choosing, drill = state.pending, state.choosing, state.drill
        at, flight, lengths = state.at, state.flight, self.lengths
        return self.of_equal.of((
            prompt, number.get(asked), step, sub,
            state.unread, state.plan, number.get(state.focus), state.memory,
            tuple([(self._visit(v), v.flight == flight) for v in state.visits]),
            None if drill is None else (self._visit(drill), drill.flight == flight),
            self.behind.of(state),
            self._values(state.values), self._givers(state.givers, number),
            tuple([(n, at - then >= lengths[n]) for n, then in state.moments.items()
                   if n in lengths]) if lengths else (),
            tuple([
                (n, t.ended != NEVER, t.over, t.muted, t.again, t.met)
                for n, t in state.timers.items()
                if n in self.timers
            ]) if self.timers else (),
            self._valid(state.valid),
            None if pending is None else (_said(pending.value), pending.spot[1:]),
            None if choosing is None else (choosing.kind, choosing.options, choosing.spot[1:]),
            state.standby is not None,
            tuple([(look.spot[1:], look.role, look.text) for look in state.looks]),
            state.owed, state.handling, min(flight, _TWICE), self._paper(state.paper),
            bool(state.defects) and any(d.grounding for d in state.defects if d.open),
            state.engine, state.rotor, state.airborne,
            bool(state.marks)
            and any(m.what == "take-off" and m.flight == flight for m in state.marks),
            *self._judge(monitor, state),
        ))  # fmt: skip

    def _visit(self, visit: Visit) -> int:
        known = self.of_visits.get(id(visit))
        if known is not None:
            return known[1]
        of_latches, found = self.of_latches[visit.flow], list[int]()
        for index, latch in enumerate(visit.latches):
            how, value, _, why, back, _ = latch
            of_latch = of_latches[index]
            one = of_latch.get((how, value, why, back))
            if one is None:
                step = self.steps[visit.flow][index]
                kept = (how, self.regions.of_step(step, value), back, _ground(step, latch))
                one = of_latch[how, value, why, back] = self.of_equal.of(kept)
            found.append(one)
        wait = visit.wait
        held = (
            visit.flow, tuple(found),
            None if wait is None else (
                wait.step, wait.began == NEVER, wait.next_ask == NEVER, wait.pending, wait.ending,
                bool(wait.last),
            ),
        )  # fmt: skip
        return self.of_visits.keep(id(visit), visit, self.of_equal.of(held))

    def _values(self, values: Book) -> int:
        known = self.of_values.get(id(values))
        if known is not None:
            return known[1]
        region, used = self.regions.region, self.regions.used
        held = tuple([(n, region(n, v)) for n, v in values.items() if n in used])
        return self.of_values.keep(id(values), values, self.of_equal.of(held))

    def _givers(self, givers: Book, number: Mapping[int, str]) -> Held:
        known = self.of_givers.get(id(givers))
        if known is None:
            used = self.regions.used
            found = [(n, place[0]) for n, place in givers.items() if n in used]
            self.of_givers.keep(id(givers), givers, found)
        else:
            found = known[1]
        return tuple([(n, number.get(visit)) for n, visit in found]) if found else ()

    def _valid(self, valid: Book) -> Held:
        known = self.of_valid.get(id(valid))
        return known[1] if known is not None else self.of_valid.keep(id(valid), valid, (*valid,))

    def _paper(self, ranges: Held) -> Held:
        known = self.of_paper.get(ranges)
        if known is None:
            found = [n for n in self.numbers if any(a <= n <= b for a, b in ranges)]
            known = self.of_paper[ranges] = tuple(found)
        return known

    def _judge(self, monitor: Monitor, state: State) -> Held:
        ok, kept, since = monitor.ok, monitor.kept, monitor.since
        newest, value = monitor.newest, monitor.value
        return (
            tuple([k for k in self.waited if ok.get(k)]),
            tuple([self._read(n, *value[key], state.at) for n, key in self.judged if key in value]),
            tuple([self._same(state.values.get(n), value[n][0]) for n in self.inputs
                   if n in value]),
            self._since(tuple(since)),
            tuple([n for n in self.timers if since.get(f"met {n}", NEVER) >= since.get(n, 0)]),
            tuple([newest.get(n) for n, _ in self.judged]),
            tuple([k for k in self.waited if kept.get(k)]),
            tuple(monitor.looks.items()), self._paper(tuple(monitor.paper)),
            tuple([
                (k, min(len(v), _TWICE)) for k, v in monitor.reads.items() if k in self.waits
            ]) if self.waits else (),
        )  # fmt: skip

    def _read(self, name: str, value: Fraction | None, then: int, now: int) -> Held:
        """What was last read of an instrument: its region, and whether it is too old."""
        known = self.of_read.get((name, id(value)))
        if known is None:
            region = self.regions.region(f"reading {name}", _exact(value))
            self.of_read.keep((name, id(value)), value, region)
        else:
            region = known[1]
        return (name, region, now - then > self.within.get(name, now))

    def _same(self, known: object, judged: Fraction | None) -> bool:
        """Whether the engine and the judge know one value."""
        place = (id(known), id(judged))
        found = self.of_inputs.get(place)
        if found is not None:
            return found[1]
        return self.of_inputs.keep(place, (known, judged), known == judged)

    def _since(self, names: Held) -> int:
        """The moments, steps and by-times of which the judge knows since when."""
        known = self.of_since.get(names)
        if known is None:
            held = tuple(sorted({*names} - self.told))
            known = self.of_since[names] = self.of_equal.of(held)
        return known


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
    for name in ("ok", "kept", "value", "since", "looks", "newest", "reads", "paper", "faults"):
        held[name] = held[name].copy()
    return other
