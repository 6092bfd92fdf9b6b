"""What the rules look at: the documents of one aircraft as written and as compiled, side by side.

Rules: nothing is decided here. A step is seen with its model (what the author wrote, and where) and
with its compiled form (what the engine does with it); the lists come in the order of the day.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import NamedTuple

from runner.engine.table import Flow, Step, Table
from runner.flow.documents import Documents, Item, Procedure
from runner.flow.loader import Loaded
from runner.flow.names import BUILT_IN
from runner.flow.steps import ReadingDoc, RemarkDoc


class Pair(NamedTuple):
    """A step: as it was written, and as it was compiled."""

    item: Item
    step: Step

    @property
    def words(self) -> str:
        """What is called."""
        return self.step.challenge


class Bounds(NamedTuple):
    """Where the number of a name lies; None: no end on that side."""

    low: Decimal | None
    high: Decimal | None


class Subject:
    """The documents of one aircraft, for the rules."""

    def __init__(self, loaded: Loaded) -> None:
        self.table: Table = loaded.table
        self.parts: Documents = loaded.parts
        self.givers: dict[str, list[Item]] = loaded.scope.givers
        order = [*self.table.order, *self.table.drills]
        every = {one.id: one for one in loaded.parts.all()}
        self.procedures: tuple[Procedure, ...] = tuple(every[name] for name in order)

    def flow(self, procedure: Procedure) -> Flow:
        """The compiled form of a list or drill."""
        return self.table.flows[procedure.id]

    def pairs(self, procedure: Procedure) -> list[Pair]:
        """The steps of a list or drill."""
        steps = self.flow(procedure).steps
        return [Pair(*both) for both in zip(procedure.items, steps, strict=True)]

    def all_pairs(self) -> Iterator[Pair]:
        """Every step, lists first, in their order."""
        for procedure in self.procedures:
            yield from self.pairs(procedure)

    def sections(self, procedure: Procedure) -> list[list[Pair]]:
        """The steps of a list by their headings, which remarks may have as well; no remarks."""
        found: list[list[Pair]] = [[]]
        for pair in self.pairs(procedure):
            if pair.item.doc.section:
                found.append([])
            if not isinstance(pair.item.doc, RemarkDoc):
                found[-1].append(pair)
        return [section for section in found if section]

    def asked(self, procedure: Procedure) -> list[Pair]:
        """All steps of a list but its remarks, which nobody answers."""
        return [pair for section in self.sections(procedure) for pair in section]

    def bounds(self, name: str) -> Bounds:
        """Where a number lies by its kind: plausible range of its reading, counts from 0."""
        table = self.table
        readings = [name] if name in table.readings else []
        for item in self.givers.get(name, ()):
            if isinstance(item.doc, ReadingDoc):
                readings.append(item.doc.reading)
        for reading in readings:
            if reading in table.readings:
                return Bounds(table.readings[reading].low, table.readings[reading].high)
        if name == "flight":
            return Bounds(Decimal(1), None)
        if name in table.counters or name in BUILT_IN:
            return Bounds(Decimal(0), None)
        return Bounds(None, None)
