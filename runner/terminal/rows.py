"""Rows of styled text: the one currency between layout, themes, screens and pictures.

Rules: a row is a tuple of spans; a span carries a *tone* (what the text is), never a colour;
widths are terminal cells, not characters; nothing is shortened silently: a text that does not fit
is wrapped, and `clip` is for texts that stand in full elsewhere and marks what it took with "..".
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from enum import StrEnum
from typing import NamedTuple

from wcwidth import wcswidth, wcwidth


class Tone(StrEnum):
    """What a text is; a theme says how it looks."""

    TEXT = "text"
    BIG = "big"
    STRONG = "strong"
    SMALL = "small"
    BAND = "band"
    WARNING = "warning"
    CAUTION = "caution"
    INPUT = "input"


class Span(NamedTuple):
    """A run of text in one tone; `key` is the key that a press on it means, if any."""

    text: str
    tone: Tone = Tone.TEXT
    key: str = ""


Row = tuple[Span, ...]
Rows = tuple[Row, ...]


def cells(text: str) -> int:
    """Width of a text in terminal cells; a control character counts as one."""
    if text.isascii() and text.isprintable():
        return len(text)
    wide = wcswidth(text)
    return wide if wide >= 0 else sum(max(1, wcwidth(c)) for c in text)


def row_cells(row: Row) -> int:
    """Width of a row in cells."""
    return sum(cells(span.text) for span in row)


def clean(text: str) -> str:
    """The text with every control character replaced by a space."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(c if wcwidth(c) >= 0 else " " for c in text)


def clip(text: str, width: int) -> str:
    """At most `width` cells of a text, the loss marked by ".."."""
    if cells(text) <= width:
        return text
    if width <= 2:
        return _head(text, width)[0]
    return _head(text, width - 2)[0].rstrip() + ".."


def _head(text: str, width: int) -> tuple[str, str]:
    used = 0
    for position, char in enumerate(text):
        used += max(0, wcwidth(char))
        if used > width:
            return text[:position], text[position:]
    return text, ""


def wrap(text: str, width: int) -> tuple[str, ...]:
    """The words of a text in lines of at most `width` cells; a longer word is divided."""
    width = max(1, width)  # a row of no cells would never take a letter
    lines: list[str] = []
    line = ""
    for whole in clean(text).split():
        word = whole
        while cells(word) > width:
            room = width - cells(line) - 1 if line else width
            if room < 4 and line:
                lines.append(line)
                line = ""
                continue
            part, word = _head(word, room)
            lines.append(f"{line} {part}" if line else part)
            line = ""
        if not word:
            continue
        if not line:
            line = word
        elif cells(line) + 1 + cells(word) <= width:
            line = f"{line} {word}"
        else:
            lines.append(line)
            line = word
    if line:
        lines.append(line)
    return tuple(lines)


def block(text: str, width: int, tone: Tone = Tone.TEXT, indent: int = 0) -> Rows:
    """A wrapped text as rows, the lines after the first moved in by `indent` cells."""
    first = wrap(text, width)
    if len(first) <= 1 or not indent:
        return tuple((Span(line, tone),) for line in first)
    rest = text.strip()[len(first[0]) :] if text.strip().startswith(first[0]) else None
    if rest is None:
        rest = " ".join(first[1:])
    more = wrap(rest, width - indent)
    return ((Span(first[0], tone),), *((Span(" " * indent + line, tone),) for line in more))


def flow(items: Sequence[str], width: int, tone: Tone = Tone.TEXT, gap: int = 2) -> Rows:
    """Items one after the other, as many on a row as fit whole; a longer one is wrapped."""
    rows: list[Row] = []
    line = ""
    for item in items:
        if line and cells(line) + gap + cells(item) <= width:
            line += " " * gap + item
            continue
        if line:
            rows.append((Span(line, tone),))
        line = item
        if cells(line) > width:
            rows.extend(block(line, width, tone, 2))
            line = ""
    if line:
        rows.append((Span(line, tone),))
    return tuple(rows)


def ends(left: str, right: str, width: int, left_tone: Tone, right_tone: Tone) -> Rows:
    """Two texts at the two ends of a row, or on rows of their own where one row is too short."""
    room = width - cells(left) - cells(right)
    if room >= 2 or not left or not right:
        return ((Span(left, left_tone), Span(" " * max(0, room)), Span(right, right_tone)),)
    return (*block(left, width, left_tone), *block(right, width, right_tone))


def led(left: str, right: str, width: int, tone: Tone) -> Rows:
    """Two texts at the ends of a row with leaders between them, as on the paper card; where one row
    is too short the right one stands below, at the right."""
    room = width - cells(left) - cells(right)
    if room >= 2:
        lead = f" {'.' * (room - 2)} " if room > 3 else " " * room
        return ((Span(f"{left}{lead}{right}", tone),),)
    rows = block(left, width, tone, 4)
    used = row_cells(rows[-1])
    if used + cells(right) + 2 <= width:
        return (*rows[:-1], *ends(row_text(rows[-1]), right, width, tone, tone))
    below = wrap(right, width - 4)
    return (*rows, *((Span(" " * (width - cells(part)) + part, tone),) for part in below))


def filled(row: Row, width: int) -> Row:
    """The row at exactly `width` cells: filled in the tone of a band, or cut at the edge."""
    used = row_cells(row)
    if used == width:
        return row
    if used < width:
        last = row[-1].tone if row else Tone.TEXT
        tone = last if last in (Tone.BAND, Tone.WARNING, Tone.CAUTION) else Tone.TEXT
        return (*row, Span(" " * (width - used), tone))
    out: list[Span] = []
    room = width
    for span in row:
        part = span.text if cells(span.text) <= room else _head(span.text, room)[0]
        out.append(span._replace(text=part))
        room -= cells(part)
        if room <= 0:
            break
    return filled(tuple(out), width)


def beside(left: Sequence[Row], right: Sequence[Row], left_width: int, gap: int) -> Rows:
    """Two columns side by side; the left one is filled to `left_width`."""
    rows: list[Row] = []
    for number in range(max(len(left), len(right))):
        mine = filled(left[number] if number < len(left) else (), left_width)
        other = right[number] if number < len(right) else ()
        rows.append((*mine, Span(" " * gap), *other))
    return tuple(rows)


def row_text(row: Row) -> str:
    """The characters of a row."""
    return "".join(span.text for span in row)


def text(rows: Iterable[Row]) -> str:
    """The characters of rows, a line each, no blanks at the ends of lines."""
    return "\n".join(row_text(row).rstrip() for row in rows)
