"""Pictures on an emulated terminal: what is drawn stands there, in the colours of the theme.

Rules: the rows go through the program's own canvas in each look and depth; what a cell must look
like is worked out here from the theme's pens, for 256 colours from the palette of the emulator.
"""

from __future__ import annotations

import io
from functools import cache
from typing import Any, cast

import pytest
from prompt_toolkit.data_structures import Size as Cells
from prompt_toolkit.output.vt100 import Vt100_Output
from prompt_toolkit.styles import Style

from runner.terminal.canvas import Canvas
from runner.terminal.rows import Rows, Tone, row_text
from runner.terminal.themes import THEMES, Depth, Pen, Theme, pen
from tests.gallery.draw import Taken, gallery

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

pyte = pytest.importorskip("pyte")
graphics = pytest.importorskip("pyte.graphics")

ANSI = {
    "": "default",
    "ansiblack": "black",
    "ansired": "red",
    "ansigreen": "green",
    "ansiyellow": "brown",
    "ansigray": "white",
    "ansiwhite": "brightwhite",
    "ansibrightred": "brightred",
    "ansibrightyellow": "brightbrown",
}
"""The sixteen colours as the emulator calls them: SGR 30 to 37 (ECMA-48) and 90 to 97 (aixterm)."""


def shown(rows: Rows, theme: Theme, depth: Depth) -> Any:
    """The emulated terminal after rows were drawn on it."""
    columns = sum(len(span.text) for span in rows[0])
    size = Cells(rows=len(rows), columns=columns)
    sent = io.StringIO()
    output = Vt100_Output(sent, lambda: size, term="xterm-256color")
    canvas = Canvas(lambda _: (rows, theme), depth, Style([]), output)
    canvas.render(cast(Any, None), cast(Any, None))
    terminal = pyte.Screen(columns, len(rows))
    pyte.Stream(terminal).feed(sent.getvalue())
    return terminal


@cache
def pictures_of_tones() -> tuple[Taken, ...]:
    """Few pictures in which every tone that any picture has can be seen, at every size."""
    holds = [{(one.size, tone) for tone in tones(one)} for one in gallery()]
    wanted = {each for held in holds for each in held}
    chosen: list[Taken] = []
    while wanted:
        best = max(range(len(holds)), key=lambda n: len(holds[n] & wanted))
        chosen.append(gallery()[best])
        wanted -= holds[best]
    return tuple(chosen)


def tones(one: Taken) -> set[Tone]:
    """The tones of which something can be seen."""
    return {span.tone for row in one.rows["day"] for span in row if span.text.strip()}


def test_every_tone_has_a_picture() -> None:
    assert {tone for one in gallery() for tone in tones(one)} == set(Tone)


def hexed(colour: str) -> tuple[int, int, int]:
    return tuple(bytes.fromhex(colour))  # type: ignore[return-value]


def distance(one: str, other: str) -> int:
    return sum((a - b) ** 2 for a, b in zip(hexed(one), hexed(other), strict=True))


@cache
def is_colour(found: str, wanted: str, named: str, depth: Depth) -> bool:
    """Whether a cell's colour is the theme's at a depth; `wanted` "#rrggbb", `named` of sixteen."""
    if depth is Depth.ONE_BIT or not wanted:
        return found == "default"
    if depth is Depth.SIXTEEN:
        return found == ANSI[named]
    exact = wanted.removeprefix("#")
    if depth is Depth.FULL:
        return found == exact
    palette = graphics.FG_BG_256[16:]
    return distance(found, exact) == min(distance(other, exact) for other in palette)


@pytest.mark.parametrize("depth", list(Depth), ids=lambda depth: depth.name)
@pytest.mark.parametrize("theme", list(THEMES.values()), ids=list(THEMES))
def test_each_cell_has_the_colours_of_the_theme(theme: Theme, depth: Depth) -> None:
    for one in pictures_of_tones():
        rows = one.rows[theme.name]
        terminal = shown(rows, theme, depth)
        for y, row in enumerate(rows):
            x = 0
            for span in row:
                look: Pen = pen(theme, span.tone, depth)
                for char in span.text:
                    cell = terminal.buffer[y][x]
                    where = f"{one.named}, row {y}, column {x}, {span.tone}: {cell}"
                    assert cell.data == char, where
                    assert is_colour(cell.fg, look.ink, look.ink16, depth), where
                    assert is_colour(cell.bg, look.paper, look.paper16, depth), where
                    assert cell.bold == look.bold, where
                    assert cell.reverse == look.reverse, where
                    assert cell.underscore == look.underline, where
                    x += 1


@pytest.mark.parametrize("one", [pytest.param(one, id=one.named) for one in gallery()])
def test_a_terminal_shows_every_row(one: Taken) -> None:
    rows = one.rows["night"]
    terminal = shown(rows, THEMES["night"], Depth.INDEXED)
    assert list(terminal.display) == [row_text(row) for row in rows]
