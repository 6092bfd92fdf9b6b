"""A diagram in a terminal of 80 columns: the spine at the left, what leaves it at its right.

Rules: every line is at most 80 cells; nothing is cut, long texts go on below; no sign is needed
that a terminal may lack beyond plain letters and bars.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Final

from runner.flow.drawing.counts import Counts
from runner.flow.drawing.diagram import Diagram, Row

COLUMNS: Final = 80
_BARS: Final = ("  :  ", "  |  ", "  |  ", "  #  ")


def draw(diagram: Diagram, counts: Counts | None = None) -> str:
    """The diagram as lines."""
    return "\n".join([*_lines(diagram, counts), ""])


def _lines(diagram: Diagram, counts: Counts | None) -> Iterator[str]:
    yield from _wrapped(diagram.title.upper(), "")
    yield from _wrapped(diagram.subtitle, "")
    if counts is not None:
        yield from _wrapped(f"Laid over it: {counts.said}; # passed in every run, | in some, "
                            ": in none", "")  # fmt: skip
    condition = ""
    for row in diagram.rows:
        bar = _BARS[1 if counts is None else counts.weight(f"{diagram.id}.{row.id}")]
        if row.when != condition:
            yield f"     {bar}"
            if condition:
                yield f"     {bar}<-- else"
            if row.when:
                yield from _wrapped(f"only if {row.when}", f"     {bar}--- ", f"     {bar}    ")
            condition = row.when
        elif row.section:
            yield f"     {bar}"
        if row.section:
            yield from _wrapped(row.section.upper(), f"     {bar}== ", f"     {bar}   ")
        yield from _row(diagram, row, bar, counts)
    for n, end in enumerate(diagram.ends):
        head = "       v  " if n == 0 else "          "
        yield from _wrapped(f"{end.when} --> {end.target}", head, " " * 12)


def _row(diagram: Diagram, row: Row, bar: str, counts: Counts | None) -> Iterator[str]:
    step = "     " + bar + ("  : " if row.when else "  ")
    mark = f"{row.mark}: " if row.mark else ""
    dots = f" ... {row.answer}" if row.answer else ""
    head = f"{row.number:>7}  " + ("   : " if row.when else "   ")
    yield from _wrapped(f"{mark}{row.words}{dots}", head, step + "    ")
    notes = "; ".join(row.notes)
    if notes:
        yield from _wrapped(notes, step + "  ", step + "  ")
    for side in row.sides:
        yield from _wrapped(f"{side.when} --> {side.target}", step + "  |__ ", step + "      ")
    if counts is not None:
        yield from _wrapped(f"[{counts.text(f'{diagram.id}.{row.id}')}]", step + "  ", step + "  ")


def _wrapped(words: str, head: str, after: str = "") -> list[str]:
    return textwrap.wrap(
        words, COLUMNS, initial_indent=head, subsequent_indent=after, break_on_hyphens=False
    )  # fmt: skip
