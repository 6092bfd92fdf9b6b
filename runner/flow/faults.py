"""What is wrong with a document, told so that its author can put it right.

Rules: a fault names its file, line and column (both counted from 1), what is wrong, what was
found, what is allowed, the nearest match and what to do; an empty text means that there is nothing
to say of it. It names the rule that was broken too, which has a manual page in `checks`. Faults are
collected, never raised one by one; `FlowErrors` carries all of one stage.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from runner.engine.units import nearest_of

Stage = Literal["syntax", "shape", "meaning"]

RULE_OF: Final[dict[Stage, str]] = {"syntax": "yaml", "shape": "shape", "meaning": "meaning"}
"""The rule of a stage, where a fault names none of its own."""

MOST_FAULTS: Final = 100
"""Faults kept of one stage; the rest are counted. Nobody reads more, and memory stays bounded."""

_LONGEST_FOUND: Final = 60
_MOST_ALLOWED: Final = 24
_MOST_COMPARED: Final = 600


class Place(NamedTuple):
    """A point in a document: file as the author knows it, line and column from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        """`file:line:column`."""
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One fault of a document. All texts are one line; `nearest` is the spelling to use instead."""

    file: str
    line: int
    column: int
    what: str
    found: str = ""
    allowed: str = ""
    nearest: str = ""
    todo: str = ""
    stage: Stage = "meaning"
    rule: str = ""

    @property
    def text(self) -> str:
        """`path:line:col: what, found …; allowed: …; did you mean …? what to do`."""
        line = f"{self.file}:{self.line}:{self.column}: {self.what}"
        if self.found:
            line += f", found {self.found}"
        if self.allowed:
            line += f"; allowed: {self.allowed}"
        if self.nearest:
            line += f"; did you mean {self.nearest}?"
        if self.todo:
            line += f"; {self.todo}"
        return line

    def __str__(self) -> str:
        """The text form."""
        return self.text


class FlowErrors(Exception):
    """The documents cannot be used: every fault of the first stage that has any.

    `faults` is in the order of files, lines and columns; `omitted` counts those left off.
    """

    def __init__(self, faults: Iterable[Fault], omitted: int = 0) -> None:
        self.faults: tuple[Fault, ...] = tuple(sorted(faults))
        self.omitted = omitted
        super().__init__(self.faults, omitted)

    def __str__(self) -> str:
        """One line a fault."""
        lines = [fault.text for fault in self.faults]
        if self.omitted:
            lines.append(f"and {self.omitted} more faults")
        return "\n".join(lines)


class Faults:
    """Collects the faults of one stage, at most `MOST_FAULTS`."""

    def __init__(self, stage: Stage) -> None:
        self.stage: Stage = stage
        self._kept: list[Fault] = []
        self._seen: set[Fault] = set()
        self._omitted = 0

    def add(
        self,
        place: Place,
        what: str,
        *,
        found: str = "",
        allowed: str | Iterable[str] = "",
        nearest: str = "",
        todo: str = "",
        rule: str = "",
    ) -> None:
        """Note a fault; `allowed` given as words is listed, and where `nearest` is empty and
        `found` a word of its own (in quotes), the nearest of them is offered. Without `rule`, the
        rule broken is the one that the stage has for all of its faults."""
        if len(self._kept) >= MOST_FAULTS:
            self._omitted += 1
            return
        if not isinstance(allowed, str):
            words = list(allowed)
            if not nearest and found:
                nearest = nearest_word(found.strip("'"), words)
            allowed = listed(words)
        fault = Fault(
            place.file,
            place.line,
            place.column,
            what,
            found,
            allowed,
            nearest,
            todo,
            self.stage,
            rule or RULE_OF[self.stage],
        )
        if fault not in self._seen:
            self._seen.add(fault)
            self._kept.append(fault)

    def __bool__(self) -> bool:
        """Whether anything is wrong."""
        return bool(self._kept)

    @property
    def full(self) -> bool:
        """Whether further faults would only be counted."""
        return len(self._kept) >= MOST_FAULTS

    def check(self) -> None:
        """Raise `FlowErrors` with what was collected, if anything was."""
        if self._kept:
            raise FlowErrors(self._kept, self._omitted)


def quoted(value: object) -> str:
    """A value as a fault shows it: in single quotes, cut where it is long, on one line."""
    text = " ".join(str(value).split())
    if len(text) > _LONGEST_FOUND:
        text = text[: _LONGEST_FOUND - 1] + "…"
    return "'" + "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in text) + "'"


def listed(words: Iterable[str]) -> str:
    """Words for "allowed: …": comma separated, the first of a long list and how many more."""
    every = list(words) or ["none, there is not one yet"]
    shown = ", ".join(every[:_MOST_ALLOWED])
    more = len(every) - _MOST_ALLOWED
    return f"{shown} and {more} more" if more > 0 else shown


def nearest_word(word: str, words: Iterable[str]) -> str:
    """The nearest of some words, or empty; long words and very long lists are not compared."""
    known = list(words)
    if not word or len(word) > _LONGEST_FOUND or len(known) > _MOST_COMPARED:
        return ""
    begun = [one for one in known if one.startswith(word + " ")]
    if len(begun) == 1:
        return begun[0]
    found = nearest_of(word, known)
    return "" if found == word else found
