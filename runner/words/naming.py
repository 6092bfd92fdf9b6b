"""Names and quotes in a line of words: which step, list or reading is meant, and what is quoted.

Rules: a name is an id, a title or the label of a reading; the step most recently answered is the
one that a correction means; the nearest name is only ever suggested; a quoted text is taken letter
by letter.
"""

from __future__ import annotations

import json
import re
from collections.abc import Container, Iterator
from typing import NamedTuple

from runner.engine.state import How, Latch, State
from runner.engine.table import Kind, Step, Table
from runner.engine.words import find, nearest, plain

_GAP = re.compile(r"\s+")
_GIVEN = (How.ANSWERED, How.UNMET, How.ACCEPTED)


class WordFault(ValueError):
    """A line that is no event: what was found, what is allowed, the nearest name, what to do."""

    def __init__(self, what: str, allowed: str = "", close: str = "") -> None:
        self.what, self.allowed, self.close = what, allowed, close
        parts = [what]
        if allowed:
            parts.append(f"allowed: {allowed}")
        if close:
            parts.append(f"nearest: {close}")
        super().__init__("; ".join(parts))


class Context(NamedTuple):
    """What a line is read against: documents, state, time, who speaks by what, which question."""

    table: Table
    state: State
    at: int
    source: str = "key"
    ask: int | None = None
    role: str = ""


def unquote(text: str) -> str:
    """A quoted text without its quotes, a plain one as it is."""
    text = text.strip()
    if len(text) >= 2 and text[0] == text[-1] == '"':
        try:
            value = json.loads(text)
        except ValueError:
            return text[1:-1]
        return value if isinstance(value, str) else text[1:-1]
    return text


def quoted(text: str) -> bool:
    """Whether a text stands in quotes, and is therefore taken letter by letter."""
    text = text.strip()
    return len(text) >= 2 and text[0] == text[-1] == '"'


def line_number(text: str, last: int) -> int:
    """The number of a line of a page, from 1; 0 for what is none of its numbers."""
    number = int(text) if text.isascii() and text.isdigit() and len(text) < 6 else 0
    return number if number <= last else 0


def splits(rest: str) -> Iterator[tuple[str, str]]:
    """Every way to take a line as a name and what follows it, the longest name first."""
    for match in reversed(list(_GAP.finditer(rest))):
        yield rest[: match.start()], rest[match.end() :]


def correctable(context: Context, name: str) -> str | None:
    """The id of the step most recently answered under this name: challenge, reading label or id."""
    table = context.table
    if name.lower() in table.steps:
        return name.lower()
    wanted = plain(name)
    found: tuple[int, str] | None = None
    for step, latch in _given(context):
        if wanted in map(plain, titles(table, step)):
            found = max(found or (0, ""), (latch.entry, step.id))
    return found[1] if found is not None else None


def answered(context: Context) -> list[str]:
    """The challenges of everything that could be corrected, for the nearest match."""
    given = (step for step, _ in _given(context))
    return [step.challenge for step in given if step.kind is not Kind.COMPUTED]


def _given(context: Context) -> Iterator[tuple[Step, Latch]]:
    """Every step answered so far, in lists that are open and in those that are over."""
    state, table = context.state, context.table
    for visit in (state.drill, *state.visits, *state.archive):
        if visit is not None:
            for step, latch in zip(table.flows[visit.flow].steps, visit.latches, strict=True):
                if latch.how in _GIVEN:
                    yield step, latch


def titles(table: Table, step: Step) -> list[str]:
    """The names by which a step is called."""
    names = [step.challenge, step.id, step.id.split(".", 1)[1]]
    if step.reading:
        names.append(table.readings[step.reading].label)
    return names


def named_id(
    rest: str, named: list[tuple[str, str]], what: str, suggested: Container[str] | None = None
) -> str:
    """The id of what is named; raises WordFault with the nearest title (of the ids `suggested`)."""
    said = unquote(rest)
    if said in dict(named):
        return said
    found = find(said, named)
    if found is None:
        # Of a title and an id that read alike the title is shown: it stands first.
        shown = [t for key, t in reversed(named) if suggested is None or key in suggested]
        title = nearest(rest, shown)
        raise WordFault(f"no {what} is called {rest[:60]!r}", "", title)
    return found


def station_item(context: Context, name: str) -> tuple[Step, str]:
    """The tick of this challenge, id or card number in the open stations, and what it is called
    so that no other is meant. Only items of the station at hand are suggested."""
    table, state = context.table, context.state
    ticks = [s for v in state.visits for s in table.flows[v.flow].steps if s.kind is Kind.TICK]
    number = line_number(name, 99999)
    step = next((s for s in ticks if number and s.number == number), None)
    if step is None:
        named = [(s.id, title) for s in ticks for title in titles(table, s)]
        here = {s.id for v in state.visits if v.number == state.focus
                for s in table.flows[v.flow].steps}  # fmt: skip
        step = table.steps[named_id(name, named, "open station item", here)]
    lone = sum(plain(s.challenge) == plain(step.challenge) for s in ticks) == 1
    return step, (step.challenge if lone else step.id).upper()
