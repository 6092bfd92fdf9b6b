"""Clicks and touches: from a place on the screen to the key that it stands for.

Rules: a press counts where it is let go inside the place where it began, while the same question
stands and the same words stand there; a drag, a wheel, another button, and the click that brought
the window back do nothing. What it means is a key, so that every guard of the keys holds for it.
Columns and rows count from 0.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from runner.terminal.keystate import GUARD_MS, LONG_AGO
from runner.terminal.rows import Rows, cells

_REPORT = re.compile(r"\x1b\[<(\d{1,4});(\d{1,5});(\d{1,5})([Mm])")
_HELD_WITH = 4 | 8 | 16  # shift, alt and control are held with gloves as well


class Point(NamedTuple):
    """The first button, pressed (`down`) or let go at a place."""

    column: int
    row: int
    down: bool


class Zone(NamedTuple):
    """A place that stands for a key: its row, its words, the column where it begins."""

    row: int
    column: int
    words: str
    key: str


class Pointer(NamedTuple):
    """The press that is not yet let go, the question it was made at, and when the window got the
    keys back."""

    zone: Zone | None = None
    ask: int = -1
    back_at: int = LONG_AGO


def read_point(data: str) -> Point | None:
    """What a terminal reported of its mouse (SGR form); None for what is no press of the first
    button. XTerm Control Sequences, "Extended coordinates"."""
    found = _REPORT.fullmatch(data)
    if found is None or int(found[1]) & ~_HELD_WITH:
        return None
    return Point(int(found[2]) - 1, int(found[3]) - 1, found[4] == "M")


def zone_at(rows: Rows, column: int, row: int) -> Zone | None:
    """The place under a point; neighbours that stand for the same key are one place."""
    if not 0 <= row < len(rows):
        return None
    zones: list[tuple[int, int, str, str]] = []
    at = 0
    for span in rows[row]:
        end = at + cells(span.text)
        if zones and zones[-1][3] == span.key:
            begin, _, words, _ = zones.pop()
            zones.append((begin, end, words + span.text, span.key))
        else:
            zones.append((at, end, span.text, span.key))
        at = end
    for begin, end, words, key in zones:
        if begin <= column < end and key:
            return Zone(row, begin, words, key)
    return None


def point_at(
    pointer: Pointer, point: Point, rows: Rows, ask: int, now: int, away: bool
) -> tuple[Pointer, str]:
    """The pointer after a report, and the key that it means, mostly none."""
    zone = zone_at(rows, point.column, point.row)
    if point.down:
        usable = not away and now - pointer.back_at >= GUARD_MS
        return pointer._replace(zone=zone if usable else None, ask=ask), ""
    same = zone is not None and zone == pointer.zone and ask == pointer.ask
    return pointer._replace(zone=None), zone.key if same and zone is not None else ""
