"""Pages that turn: entries into sheets that fit a height, and what a digit means on a sheet.

Rules: an entry stands whole on one sheet where a sheet can hold it, a heading stands with what is
below it, and no row of any entry is left out; a line that a digit answers has its number from its
place on the page alone, at every size and whatever else wants room: nine at most are numbered
through, more of them in rounds of one length, and no sheet shows lines of two rounds; a digit
answers only a line that is on the screen. Pure functions.
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
    it where there is room; `counted`: its rows are none that sheets add of their own."""

    rows: Rows
    pick: bool = False
    must: int = 0
    heads: bool = False
    ends: bool = False
    apart: bool = False
    counted: bool = True


class Sheet(NamedTuple):
    """The rows of a sheet; up to its end, the picks and the things that must be read; and how many
    rows of entries stand on the sheets before it."""

    rows: Rows
    picks: int
    must: int
    start: int = 0


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
    length = round_length(ends[-1])
    at = first - first % length + digit - 1
    return at if digit <= length and first <= at < ends[sheet] else None


def round_length(many: int) -> int:
    """How many of so many lines are numbered before the numbers begin again: a digit's worth at
    most, and as even as may be, so that the last round is no stray line."""
    rounds = max(1, -(-many // DIGITS))
    return -(-many // rounds) if rounds > 1 else DIGITS


def ends_for(keys: KeyState, total: int) -> tuple[int, ...]:
    """The numbered lines up to the end of each sheet: as they stand, or nine on each."""
    if keys.cut.picks:
        return keys.cut.picks
    length = round_length(total)
    return tuple(min(total, end) for end in range(length, total + length, length)) or (0,)


def sheet_at(starts: Sequence[int], offset: int) -> int:
    """The sheet that shows a row of the page, by how many rows stand before each sheet."""
    return max((n for n, start in enumerate(starts) if start <= offset), default=0)


def turned(sheet: int, sheets: int, back: bool = False) -> int:
    """The sheet after this one, or before it; they go round."""
    step = -1 if back else 1
    return (min(sheet, sheets - 1) + step) % max(1, sheets)


def in_sheets(entries: Iterable[Entry], height: int) -> tuple[Sheet, ...]:
    """The entries in sheets of at most `height` rows, numbered lines of one round on each; never
    none.

    Blank rows stand only where they make no more sheets.
    """
    every = tuple(entries)
    height = max(1, height)
    length = round_length(sum(entry.pick for entry in every))
    groups = _groups(every, height, False)
    aired = _groups(every, height, True)
    if len(aired) == len(groups):
        groups = aired
    out: list[Sheet] = []
    picks = must = start = 0
    for group in groups:
        rows: list[Row] = []
        before = start
        for entry in group:
            shown = entry.rows
            if entry.pick:
                picks += 1
                shown = _numbered(entry.rows, (picks - 1) % length + 1)
            rows.extend(shown)
            must += entry.must
            start += entry.counted * len(entry.rows)
        out.append(Sheet(tuple(rows), picks, must, before))
    return tuple(out) or (Sheet((), 0, 0),)


def cut(every: Sequence[Sheet]) -> Cut:
    """What a keyboard needs to know of the sheets."""
    picks, must, starts = zip(*((one.picks, one.must, one.start) for one in every), strict=True)
    return Cut(picks, must, starts)


def _numbered(rows: Rows, number: int) -> Rows:
    key = str(number)
    tone = rows[0][0].tone if rows and rows[0] else Tone.BIG
    out: list[Row] = []
    for position, row in enumerate(rows):
        lead = Span("  " if position else f"{key} ", tone, key)
        out.append((lead, *(span._replace(key=key) for span in row)))
    return tuple(out)


def _groups(entries: Sequence[Entry], height: int, aired: bool) -> list[list[Entry]]:
    """Entries a sheet; what is higher than a sheet is divided, its last piece counts.

    A sheet that goes on below a heading repeats it, where it has room for more than that.
    """
    out: list[list[Entry]] = [[]]
    room, picks = height, 0
    length = round_length(sum(entry.pick for entry in entries))
    heading: Entry | None = None
    pieces = [piece for entry in entries for piece in _pieces(entry, height)]
    for position, piece in enumerate(pieces):
        gap = 1 if aired and piece.apart and out[-1] else 0
        needed = gap + len(piece.rows) + _below(pieces, position)
        over = picks > 0 and piece.pick and picks % length == 0
        full = gap + len(piece.rows) > room or over
        if out[-1] and (full or room < needed <= height):
            out.append([])
            room, gap = height, 0
            if heading and not piece.heads and len(heading.rows) + len(piece.rows) < height:
                out[-1].append(heading._replace(must=0, counted=False))
                room -= len(heading.rows)
        if gap:
            out[-1].append(Entry(((),), counted=False))
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
