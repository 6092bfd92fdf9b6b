"""The card as text of 80 columns, for a printer of lines and for a screen reader.

Rules: every line says what it is in words, nothing by place or by a drawn line; a step is its
number, its challenge and what answers it, then who answers and what else there is to know; no line
is longer than 80 columns, and nothing is cut off.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Final

from runner.engine.table import Kind
from runner.flow.card.shapes import CAUTION, GOING_BY, Card, End, Line, Part, Reply

COLUMNS: Final = 80
_INDENT: Final = " " * 6


def as_text(card: Card) -> str:
    """The card."""
    return "\n".join(one.rstrip() for one in _card(card)) + "\n"


def _card(card: Card) -> Iterator[str]:
    of, field, code = card.running
    yield from _wrapped(f"{card.operator}: {of}")
    yield code
    yield f"{field}: to be written in"
    yield ""
    yield from _wrapped(CAUTION)
    yield from _wrapped(
        f"{GOING_BY}Where a step says who may accept it, they may go on past it; else nobody."
    )
    for what, to in card.ways:
        yield from _wrapped(f"Discontinued, {what}: {to}")
    if len(card.parts) > 1:
        yield ""
        yield "Contents"
        for part in card.parts:
            yield from _wrapped(f"{_kind(part)} {part.title}: {part.span}", "  ")
    for part in card.parts:
        yield ""
        yield from _part(part)


def _kind(part: Part) -> str:
    return "Drill" if part.drill else "List"


def _part(part: Part) -> Iterator[str]:
    yield from _wrapped(f"{_kind(part)} {part.title}, {part.span}, document {part.code}")
    for said in part.head:
        yield from _wrapped(f"{said}.", "  ")
    for section in part.sections:
        yield ""
        if section.heading:
            yield from _wrapped(f"Section {section.heading}")
        when = ""
        for box in section.boxes:
            for chunk in box.chunks:
                for line in chunk.lines:
                    if line.when != when:
                        yield from _condition(line.when)
                        when = line.when
                    yield from _line(line)
    if part.ends:
        yield ""
        yield from _wrapped(f"Ends of drill {part.title}")
        for end in part.ends:
            yield from _end(end)


def _condition(when: str) -> Iterator[str]:
    yield from _wrapped(f"If {when}:" if when else "In every case:", "  ")


def _line(line: Line) -> Iterator[str]:
    marks = [
        name for name, has in (("Memory item", line.memory), ("CAUTION", line.kind is Kind.CAUTION),
                               ("Remark", line.kind is Kind.REMARK)) if has
    ]  # fmt: skip
    said = ", ".join(marks) + ": " if marks else ""
    first, *more = [_reply(reply) for reply in line.replies] or [""]
    if line.kind is Kind.CHOICE:
        first, more = f"one of {1 + len(more)}", [first, *more]
    yield from _wrapped(
        f"{said}{line.words}" + (f": {first}" if first else ""), f"{line.number:>4}  ", _INDENT
    )
    for one in more:
        yield from _wrapped(one, _INDENT + "  ", _INDENT + "    ")
    notes = [] if not line.who else ["both answer" if line.who == "both" else f"{line.who} answers"]
    if line.accept:
        notes.append(_accepted(line.accept))
    for note in (*notes, *line.notes):
        yield from _wrapped(f"{note}.", _INDENT)


def _accepted(accept: str) -> str:
    return "commander may accept" if accept == "commander" else f"accepted: {accept}"


def _reply(reply: Reply) -> str:
    if not reply.blank:
        return reply.text + (f" ({reply.aside})" if reply.aside else "")
    return f"write down {reply.text}" if reply.text else "write down the value"


def _end(end: End) -> Iterator[str]:
    condition = f", if {end.when}" if end.when else ""
    yield from _wrapped(f"{end.label}{condition}: {end.leads[0]}", "  ", "    ")
    for more in end.leads[1:]:
        yield from _wrapped(f"{more}.", "    ")


def _wrapped(words: str, head: str = "", after: str | None = None) -> list[str]:
    hang = after if after is not None else " " * len(head)
    return textwrap.wrap(
        words, COLUMNS, initial_indent=head, subsequent_indent=hang, break_on_hyphens=False
    )
