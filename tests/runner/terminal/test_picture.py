"""The picture of a screen: well-formed, every word in it, nothing from outside."""

from __future__ import annotations

import re
from types import ModuleType
from xml.etree import ElementTree

import pytest

from runner.terminal.aside import Size
from runner.terminal.clock import Clock
from runner.terminal.layout import screen
from runner.terminal.picture import CELL_HEIGHT, CELL_WIDTH, Look, looks_svg, svg
from runner.terminal.rows import Span, Tone
from runner.terminal.themes import DAY, NIGHT, THEMES, Depth

SVG = "{http://www.w3.org/2000/svg}"
FULL_AND_HALVES = "\u2588\u2580\u2584 "


@pytest.mark.parametrize("name", list(THEMES))
def test_every_word_of_the_screen_is_in_its_picture(fakes: ModuleType, name: str) -> None:
    rows = screen(fakes.view(gauge=fakes.GAUGE), Clock(fakes.UTC_AT_ZERO, 0), Size(80, 24))
    root = ElementTree.fromstring(svg(rows, THEMES[name]))
    drawn = "".join(element.text or "" for element in root.iter(f"{SVG}text"))
    words = "".join(
        span.text for row in rows for span in row if not set(span.text) <= set(FULL_AND_HALVES)
    )
    assert "".join(drawn.split()) == "".join(words.split())
    assert not list(root.iter(f"{SVG}image"))
    assert not list(root.iter(f"{SVG}script"))


def test_text_is_escaped_and_keeps_its_cells() -> None:
    root = ElementTree.fromstring(svg(((Span("<&> 150 °C", Tone.BAND),),)))
    element = next(root.iter(f"{SVG}text"))
    assert element.text == "<&> 150 °C"
    assert element.get("textLength") == str(10 * CELL_WIDTH)


def filled(path: str) -> set[tuple[int, int]]:
    """The half cells, by column and half row, that a path of rectangles fills."""
    found = set()
    for x, y, wide in re.findall(r"M(\d+) (\d+)h(\d+)v\d+h-\d+z", path):
        for column in range(int(x) // CELL_WIDTH, (int(x) + int(wide)) // CELL_WIDTH):
            found.add((column, int(y) * 2 // CELL_HEIGHT))
    return found


def test_full_and_half_cells_are_filled_to_their_edges() -> None:
    rows = ((Span(" \u2588\u2580 \u2584", Tone.BIG),),)
    picture = looks_svg([Look("day", DAY, Depth.FULL, rows)], "cells")
    (path,) = ElementTree.fromstring(picture).iter(f"{SVG}path")
    assert filled(path.get("d", "")) == {(1, 0), (1, 1), (2, 0), (4, 1)}
    assert len(list(ElementTree.fromstring(svg(rows)).iter(f"{SVG}path"))) == 1


def test_rows_that_all_looks_share_stand_once() -> None:
    shared = (Span("THE SAME", Tone.STRONG), Span(" "), Span("12", Tone.CAUTION))
    looks = [
        Look(theme.name, theme, depth, (shared, (Span(f"{theme.name} {depth.name}"),)))
        for theme, depth in ((DAY, Depth.FULL), (NIGHT, Depth.FULL), (DAY, Depth.ONE_BIT))
    ]
    root = ElementTree.fromstring(looks_svg(looks, "looks"))
    texts = [element.text for element in root.iter(f"{SVG}text")]
    assert [texts.count(words) for words in ("THE SAME", "12", "night FULL")] == [1, 1, 1]
    assert len(list(root.iter(f"{SVG}use"))) == len(looks)
    assert root.findtext(f"{SVG}desc") == "THE SAME 12\nday FULL"
    style = root.findtext(f"{SVG}style") or ""
    for number, look in enumerate(looks):
        values = next(line for line in style.split("\n") if line.startswith(f".l{number}{{"))
        caution = look.theme.pens[Tone.CAUTION]
        assert (caution.paper in values) == (look.depth is Depth.FULL)
        assert ("underline" in values) == (look.depth is Depth.ONE_BIT)
