"""Fitting parts of a screen into its rows: what must stand first, what may stand if there is room.

Rules: every part has forms from its least to its fullest; the least forms of all parts stand first,
then one part after the other grows by a form, lowest `rank` first and each further form ten ranks
later; when even the least forms are too many, parts leave in the order of `yields` and come back
where the others leave room; a part that never yields is never left out. Rows that nothing needs
stand at the spring.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from runner.terminal.rows import Row, Rows

NEVER = 99
SPRING = "spring"
_LATER = 10


class Part(NamedTuple):
    """`forms`: least first; `rank`: 0 grows first; `yields`: 0 leaves first."""

    name: str
    forms: tuple[Rows, ...]
    rank: int = 50
    yields: int = NEVER


def blank(name: str, rank: int) -> Part:
    """An empty row that stands only if there is room."""
    return Part(name, ((), ((),)), rank)


def spring() -> Part:
    """The place of the rows that nothing needs."""
    return Part(SPRING, ((),))


def least(parts: Sequence[Part], keep: int) -> int:
    """How many rows those parts need at least that leave as late as `keep`, or never."""
    return sum(len(part.forms[0]) for part in parts if part.forms and part.yields >= keep)


def fit(parts: Sequence[Part], height: int) -> tuple[Row, ...]:
    """The rows of the parts, exactly `height` of them; what must stand is cut only at the end."""
    forms: list[int | None] = [0 if part.forms else None for part in parts]

    def rows_of(number: int) -> int:
        form = forms[number]
        return 0 if form is None else len(parts[number].forms[form])

    def total() -> int:
        return sum(rows_of(number) for number in range(len(parts)))

    yielding = [n for n in range(len(parts)) if parts[n].yields < NEVER and forms[n] is not None]
    yielding.sort(key=lambda n: parts[n].yields)
    left: list[int] = []
    for number in yielding:
        if total() <= height:
            break
        if rows_of(number):
            forms[number] = None
            left.append(number)
    for number in reversed(left):
        if total() + len(parts[number].forms[0]) <= height:
            forms[number] = 0
    growing = {n for n, form in enumerate(forms) if form is not None and len(parts[n].forms) > 1}
    while growing:
        number = min(growing, key=lambda n: (parts[n].rank + _LATER * (forms[n] or 0), n))
        form = (forms[number] or 0) + 1
        fits = total() - rows_of(number) + len(parts[number].forms[form]) <= height
        if fits:
            forms[number] = form
        if not fits or form + 1 == len(parts[number].forms):
            growing.remove(number)
    spare = max(0, height - total())
    out: list[Row] = []
    for part, chosen in zip(parts, forms, strict=True):
        if part.name == SPRING:
            out.extend(((),) * spare)
            spare = 0
        elif chosen is not None:
            out.extend(part.forms[chosen])
    out.extend(((),) * spare)
    return tuple(out[:height])
