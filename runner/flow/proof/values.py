"""Values by region: all numbers between two neighbouring bounds of a slice count as one.

Rules: a bound is a number that something in the slice compares a name with: a limit, a need, a
literal of a condition, or the value of an input at which a computed value crosses one of its own
bounds (found by going over the plausible range, the other inputs at rest); the regions are what
lies below, at and above each bound; one value stands for each region that the instrument can show.
Texts and truths are regions of their own.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from decimal import ROUND_HALF_EVEN, Decimal
from itertools import pairwise

from runner.engine.conditions import Condition
from runner.engine.limits import Limit
from runner.engine.state import Scalar
from runner.engine.table import Kind, Step, Table

SAMPLES = 48
Region = int | str | bool | None


def bounds_of(limit: Limit | None) -> set[Decimal]:
    """The numbers of a limit."""
    return {b for b in (limit.low, limit.high) if b is not None} if limit is not None else set()


class Regions:
    """The regions of every number in one slice."""

    def __init__(self, table: Table, drills: frozenset[str] = frozenset()) -> None:
        self.table = table
        self.flows = [f for f in table.flows.values() if not f.drill or f.id in drills]
        self.steps = [s for f in self.flows for s in f.steps]
        found: dict[str, set[Decimal]] = {}
        self._compared(found)
        self.crossed: dict[str, list[Decimal]] = {}
        self._inputs(found)
        self.bounds = {name: sorted(values) for name, values in found.items()}
        self.limits = self._limits()
        self.known: dict[tuple[str, Decimal], Region] = {}
        self.used = self._used()

    # bounds ---------------------------------------------------------------------------------

    def _compared(self, found: dict[str, set[Decimal]]) -> None:
        table = self.table
        for step in self.steps:
            own = step.gives or f"own {step.id}"
            found.setdefault(own, set()).update(bounds_of(step.limit))
            for name, limit in step.wait.conditions if step.wait is not None else ():
                found.setdefault(f"reading {name}", set()).update(bounds_of(limit))
        for need in table.needs:
            found.setdefault(f"reading {need.reading}", set()).update(bounds_of(need.limit))
        for condition in self._conditions():
            numbers = {n.value for n in condition.tree.walk() if isinstance(n.value, Decimal)}
            for name in condition.names:
                found.setdefault(name, set()).update(n for n in numbers if isinstance(n, Decimal))

    def _conditions(self) -> Iterator[Condition]:
        for flow in self.flows:
            yield from (c for c in (flow.when, *(e.when for e in flow.ends)) if c is not None)
            yield from (s.when for s in flow.steps if s.when is not None)
            yield from (c.when for s in flow.steps for c in s.choices if c.when is not None)

    def _inputs(self, found: dict[str, set[Decimal]]) -> None:
        """Adds, for each input of a computed value, where that value crosses its bounds."""
        by_name = {s.gives: s for s in self.steps if s.reading and s.gives}
        for step in self.steps:
            if step.kind is not Kind.COMPUTED or step.formula is None:
                continue
            rest = {
                n: self._at_rest(by_name[n], by_name) for n in step.formula.names & by_name.keys()
            }
            for name in rest:
                crossed = self._crossings(step, by_name[name], rest, found.get(step.gives, set()))
                known = self.crossed.setdefault(name, [])
                known[:] = sorted({*known, *crossed})

    def _at_rest(self, step: Step, by_name: dict[str, Step]) -> Decimal:
        base = by_name.get(step.drop_from)
        if step.limit is None and base is not None:
            return self._at_rest(base, by_name)
        reading = self.table.readings[step.reading]
        low = (
            step.limit.low if step.limit is not None and step.limit.low is not None else reading.low
        )
        high = (
            step.limit.high
            if step.limit is not None and step.limit.high is not None
            else reading.high
        )
        return _round((low + high) / 2, reading.decimals)

    def _crossings(
        self, step: Step, giver: Step, rest: dict[str, Decimal], bounds: set[Decimal]
    ) -> set[Decimal]:
        reading = self.table.readings[giver.reading]
        unit = Decimal(1).scaleb(-reading.decimals)

        def value(x: Decimal) -> Decimal | None:
            return step.formula.value({**rest, giver.gives: x}) if step.formula else None

        count = min(SAMPLES, int((reading.high - reading.low) / unit))
        grid = [_round(reading.low + (reading.high - reading.low) * i / count, reading.decimals)
                for i in range(count + 1)] if count else []  # fmt: skip
        found: set[Decimal] = set()
        for bound in bounds:
            for left, right in pairwise(grid):
                a, b = value(left), value(right)
                if a is None or b is None or (a < bound) == (b < bound):
                    continue
                low, high = left, right
                while high - low > unit:
                    middle = _round((low + high) / 2, reading.decimals)
                    at = value(middle)
                    if at is not None and (at < bound) == (a < bound):
                        low = middle
                    else:
                        high = middle
                found.add(high)
        return found

    def _used(self) -> frozenset[str]:
        names: set[str] = set()
        for condition in self._conditions():
            names |= condition.names
        for step in self.steps:
            names |= step.formula.names if step.formula is not None else set()
            names.add(step.drop_from)
        return frozenset(names - {""})

    def _limits(self) -> dict[str, list[Limit]]:
        """The limits that each name is held to, where nothing but limits compares it."""
        found: dict[str, list[Limit]] = {}
        for step in self.steps:
            conditions = step.wait.conditions if step.wait is not None else ()
            held = [(step.gives or f"own {step.id}", step.limit)]
            for name, limit in [*held, *((f"reading {n}", one) for n, one in conditions)]:
                if limit is not None:
                    found.setdefault(name, []).append(limit)
        for need in self.table.needs:
            if need.limit is not None:
                found.setdefault(f"reading {need.reading}", []).append(need.limit)
        compared = {n for c in self._conditions() for n in c.names}
        compared.update(n for s in self.steps if s.formula for n in s.formula.names)
        return {name: limits for name, limits in found.items() if name not in compared}

    # use ------------------------------------------------------------------------------------

    def region(self, name: str, value: Scalar | None) -> Region:
        """The region of a value under this name."""
        if not isinstance(value, Decimal):
            return value
        known = self.known.get((name, value))
        if known is None:
            known = self.known[name, value] = self._region(name, value)
        return known

    def _region(self, name: str, value: Decimal) -> Region:
        limits = self.limits.get(name)
        if limits is not None:
            return sum(limit.meets(value) << i for i, limit in enumerate(limits))
        crossed = bisect_right(self.crossed.get(name, ()), value)
        bounds = self.bounds.get(name)
        if not bounds:
            return crossed
        place = bisect_left(bounds, value)
        side = 2 * place + (place < len(bounds) and bounds[place] == value)
        return side if not crossed else f"{side} {crossed}"

    def of_step(self, step: Step, text: str) -> Region:
        """The region of what stands at a step."""
        if not text:
            return ""
        if step.limit is None and step.gives not in self.used:
            return ""
        name = step.gives or f"own {step.id}"
        if step.kind in (Kind.READING, Kind.COMPUTED):
            try:
                return self.region(name, Decimal(text))
            except ArithmeticError:
                return text
        return text

    def values(self, reading_name: str, names: Iterable[str]) -> list[Decimal]:
        """One value for each region of an instrument, by all the bounds under these names."""
        reading = self.table.readings[reading_name]
        unit = Decimal(1).scaleb(-reading.decimals)
        names = [n for n in names if n]
        found: dict[tuple[Region, ...], Decimal] = {}
        for value in self._near(reading.low, reading.high, unit, names):
            region = tuple(self.region(name, value) for name in names)
            found.setdefault(region, _round(value, reading.decimals))
        return sorted(found.values())

    def _near(self, low: Decimal, high: Decimal, unit: Decimal, names: list[str]) -> list[Decimal]:
        """The bounds first, then what lies just beside them, then the middle of the range."""
        bounds = sorted(
            {b for n in names for b in (*self.bounds.get(n, ()), *self.crossed.get(n, ()))}
        )
        beside = [b + d for b in bounds for d in (-unit, unit)]
        return [v for v in (*bounds, *beside, (low + high) / 2) if low <= v <= high]


def _round(value: Decimal, decimals: int) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_EVEN)
