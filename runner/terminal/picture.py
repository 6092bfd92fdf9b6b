"""A picture of a screen: rows to SVG, cell by cell, in the colours of a theme.

Rules: nothing but the rows decides what stands in the picture; every span keeps its exact width in
cells whatever font the viewer has; text is escaped; no script, no outside reference.
"""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from runner.terminal.rows import Rows, cells, row_cells, text
from runner.terminal.themes import THEMES, Depth, Pen, Theme, pen

CELL_WIDTH = 10
CELL_HEIGHT = 22
_BASELINE = 16
_MARGIN = 14


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
        '<g font-family="monospace" font-size="16" xml:space="preserve">',
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
    if words.strip():
        weight = ' font-weight="bold"' if one.bold else ""
        line = ' text-decoration="underline"' if one.underline else ""
        out.append(
            f'<text x="{left}" y="{top + _BASELINE}" fill="{ink}"{weight}{line}'
            f' textLength="{wide}" lengthAdjust="spacingAndGlyphs">{escape(words)}</text>'
        )
    return out
