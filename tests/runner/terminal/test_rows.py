"""Rows: widths are cells, wrapping loses nothing, columns never overlap."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from runner.terminal.rows import (
    Span,
    Tone,
    beside,
    block,
    cells,
    clip,
    ends,
    filled,
    flow,
    row_cells,
    row_text,
    text,
    wrap,
)

WORDS = st.text(st.sampled_from("abcÄ°C 日本é-1 "), max_size=80)


@given(WORDS, st.integers(8, 60))
def test_wrap_loses_no_character_and_keeps_the_width(words: str, width: int) -> None:
    lines = wrap(words, width)
    assert all(cells(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(words.split())


@given(WORDS, st.integers(10, 60), st.integers(0, 4))
def test_block_loses_no_character_and_keeps_the_width(words: str, width: int, move: int) -> None:
    rows = block(words, width, Tone.TEXT, move)
    assert all(row_cells(row) <= width for row in rows)
    assert "".join(text(rows).split()) == "".join(words.split())


@given(st.lists(st.text(st.sampled_from("abc de"), min_size=1, max_size=30)), st.integers(10, 40))
def test_flow_loses_no_item_and_keeps_the_width(items: list[str], width: int) -> None:
    rows = flow(items, width)
    assert all(row_cells(row) <= width for row in rows)
    assert "".join(text(rows).split()) == "".join("".join(items).split())


@given(WORDS, WORDS, st.integers(12, 60))
def test_ends_keep_both_texts_apart(left: str, right: str, width: int) -> None:
    rows = ends(left, right, width, Tone.TEXT, Tone.TEXT)
    assert all(row_cells(row) <= max(width, cells(left), cells(right)) for row in rows)
    assert "".join(text(rows).split()) == "".join((left + right).split())


@given(WORDS, st.integers(1, 60))
def test_filled_is_exactly_as_wide(words: str, width: int) -> None:
    assert row_cells(filled((Span(words),), width)) == width


def test_a_band_is_filled_in_its_own_tone() -> None:
    row = filled((Span("IN FLIGHT", Tone.BAND),), 20)
    assert {span.tone for span in row} == {Tone.BAND}


def test_clip_marks_its_loss() -> None:
    assert clip("needles joined", 10) == "needles.."
    assert clip("needles", 10) == "needles"


def test_columns_side_by_side() -> None:
    rows = beside(((Span("ab"),),), ((Span("cd"),), (Span("ef"),)), 4, 2)
    assert [row_text(row) for row in rows] == ["ab    cd", "      ef"]


def test_a_width_of_no_cells_is_one_of_one() -> None:
    assert wrap("oil", 0) == wrap("oil", -3) == ("o", "i", "l")
