"""The documents of one aircraft once their shape is right: models beside their trees.

Rules: nothing is checked here; a model is never without the tree it came from, so that whatever is
found wrong later can be placed.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from runner.flow.faults import Place
from runner.flow.model import AircraftDoc, DrillDoc, ListDoc
from runner.flow.steps import StepDoc
from runner.flow.tree import Mapping, at, inside, key_at


class Item(NamedTuple):
    """One step: its model, its position in its list, its identifier and its place."""

    flow: Procedure
    position: int
    id: str
    doc: StepDoc

    @property
    def path(self) -> tuple[str, int]:
        """Where the step stands in its document."""
        return ("steps", self.position)

    def at(self, *path: str | int) -> Place:
        """The place of a value of this step, or of the step where there is none."""
        return self.flow.at(*self.path, *path)

    @property
    def whole(self) -> str:
        """`list.step`, the identifier that the engine uses."""
        return f"{self.flow.id}.{self.id}"


class Procedure(NamedTuple):
    """A list or drill: its model, tree and file; `items` has its steps with their identifiers."""

    file: str
    doc: ListDoc | DrillDoc
    node: Mapping
    items: list[Item]

    @property
    def id(self) -> str:
        """The name of the list or drill: that of its file, which no other has."""
        return self.file.rpartition("/")[2].removesuffix(".yaml")

    def at(self, *path: str | int) -> Place:
        """The place of the value at a path."""
        return at(self.node, *path)

    def inside(self, offset: int, *path: str | int) -> Place:
        """The place of a character of the text at a path."""
        return inside(self.node, offset, *path)

    def key(self, *path: str | int) -> Place:
        """The place of the key that ends a path."""
        return key_at(self.node, *path)


class Documents(NamedTuple):
    """Everything of one aircraft. `lists` and `drills` are by name, in the order of their files."""

    aircraft: AircraftDoc
    node: Mapping
    lists: dict[str, Procedure]
    drills: dict[str, Procedure]

    def at(self, *path: str | int) -> Place:
        """The place of a value of `aircraft.yaml`."""
        return at(self.node, *path)

    def key(self, *path: str | int) -> Place:
        """The place of a key of `aircraft.yaml`."""
        return key_at(self.node, *path)

    def all(self) -> Iterator[Procedure]:
        """Lists, then drills."""
        yield from self.lists.values()
        yield from self.drills.values()

    def items(self) -> Iterator[Item]:
        """Every step of every list and drill."""
        for flow in self.all():
            yield from flow.items
