"""A diagram on paper: pages of A4 or A5 as SVG, black on white.

Rules: every text stands in a box of its own whose width was measured, and no two boxes meet; a row
is never parted by the end of a page; weight and dashes say what a colour would. An SVG holds what
it shows: no script, nothing from outside, every text escaped and held to the width measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, Literal, NamedTuple
from xml.sax.saxutils import escape

from runner.flow.drawing.counts import Counts
from runner.flow.drawing.diagram import Diagram, Row, Side
from runner.flow.drawing.metrics import FACES, width, wrap

Paper = Literal["a4", "a5"]
SIZES: Final[dict[Paper, tuple[float, float]]] = {"a4": (210.0, 297.0), "a5": (148.0, 210.0)}
CAUTION: Final = "No approved data: the approved flight manual, local rules and the pilot decide."

_MARGIN: Final = 12.0
_SPINE: Final = 15.0
_GAP: Final = 3.0
_LEAD: Final = 1.3
_BODY: Final = 3.3
_SMALL: Final = 2.7
_WEIGHTS: Final = (0.15, 0.3, 0.7, 1.2)


class Words(NamedTuple):
    """One line of text: its left edge, its baseline, and what was measured of it; in mm."""

    x: float
    y: float
    size: float
    text: str
    bold: bool = False

    @property
    def wide(self) -> float:
        """Its width."""
        return width(self.text, self.size, bold=self.bold)


class Line(NamedTuple):
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float
    weight: float = 0.3
    dashed: bool = False


@dataclass
class Page:
    """One page: its texts and lines."""

    words: list[Words] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    boxes: list[tuple[float, float, float, float]] = field(default_factory=list)


def pages(diagram: Diagram, paper: Paper = "a4", counts: Counts | None = None) -> list[Page]:
    """The pages of a diagram."""
    return _Layout(diagram, paper, counts).made()


def svg(diagram: Diagram, paper: Paper = "a4", counts: Counts | None = None) -> list[str]:
    """Each page as an SVG document of its own."""
    wide, high = SIZES[paper]
    return [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{wide:g}mm" '
        f'height="{high:g}mm" viewBox="0 0 {wide:g} {high:g}">\n'
        f"<title>{escape(diagram.title)}</title>\n" + _page(page, wide, high) + "</svg>\n"
        for page in pages(diagram, paper, counts)
    ]


def together(diagram: Diagram, paper: Paper = "a4", counts: Counts | None = None) -> str:
    """All pages below each other in one SVG document."""
    wide, high = SIZES[paper]
    made = pages(diagram, paper, counts)
    inner = "".join(
        f'<g transform="translate(0 {number * high:g})">\n{_page(page, wide, high)}</g>\n'
        for number, page in enumerate(made)
    )
    tall = high * len(made)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{wide:g}mm" '
        f'height="{tall:g}mm" viewBox="0 0 {wide:g} {tall:g}">\n'
        f"<title>{escape(diagram.title)}</title>\n{inner}</svg>\n"
    )


def _page(page: Page, wide: float, high: float) -> str:
    out = [f'<rect width="{wide:g}" height="{high:g}" fill="#fff"/>']
    for line in page.lines:
        dash = ' stroke-dasharray="1.2 0.9"' if line.dashed else ""
        out.append(
            f'<path d="M{line.x1:.2f} {line.y1:.2f}L{line.x2:.2f} {line.y2:.2f}" fill="none" '
            f'stroke="#000" stroke-width="{line.weight:g}"{dash}/>'
        )
    for x, y, w, h in page.boxes:
        out.append(
            f'<rect x="{x:.2f}" y="{y:.2f}" width="{w:.2f}" height="{h:.2f}" rx="1" fill="#fff" '
            'stroke="#000" stroke-width="0.25"/>'
        )
    out.append(f'<g font-family="{FACES}" fill="#000">')
    for one in page.words:
        weight = ' font-weight="bold"' if one.bold else ""
        out.append(
            f'<text x="{one.x:.2f}" y="{one.y:.2f}" font-size="{one.size:g}"{weight} '
            f'textLength="{one.wide:.2f}" lengthAdjust="spacingAndGlyphs">'
            f"{escape(one.text)}</text>"
        )
    return "\n".join([*out, "</g>", ""])


class _Layout:
    """Puts rows onto pages from the top; `y` is the lower edge of what stands there."""

    def __init__(self, diagram: Diagram, paper: Paper, counts: Counts | None) -> None:
        self._diagram, self._counts = diagram, counts
        self._wide, self._high = SIZES[paper]
        self._x = _MARGIN + _SPINE
        inner = self._wide - _MARGIN - self._x
        self._side = inner * 0.38
        self._left = inner - self._side - 2 * _GAP
        self._pages: list[Page] = []
        self._y = 0.0
        self._condition = ""
        self._joint = 0.0

    def made(self) -> list[Page]:
        self._begin()
        for row in self._diagram.rows:
            self._row(row)
        self._condition_to("")
        self._ends(self._diagram.ends)
        for number, page in enumerate(self._pages, 1):
            foot = f"{CAUTION}  Page {number} of {len(self._pages)}"
            for n, line in enumerate(wrap(foot, _SMALL, self._wide - 2 * _MARGIN)):
                page.words.append(Words(_MARGIN, self._high - 8 + n * 3.4, _SMALL, line))
        return self._pages

    def _begin(self) -> None:
        self._pages.append(Page())
        self._y = _MARGIN
        most = self._wide - 2 * _MARGIN
        self._text(self._diagram.title, _MARGIN, most, 5.0, bold=True)
        self._text(self._diagram.subtitle, _MARGIN, most, _SMALL)
        if self._counts is not None:
            runs = f"{self._counts.said} laid over it; the heavier the line, the more passed"
            self._text(runs, _MARGIN, most, _SMALL)
        self._y += 2
        if self._condition:
            top = self._y
            self._text(f"still only if {self._condition}", self._x + 6, self._left - 6, _SMALL)
            self._y += 0.8
            self._spine(top, 1)
        self._joint = self._y

    def _text(self, words: str, x: float, most: float, size: float, *, bold: bool = False) -> None:
        for line in wrap(words, size, most, bold=bold):
            self._pages[-1].words.append(Words(x, self._y + size, size, line, bold))
            self._y += size * _LEAD

    def _need(self, height: float) -> None:
        """Begin a page if so much does not fit onto this one."""
        if self._y + height > self._high - 13:
            self._bypass()
            self._begin()

    def _bypass(self) -> None:
        """The dashed way round what a condition leaves out, as far as this page shows it."""
        if self._condition and self._y > self._joint:
            x = self._x + 3
            page = self._pages[-1]
            page.lines.append(Line(x, self._joint, x, self._y, 0.25, dashed=True))
            page.lines.append(Line(self._x, self._y, x, self._y, 0.25, dashed=True))
            page.lines.append(Line(self._x, self._joint, x, self._joint, 0.25, dashed=True))

    def _condition_to(self, when: str) -> None:
        if when == self._condition:
            return
        if self._condition:
            self._bypass()
            self._condition = ""
            top, self._y = self._y, self._y + 1.5
            self._spine(top, 1)
        if when:
            top = self._y
            self._text(f"only if {when}", self._x + 6, self._left - 6, _SMALL)
            self._y += 0.8
            self._spine(top, 1)
            self._joint = self._y
            self._condition = when

    def _spine(self, top: float, weight: int) -> None:
        line = Line(self._x, top, self._x, self._y, _WEIGHTS[weight])
        self._pages[-1].lines.append(line)

    def _row(self, row: Row) -> None:
        indent = 6.0 if row.when else 3.0
        most = self._left - indent
        mark = f"{row.mark}: " if row.mark else ""
        notes = "; ".join(row.notes)
        if self._counts is not None:
            said = self._counts.text(f"{self._diagram.id}.{row.id}")
            notes = f"{notes} [{said}]" if notes else f"[{said}]"
        texts = [
            (f"{mark}{row.words}", _BODY, True), (row.answer, _BODY, False), (notes, _SMALL, False),
        ]  # fmt: skip
        left = sum(
            len(wrap(words, size, most, bold=bold)) * size * _LEAD for words, size, bold in texts
        )
        sides = [wrap(f"{s.when}: {s.target}", _SMALL, self._side - 3) for s in row.sides]
        right = sum(len(lines) * _SMALL * _LEAD + 2.6 for lines in sides)
        extra = 8.0 if row.section else 0.0
        extra += 4.0 * len(wrap(row.when, _SMALL, most)) if row.when != self._condition else 0.0
        if row.when != self._condition:
            self._condition_to("")
        self._need(max(left, right) + 3 + extra)
        self._condition_to(row.when)
        if row.section:
            top, self._y = self._y, self._y + 1.5
            self._text(row.section, self._x + indent, most, _SMALL + 0.4, bold=True)
            self._y += 0.6
            self._spine(top, 1)
        top = self._y
        page = self._pages[-1]
        number = Words(0, 0, _BODY, row.number)
        size = _BODY * min(1.0, (_SPINE - 2) / max(number.wide, 0.1))
        wide = width(row.number, size)
        page.words.append(Words(self._x - 2 - wide, top + _BODY, size, row.number))
        page.lines.append(Line(self._x - 1.2, top + 2.2, self._x + 1.2, top + 2.2, 0.5))
        for words, size, bold in texts:
            self._text(words, self._x + indent, most, size, bold=bold)
        if sides:
            # From the words to the first way that leaves them.
            first = wrap(f"{mark}{row.words}", _BODY, most, bold=True)[0]
            begin = self._x + indent + width(first, _BODY, bold=True) + 1.5
            level = top + (len(sides[0]) * _SMALL * _LEAD + 1.6) / 2
            if len(sides[0]) > 1:
                level = top + 2.4
            leader = Line(begin, level, self._wide - _MARGIN - self._side - _GAP, level, 0.25)
            page.lines.append(leader)
        step = f"{self._diagram.id}.{row.id}"
        weight = 1 if self._counts is None else self._counts.weight(step)
        below = self._y
        bottom, top = self._sides(sides, top, weight)
        self._y = max(bottom, below if page is self._pages[-1] else 0) + 1.6
        self._spine(top, weight)

    def _sides(
        self, sides: Sequence[list[str]], top: float, weight: int
    ) -> tuple[float, float]:  # fmt: skip
        """The boxes beside a row, each with its line; their lower edge, and where the row begins
        on the page that they end on. Only a row taller than a page goes on to the next."""
        x = self._wide - _MARGIN - self._side
        page = self._pages[-1]
        y, joint = top, top + 2.4
        for lines in sides:
            high = len(lines) * _SMALL * _LEAD + 1.6
            if y + high > self._high - 13:
                self._y = y
                self._spine(top, weight)
                self._bypass()
                self._begin()
                page, y = self._pages[-1], self._y
                top, joint = y, y
            page.boxes.append((x, y, self._side, high))
            middle = y + high / 2
            page.lines.append(Line(x - _GAP, middle, x, middle, 0.25))
            page.lines.append(Line(x - _GAP, joint, x - _GAP, middle, 0.25))
            joint = middle
            for n, line in enumerate(lines):
                base = y + 0.6 + _SMALL + n * _SMALL * _LEAD
                page.words.append(Words(x + 1.5, base, _SMALL, line))
            y += high + 1.0
        return y, top

    def _ends(self, ends: Sequence[Side]) -> None:
        most = self._wide - _MARGIN - self._x - 6
        for number, end in enumerate(ends, 1):
            lines = wrap(f"{end.when}: {end.target}", _BODY, most - 3)
            high = len(lines) * _BODY * _LEAD + 2
            self._need(high + 3)
            page = self._pages[-1]
            page.lines.append(Line(self._x, self._y, self._x, self._y + high / 2 + 1))
            page.lines.append(
                Line(self._x, self._y + high / 2 + 1, self._x + 6, self._y + high / 2 + 1)
            )
            page.boxes.append((self._x + 6, self._y + 1, most, high))
            for n, line in enumerate(lines):
                base = self._y + 1.6 + _BODY + n * _BODY * _LEAD
                page.words.append(Words(self._x + 7.5, base, _BODY, line))
            if number < len(ends):
                page.lines.append(Line(self._x, self._y, self._x, self._y + high + 2))
            self._y += high + 2
