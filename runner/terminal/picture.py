"""A picture of a screen: rows to SVG, cell by cell, in the colours of a theme or of several.

Rules: nothing but the rows decides what stands in the picture; every span keeps its exact width in
cells whatever font the viewer has, and full and half cells are drawn as the terminal fills them;
text is escaped; no script, no outside reference. Of a screen in several looks the rows that are the
same in all stand once, and each look gives them its colours.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

from runner.terminal.rows import Row, Rows, Tone, cells, row_cells, text
from runner.terminal.themes import THEMES, Depth, Pen, Theme, pen

CELL_WIDTH = 10
CELL_HEIGHT = 22
_BASELINE = 16
_MARGIN = 14
_FULL, _UPPER, _LOWER = "\u2588", "\u2580", "\u2584"


def _colours(one: Pen) -> tuple[str, str]:
    """Ink and paper; a theme without colours is drawn black on white."""
    ink, paper = one.ink or "#000000", one.paper or "#ffffff"
    return (paper, ink) if one.reverse else (ink, paper)


def svg(rows: Rows, theme: Theme = THEMES["day"], title: str = "Screen") -> str:
    """The picture of rows as an SVG document; its description holds the text of the screen."""
    columns = max((row_cells(row) for row in rows), default=0)
    width = columns * CELL_WIDTH + 2 * _MARGIN
    height = len(rows) * CELL_HEIGHT + 2 * _MARGIN
    _, page = _colours(pen(theme, next(iter(theme.pens)), Depth.FULL))
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width}" height="{height}"'
        f' viewBox="0 0 {width} {height}" aria-label={quoteattr(title)}>',
        f"<title>{escape(title)}</title>",
        f"<desc>{escape(text(rows))}</desc>",
        f'<rect width="{width}" height="{height}" rx="6" fill="{page}" stroke="#808080"/>',
        '<g font-family="monospace" font-size="16">',
    ]
    for number, row in enumerate(rows):
        top = _MARGIN + number * CELL_HEIGHT
        left = _MARGIN
        for span in row:
            wide = cells(span.text) * CELL_WIDTH
            out.extend(_span(span.text, pen(theme, span.tone, Depth.FULL), left, top, wide, page))
            left += wide
    out.append("</g></svg>")
    return "\n".join(out) + "\n"


def _span(words: str, one: Pen, left: int, top: int, wide: int, page: str) -> list[str]:
    ink, paper = _colours(one)
    out: list[str] = []
    if paper != page and wide:
        out.append(
            f'<rect x="{left}" y="{top}" width="{wide}" height="{CELL_HEIGHT}" fill="{paper}"/>'
        )
    if _is_drawn(words):
        out.append(f'<path d="{_filled(words, left, top)}" fill="{ink}"/>')
    elif words.strip():
        weight = ' font-weight="bold"' if one.bold else ""
        line = ' text-decoration="underline"' if one.underline else ""
        out.append(
            f'<text x="{left}" y="{top + _BASELINE}" style="white-space:pre" fill="{ink}"'
            f'{weight}{line} textLength="{wide}" lengthAdjust="spacingAndGlyphs">'
            f"{escape(words)}</text>"
        )
    return out


def _is_drawn(words: str) -> bool:
    """Whether a text is a drawing of full and half cells."""
    return bool(words.strip()) and not set(words) - {" ", _FULL, _UPPER, _LOWER}


def _filled(words: str, left: int, top: int) -> str:
    """The outline of the cells that a drawing fills, run by run of each half row."""
    out = []
    for half, marks in enumerate((_FULL + _UPPER, _FULL + _LOWER)):
        at = 0
        for filled, run in groupby(char in marks for char in words):
            count = len(list(run))
            if filled:
                x, y = left + at * CELL_WIDTH, top + half * CELL_HEIGHT // 2
                wide = count * CELL_WIDTH
                out.append(f"M{x} {y}h{wide}v{CELL_HEIGHT // 2}h-{wide}z")
            at += count
    return "".join(out)


_ABREAST = 3
_CAPTION = 24
_LETTERS = dict(zip(Tone, "abcdefghijklmnopqrstuvwxyz", strict=False))


class Look(NamedTuple):
    """A screen in one theme and depth, with what is written above it."""

    caption: str
    theme: Theme
    depth: Depth
    rows: Rows

    def page(self) -> str:
        """The colour of a cell where nothing stands."""
        return _colours(pen(self.theme, Tone.TEXT, self.depth))[1]


def looks_svg(looks: Sequence[Look], title: str) -> str:
    """The picture of one screen in several looks, all of one size, as an SVG document; its
    description holds the text of the screen in the first of them."""
    rows = looks[0].rows
    columns = max((row_cells(row) for row in rows), default=0)
    wide = columns * CELL_WIDTH + 2 * _MARGIN
    high = len(rows) * CELL_HEIGHT + 2 * _MARGIN
    abreast = min(_ABREAST, len(looks))
    width, height = abreast * wide, -(-len(looks) // abreast) * (high + _CAPTION)
    alike = [all(look.rows[n] == row for look in looks) for n, row in enumerate(rows)]
    tones = [t for t in Tone if any(s.tone is t for k in looks for row in k.rows for s in row)]
    boxed = {t for t in tones if any(_colours(_pen(k, t))[1] != k.page() for k in looks)}
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width}" height="{height}"'
        f' viewBox="0 0 {width} {height}" aria-label={quoteattr(title)}>',
        f"<title>{escape(title)}</title>",
        f"<desc>{escape(text(rows))}</desc>",
        "<style>",
        "text{font-family:monospace;font-size:16px;white-space:pre}",
        *(_rule(tone, tone in boxed) for tone in tones),
        *(_values(f"l{n}", look, tones, boxed) for n, look in enumerate(looks)),
        "</style>",
        '<defs><g id="s">',
        *(line for n, row in enumerate(rows) if alike[n] for line in _row(n, row, boxed)),
        "</g></defs>",
        f'<rect width="{width}" height="{height}" fill="#c8c8c8"/>',
    ]
    for n, look in enumerate(looks):
        at = f"{n % abreast * wide},{n // abreast * (high + _CAPTION)}"
        out += [
            f'<g class="l{n}" transform="translate({at})">',
            f'<text x="{_MARGIN}" y="{_BASELINE}">{escape(look.caption)}</text>',
            f'<rect y="{_CAPTION}" width="{wide}" height="{high}" fill="{look.page()}"'
            ' stroke="#808080"/>',
            f'<g transform="translate({_MARGIN},{_CAPTION + _MARGIN})"><use href="#s"/>',
            *(ln for k, row in enumerate(look.rows) if not alike[k] for ln in _row(k, row, boxed)),
            "</g></g>",
        ]
    return "\n".join([*out, "</svg>"]) + "\n"


def _pen(look: Look, tone: Tone) -> Pen:
    return pen(look.theme, tone, look.depth)


def _rule(tone: Tone, boxed: bool) -> str:
    """How a tone is drawn, by values that each look gives."""
    k = _LETTERS[tone]
    box = f"rect.{k}{{fill:var(--{k}p)}}" if boxed else ""
    weight, line = f"font-weight:var(--{k}w,400)", f"text-decoration:var(--{k}u,none)"
    return f".{k}{{fill:var(--{k}i);{weight};{line}}}{box}"


def _values(name: str, look: Look, tones: Iterable[Tone], boxed: set[Tone]) -> str:
    """The values that a look gives to the tones."""
    said = []
    for tone in tones:
        k, one = _LETTERS[tone], _pen(look, tone)
        ink, paper = _colours(one)
        said.append(f"--{k}i:{ink}")
        said += [f"--{k}p:{paper}"] if tone in boxed else []
        said += [f"--{k}w:700"] if one.bold else []
        said += [f"--{k}u:underline"] if one.underline else []
    return f".{name}{{{';'.join(said)}}}"


def _row(number: int, row: Row, boxed: set[Tone]) -> list[str]:
    """A row in the tones of its spans, from the left edge of the screen."""
    out: list[str] = []
    top, left = number * CELL_HEIGHT, 0
    for tone, spans in groupby(row, key=lambda span: span.tone):
        whole = "".join(span.text for span in spans)
        k, wide = _LETTERS[tone], cells(whole) * CELL_WIDTH
        if tone in boxed and wide:
            out.append(
                f'<rect class="{k}" x="{left}" y="{top}" width="{wide}" height="{CELL_HEIGHT}"/>'
            )
        words = whole.rstrip()
        if _is_drawn(words):
            out.append(f'<path class="{k}" d="{_filled(words, left, top)}"/>')
        elif words:
            out.append(
                f'<text class="{k}" x="{left}" y="{top + _BASELINE}"'
                f' textLength="{cells(words) * CELL_WIDTH}"'
                f' lengthAdjust="spacingAndGlyphs">{escape(words)}</text>'
            )
        left += wide
    return out
