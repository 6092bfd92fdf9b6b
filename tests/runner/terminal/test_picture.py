"""The picture of a screen: well-formed, every word in it, nothing from outside."""

from __future__ import annotations

from types import ModuleType
from xml.etree import ElementTree

import pytest

from runner.terminal.aside import Size
from runner.terminal.clock import Clock
from runner.terminal.layout import screen
from runner.terminal.picture import CELL_WIDTH, svg
from runner.terminal.rows import Span, Tone
from runner.terminal.themes import THEMES

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("name", list(THEMES))
def test_every_word_of_the_screen_is_in_its_picture(fakes: ModuleType, name: str) -> None:
    rows = screen(fakes.view(gauge=fakes.GAUGE), Clock(fakes.UTC_AT_ZERO, 0), Size(80, 24))
    root = ElementTree.fromstring(svg(rows, THEMES[name]))
    drawn = "".join(element.text or "" for element in root.iter(f"{SVG}text"))
    words = "".join(span.text for row in rows for span in row)
    assert "".join(drawn.split()) == "".join(words.split())
    assert not list(root.iter(f"{SVG}image"))
    assert not list(root.iter(f"{SVG}script"))


def test_text_is_escaped_and_keeps_its_cells() -> None:
    root = ElementTree.fromstring(svg(((Span("<&> 150 °C", Tone.BAND),),)))
    element = next(root.iter(f"{SVG}text"))
    assert element.text == "<&> 150 °C"
    assert element.get("textLength") == str(10 * CELL_WIDTH)
