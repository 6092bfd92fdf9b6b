"""Pages that turn: entries into sheets that fit a height, and what a digit means on a sheet.

Rules: an entry stands whole on one sheet where a sheet can hold it, a heading stands with what is
below it, and no row of any entry is left out; a line that a digit answers keeps its number at every
size where the page has nine of them at most, else each sheet numbers from 1; a digit answers only
a line that is on the screen. Pure functions.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from runner.terminal.keystate import Cut, KeyState
from runner.terminal.rows import Row, Rows, Span, Tone, block

DIGITS = 9


class Entry(NamedTuple):
    """One thing on a page: its rows; `pick`: a digit answers it; `must`: how many things in it must
    have been on the screen before the page counts as read; `heads`: a heading, which stands with
    the entry below it; `ends`: what it says is under no heading; `apart`: a blank row stands above
    it where there is room."""

    rows: Rows
    pick: bool = False
    must: int = 0
    heads: bool = False
    ends: bool = False
    apart: bool = False


class Sheet(NamedTuple):
    """The rows of a sheet and, up to its end, the picks and the things that must be read."""

    rows: Rows
    picks: int
    must: int


def told(text: str, width: int, tone: Tone = Tone.TEXT, must: int = 0) -> Entry:
    """A text as an entry, its further rows moved in."""
    return Entry(block(text, width, tone, 2), must=must)


def head(text: str, width: int) -> Entry:
    """A heading within a page."""
    return Entry(block(text, width, Tone.STRONG), heads=True, apart=True)


def pick(text: str, width: int, tone: Tone = Tone.BIG) -> Entry:
    """A line that a digit answers; its number is put before it when it stands on a sheet."""
    return Entry(block(text, max(1, width - 2), tone), pick=True)


def numbers(ends: Sequence[int], sheet: int, digit: int) -> int | None:
    """Which numbered line a digit means on a sheet, or None where it means none there.

    `ends`: how many numbered lines stand up to the end of each sheet.
    """
    if not ends or digit < 1:
        return None
    sheet = min(sheet, len(ends) - 1)
    first = ends[sheet - 1] if sheet else 0
    at = digit - 1 if ends[-1] <= DIGITS else first + digit - 1
    return at if first <= at < ends[sheet] else None


def ends_for(keys: KeyState, total: int) -> tuple[int, ...]:
    """The numbered lines up to the end of each sheet: as they stand, or nine on each."""
    if keys.cut.picks:
        return keys.cut.picks
    return tuple(min(total, end) for end in range(DIGITS, total + DIGITS, DIGITS)) or (0,)


def turned(sheet: int, sheets: int, back: bool = False) -> int:
    """The sheet after this one, or before it; they go round."""
    step = -1 if back else 1
    return (min(sheet, sheets - 1) + step) % max(1, sheets)


def sheets(entries: Iterable[Entry], height: int) -> tuple[Sheet, ...]:
    """The entries in sheets of at most `height` rows and nine numbered lines; never none.

    Blank rows stand only where they make no more sheets.
    """
    every = tuple(entries)
    height = max(1, height)
    many = sum(entry.pick for entry in every)
    groups = _groups(every, height, False)
    aired = _groups(every, height, True)
    if len(aired) == len(groups):
        groups = aired
    out: list[Sheet] = []
    picks = must = 0
    for group in groups:
        rows: list[Row] = []
        first = picks
        for entry in group:
            shown = entry.rows
            if entry.pick:
                picks += 1
                shown = _numbered(entry.rows, picks if many <= DIGITS else picks - first)
            rows.extend(shown)
            must += entry.must
        out.append(Sheet(tuple(rows), picks, must))
    return tuple(out) or (Sheet((), 0, 0),)


def cut(every: Sequence[Sheet]) -> Cut:
    """What a keyboard needs to know of the sheets."""
    return Cut(tuple(one.picks for one in every), tuple(one.must for one in every))


def _numbered(rows: Rows, number: int) -> Rows:
    key = str(number)
    tone = rows[0][0].tone if rows and rows[0] else Tone.BIG
    out: list[Row] = []
    for position, row in enumerate(rows):
        lead = Span(f"{key} ", tone, key) if not position else Span("  ", Tone.TEXT, key)
        out.append((lead, *(span._replace(key=key) for span in row)))
    return tuple(out)


def _groups(entries: Sequence[Entry], height: int, aired: bool) -> list[list[Entry]]:
    """Entries a sheet; what is higher than a sheet is divided, its last piece counts.

    A sheet that goes on below a heading repeats it, where it has room for more than that.
    """
    out: list[list[Entry]] = [[]]
    room, picks = height, 0
    heading: Entry | None = None
    pieces = [piece for entry in entries for piece in _pieces(entry, height)]
    for position, piece in enumerate(pieces):
        gap = 1 if aired and piece.apart and out[-1] else 0
        needed = gap + len(piece.rows) + _below(pieces, position)
        full = gap + len(piece.rows) > room or picks + piece.pick > DIGITS
        if out[-1] and (full or room < needed <= height):
            out.append([])
            room, picks, gap = height, 0, 0
            if heading and not piece.heads and len(heading.rows) + len(piece.rows) < height:
                out[-1].append(heading._replace(must=0))
                room -= len(heading.rows)
        if gap:
            out[-1].append(Entry(((),)))
        out[-1].append(piece)
        room -= gap + len(piece.rows)
        picks += piece.pick
        heading = piece if piece.heads else None if piece.ends else heading
    return out if out[0] else []


def _below(pieces: Sequence[Entry], position: int) -> int:
    """Rows that must stand with a heading: headings that follow at once, and the first line."""
    rows = 0
    while pieces[position].heads and position + 1 < len(pieces):
        position += 1
        rows += len(pieces[position].rows)
    return rows


def _pieces(entry: Entry, height: int) -> list[Entry]:
    rows = entry.rows
    if len(rows) <= height:
        return [entry]
    parts = [rows[start : start + height] for start in range(0, len(rows), height)]
    last = len(parts) - 1
    return [
        Entry(part, entry.pick and not n, entry.must if n == last else 0)
        for n, part in enumerate(parts)
    ]
