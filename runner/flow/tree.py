"""The tree of values of a document: every key and value with its line and column.

Rules: nothing is interpreted here; mappings keep the order in which their keys were written, since
the first key of a step says its kind; a path that ends early gives the nearest place around it.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from runner.flow.faults import Place

Core = str | int | float | bool | None


class Scalar(NamedTuple):
    """A single value: `text` is what was written, `value` what it is.

    `lead` counts the columns from the place to the first character of the text (1 for a quote), -1
    where the text does not stand in the document as it is (folded, with escapes).
    """

    place: Place
    value: Core
    text: str
    lead: int = -1


class Sequence(NamedTuple):
    """A list of values."""

    place: Place
    items: tuple[Node, ...]


class Mapping(NamedTuple):
    """Keys, each with the place of the key, and their values, in the order written."""

    place: Place
    keys: dict[str, Place]
    values: dict[str, Node]


Node = Scalar | Sequence | Mapping


def plain(node: Node) -> Any:
    """The tree as dictionaries, lists and values (at most `MOST_LEVELS` deep)."""
    if isinstance(node, Scalar):
        return node.value
    if isinstance(node, Sequence):
        return [plain(item) for item in node.items]
    return {key: plain(value) for key, value in node.values.items()}


def size(node: Node) -> int:
    """How many values a tree has, itself included."""
    count, ahead = 0, [node]
    while ahead:
        one = ahead.pop()
        count += 1
        if isinstance(one, Mapping):
            ahead.extend(one.values.values())
        elif isinstance(one, Sequence):
            ahead.extend(one.items)
    return count


def at(node: Node, *path: str | int) -> Place:
    """The place of the value at a path of keys and positions, as far as the path exists."""
    return _walk(node, path)[0].place


def inside(node: Node, offset: int, *path: str | int) -> Place:
    """The place of a character of the text at a path; of the text if it is not as written."""
    found, whole = _walk(node, path)
    place = found.place
    if not whole or not isinstance(found, Scalar) or found.lead < 0:
        return place
    if not 0 <= offset <= len(found.text):
        return place
    return Place(place.file, place.line, place.column + found.lead + offset)


def key_at(node: Node, *path: str | int) -> Place:
    """The place of the key that ends a path; of the nearest value around it if there is none."""
    around, whole = _walk(node, path[:-1])
    if not path or not whole:
        return around.place
    if isinstance(around, Mapping) and path[-1] in around.keys:
        return around.keys[str(path[-1])]
    return at(around, path[-1])


def _walk(node: Node, path: tuple[str | int, ...]) -> tuple[Node, bool]:
    """The node at a path, and whether the path exists to its end."""
    for step in path:
        if isinstance(node, Mapping) and step in node.values:
            node = node.values[str(step)]
        elif isinstance(node, Sequence) and isinstance(step, int) and step < len(node.items):
            node = node.items[step]
        else:
            return node, False
    return node, True
