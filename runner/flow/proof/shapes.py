"""The shape of a slice: slices of one shape differ in words only, and are explored once.

Rules: a shape holds everything of a slice that the engine or the judge decides by; every name that
the documents have chosen (of lists, steps, values, instruments, by-times, and what is said) is
replaced by its number in the order of first appearance, so that equal things stay equal; numbers,
times and what the engine itself gives (`engine_running`, `flight` and so on) stand as they are.
Titles, challenges' words, variants, key words and places are read by nobody who decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from runner.engine.conditions import Condition, Formula
from runner.engine.expressions import Node
from runner.engine.limits import Limit
from runner.engine.table import End, Flow, Kind, Step
from runner.flow.proof.slices import Slice

Shape = tuple[Any, ...]
SAID = ("ROGER", "CLOSED")
"""What the words of the documents share with those of the engine."""


class Shaper:
    """The shape of one slice; `names` are the names that it replaced, in order."""

    def __init__(self, piece: Slice) -> None:
        self.piece, self.table = piece, piece.table
        self._numbers: dict[str, int] = {}
        given = {s.gives for s in self.table.steps.values()} - {""}
        self._own = {*self.table.names} - given - {*self.table.counters}
        self.shape = self._shape()

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the documents, by their numbers."""
        return tuple(self._numbers)

    def _of(self, name: str) -> object:
        if not name or name in self._own or name in SAID:
            return name
        return self._numbers.setdefault(name, len(self._numbers))

    def _each(self, names: Iterable[str]) -> Shape:
        return tuple([self._of(name) for name in names])

    def _set(self, names: Iterable[str]) -> Shape:
        """A set of names; ones that nothing has named before count by number alone."""
        known = sorted(str(self._of(n)) for n in names if n in self._numbers or n in self._own)
        return (tuple(known),)

    def _pairs(self, pairs: Iterable[tuple[str, Any]]) -> Shape:
        return tuple([(self._of(name), value) for name, value in pairs])

    def _shape(self) -> Shape:
        table, goal, need = self.table, self.piece.goal, self.piece.goal.need
        flows = tuple([self._flow(flow) for flow in table.flows.values()])
        steps = table.steps.values()
        readings = [s.reading for s in steps]
        readings += [name for s in steps if s.wait for name, _ in s.wait.conditions]
        readings += [need.reading] if need is not None else []
        adds = [n for s in steps for n, _ in s.adds]
        return (
            flows,
            self._set(goal.steps),
            None if need is None else (
                self._of(need.before), self._of(need.reading), _limit(need.limit), need.within,
                self._of(need.step),
            ),
            tuple([self._of(b) if b in table.flows else b for b in self.piece.beside]),
            self._each(table.order), self._each(table.drills),
            tuple([(what, self._of(flow)) for what, flow in table.discontinue.items()]),
            tuple([self._reading(name) for name in dict.fromkeys(filter(None, readings))]),
            tuple([
                (self._of(n), t.length, t.calls, self._of(t.drill) if t.drill in table.flows else 0)
                for n, t in table.timers.items()
            ]),
            self._set(adds), bool(table.reasons), table.settings,
        )  # fmt: skip

    def _reading(self, name: str) -> Shape:
        one = self.table.readings[name]
        return (self._of(name), *(str(part) for part in one[3:]))

    def _flow(self, flow: Flow) -> Shape:
        return (
            self._of(flow.id), flow.drill, self._of(flow.group), flow.flights,
            tuple(sorted(flow.valid_until)), self._condition(flow.when), flow.next_flight,
            flow.any_order, tuple([self._step(step) for step in flow.steps]),
            tuple([self._end(end) for end in flow.ends]), self._set(flow.mutes),
        )  # fmt: skip

    def _end(self, end: End) -> Shape:
        return (
            end.kind, self._of(end.flow), self._condition(end.when), self._set(end.voids),
            bool(end.defect), end.grounding,
        )  # fmt: skip

    def _step(self, step: Step) -> Shape:
        table = self.table
        wait = step.wait
        return (
            self._of(step.id), step.kind, self._of(step.challenge), step.who,
            self._of(step.section), self._of(step.response),
            tuple([
                (
                    self._of(c.text), self._of(c.back_to), self._of(c.drill), self._pairs(c.adds),
                    self._condition(c.when), c.turns,
                )
                for c in step.choices
            ]),
            self._of(step.reading), self._of(step.gives), self._condition(step.when),
            self._condition(step.own_when), _limit(step.limit), step.unmet, self._of(step.branch),
            step.accept, step.critical, step.may_put_off, self._of(step.back_before),
            step.meanwhile, step.memory,
            None if wait is None else (
                wait.length, self._of(wait.since), wait.ask_every,
                tuple([(self._of(n), _limit(limit)) for n, limit in wait.conditions]),
            ),
            self._of(step.timer), self._of(step.within), self._each(step.ends),
            self._condition(step.formula), self._of(step.drop_from), step.turns,
            self._pairs(step.adds), self._each(step.clears), self._each(step.notes), step.mark,
            self._of(step.drill) if step.drill in table.flows else bool(step.drill),
            bool(step.key_words) and step.kind is Kind.CAUTION,
        )  # fmt: skip

    def _condition(self, one: Condition | Formula | None) -> object:
        if one is None:
            return None
        return (getattr(one, "decimals", 0), self._node(one.tree))

    def _node(self, node: Node) -> Shape:
        value: object = node.value
        if isinstance(value, Decimal):
            value = str(value)
        elif isinstance(value, str) and value:
            value = self._of(value)
        return (node.op, value, *(self._node(arg) for arg in node.args))


def _limit(limit: Limit | None) -> object:
    if limit is None:
        return None
    return (str(limit.low), str(limit.high), limit.low_open, limit.high_open)


def renaming(of: Shaper, to: Shaper) -> Mapping[str, str]:
    """The names of one slice by those of another of the same shape."""
    return dict(zip(of.names, to.names, strict=True))
