"""Large letters: every challenge character, exact widths, never in place of the plain text."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.terminal.blocks import HEIGHT, large
from runner.terminal.rows import cells

DRAWN = string.ascii_uppercase + string.digits + ".,:-/()°?'"


@pytest.mark.parametrize("char", DRAWN)
def test_every_character_is_drawn_and_unlike_every_other(char: str) -> None:
    mine = large(char, 10, 1)
    assert len(mine) == HEIGHT
    assert any(row.strip() for row in mine)
    assert all(large(other, 10, 1) != mine for other in DRAWN if other != char)


@given(st.text(st.sampled_from(DRAWN + " "), max_size=60), st.integers(4, 100), st.integers(1, 3))
def test_drawing_keeps_its_width_and_lines(words: str, width: int, lines: int) -> None:
    rows = large(words, width, lines)
    assert len(rows) <= lines * HEIGHT
    assert len(rows) % HEIGHT == 0
    assert all(cells(row.rstrip()) <= width for row in rows)


def test_what_cannot_be_drawn_is_left_to_the_plain_text() -> None:
    assert large("日本", 80, 2) == ()
    assert large("ROTOR BRAKE", 20, 1) == ()
    assert len(large("ROTOR BRAKE", 20, 2)) == 2 * HEIGHT
    assert large("", 80, 2) == ()
