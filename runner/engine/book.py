"""Texts for digests, made once: the small frozen mappings of a state, and a lazy text.

Rules: a text is a function of the values alone, the same under every hash seed, decimal context and
Unicode version; what does not change between two states is the same object in both, and keeps its
text. A replay of a long log lives from that.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, ItemsView, Iterator, Mapping
from decimal import Decimal
from typing import Any

_new = object.__new__


class Once:
    """A text that is made when it is first asked for; `cached_property` without its lock."""

    def __init__(self, make: Callable[[Any], str]) -> None:
        self._make = make
        self.__doc__ = make.__doc__

    def __get__(self, owner: Any, kind: type) -> str:
        text: str = self._make(owner)
        owner.__dict__["text"] = text
        return text


class Book(Mapping[str, Any]):
    """A small frozen mapping that keeps the text of each pair, so that digests stay cheap."""

    __slots__ = ("__dict__", "_held", "_lines")

    def __init__(self, held: Mapping[str, Any] | None = None) -> None:
        self._held: dict[str, Any] = dict(held or {})
        self._lines: list[str] | None = None

    def __getitem__(self, key: str) -> Any:
        return self._held[key]

    def get(self, key: str, default: Any = None) -> Any:
        """The value of a key, or the default."""
        return self._held.get(key, default)

    def __contains__(self, key: object) -> bool:
        return key in self._held

    def __iter__(self) -> Iterator[str]:
        return iter(self._held)

    def __len__(self) -> int:
        return len(self._held)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Book) and self._held == other._held

    __hash__ = None  # type: ignore[assignment]

    def having(self, key: str, value: Any) -> Book:
        """A copy with one key set."""
        book = self._copy()
        held, lines = book._held, book._lines
        if lines is not None:
            head = _head(key)
            place = bisect_left(lines, head)
            line = head + _text(value)
            if key in held:
                lines[place] = line
            else:
                lines.insert(place, line)
        held[key] = value
        return book

    def without(self, key: str) -> Book:
        """A copy without one key."""
        if key not in self._held:
            return self
        book = self._copy()
        del book._held[key]
        if book._lines is not None:
            del book._lines[bisect_left(book._lines, _head(key))]
        return book

    def _copy(self) -> Book:
        book: Book = _new(Book)
        book._held = self._held.copy()
        book._lines = None if self._lines is None else self._lines.copy()
        return book

    def items(self) -> ItemsView[str, Any]:
        """The pairs, in the order in which their keys came."""
        return self._held.items()

    @Once
    def text(self) -> str:
        """All pairs in the order of their keys, unambiguous, independent of hash seeds."""
        if self._lines is None:
            self._lines = sorted([_head(key) + _text(value) for key, value in self._held.items()])
        return ";".join(self._lines)


def _head(key: str) -> str:
    """How the line of a key begins; none begins another, so that heads alone find and order."""
    return f"{key!a}:"


def _text(value: object) -> str:
    """The text of one value; `ascii`, unlike `repr`, is the same under every Unicode version."""
    # A decimal is written out, since its own text asks the context for its capitals.
    return f"{value:f}#" if isinstance(value, Decimal) else ascii(value)
