"""Pages that turn: every row of every entry stands on a sheet, and a digit means what is shown."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.terminal.keystate import Cut, KeyState
from runner.terminal.rows import Span, row_text
from runner.terminal.turning import (
    DIGITS,
    Entry,
    cut,
    ends_for,
    head,
    in_sheets,
    numbers,
    pick,
    told,
    turned,
)


def entry(name: str, rows: int, **more: Any) -> Entry:
    return Entry(tuple((Span(f"{name}.{n}"),) for n in range(rows)), **more)


ENTRIES = st.lists(
    st.builds(
        lambda rows, kind, must, apart: (rows, kind, must, apart),
        st.integers(1, 7),
        st.sampled_from(["text", "pick", "head"]),
        st.integers(0, 3),
        st.booleans(),
    ),
    max_size=40,
)


@settings(max_examples=300, deadline=None)
@given(made=ENTRIES, height=st.integers(1, 30))
def test_every_row_stands_once_in_order_and_no_sheet_is_too_high(
    made: list[tuple[int, str, int, bool]], height: int
) -> None:
    entries = [
        entry(f"e{n}", rows, pick=kind == "pick", must=must, heads=kind == "head", apart=apart)
        for n, (rows, kind, must, apart) in enumerate(made)
    ]
    every = in_sheets(entries, height)
    assert all(len(sheet.rows) <= height for sheet in every)
    heads = {f"e{n}.{r}" for n, (rows, kind, _, _) in enumerate(made) if kind == "head"
             for r in range(rows)}  # fmt: skip
    seen = [row_text(row).lstrip("0123456789 ") for sheet in every for row in sheet.rows]
    wanted = [row_text(row) for one in entries for row in one.rows]
    once = [text for text in seen if text and text not in heads]
    assert once == [text for text in wanted if text not in heads]
    # A heading may be said again where a sheet goes on below it, and never be missing.
    assert list(dict.fromkeys(text for text in seen if text)) == wanted
    assert every[-1].must == sum(one.must for one in entries)
    assert every[-1].picks == sum(one.pick for one in entries)


@settings(max_examples=300, deadline=None)
@given(made=ENTRIES, height=st.integers(1, 30))
def test_a_digit_means_exactly_the_line_that_shows_it(
    made: list[tuple[int, str, int, bool]], height: int
) -> None:
    entries = [entry(f"e{n}", rows, pick=kind == "pick") for n, (rows, kind, *_) in enumerate(made)]
    picks = [f"e{n}" for n, (_, kind, *_) in enumerate(made) if kind == "pick"]
    every = in_sheets(entries, height)
    ends = cut(every).picks
    for number, sheet in enumerate(every):
        shown: dict[int, str] = {}
        for row in sheet.rows:
            lead, _, name = row_text(row).partition(" ")
            if lead.isdigit():
                shown[int(lead)] = name.partition(".")[0]
        assert len(shown) <= DIGITS
        for digit in range(10):
            at = numbers(ends, number, digit)
            assert (picks[at] if at is not None else None) == shown.get(digit)


def test_nine_lines_keep_their_numbers_and_more_are_numbered_in_even_rounds() -> None:
    few = cut(in_sheets([pick(f"p{n}", 40) for n in range(9)], 5))
    assert few.picks == (5, 9)
    assert numbers(few.picks, 1, 7) == 6
    assert numbers(few.picks, 1, 2) is None
    many = cut(in_sheets([pick(f"p{n}", 40) for n in range(12)], 20))
    assert many.picks == (6, 12)
    assert numbers(many.picks, 1, 2) == 7
    # less room divides a round and leaves every line its number
    low = cut(in_sheets([pick(f"p{n}", 40) for n in range(12)], 4))
    assert low.picks == (4, 6, 10, 12)
    assert [numbers(low.picks, n, d) for n, d in ((1, 5), (1, 1), (2, 1), (3, 6))] == [
        4,
        None,
        6,
        11,
    ]
    assert numbers((), 0, 1) is None


def test_a_heading_stands_with_its_first_line_and_again_where_its_lines_go_on() -> None:
    entries = [told("one", 20), told("two", 20), head("THOSE", 20)]
    entries += [told(f"line {n}", 20) for n in range(5)]
    texts = [[row_text(row) for row in sheet.rows] for sheet in in_sheets(entries, 3)]
    assert texts[0] == ["one", "two"]
    assert texts[1] == ["THOSE", "line 0", "line 1"]
    assert texts[2][0] == "THOSE"


def test_blank_rows_stand_only_where_they_make_no_more_sheets() -> None:
    entries = [told(f"line {n}", 20)._replace(apart=True) for n in range(3)]
    assert [row_text(r) for r in in_sheets(entries, 5)[0].rows] == [
        "line 0",
        "",
        "line 1",
        "",
        "line 2",
    ]
    assert len(in_sheets(entries, 4)) == 1
    assert [row_text(r) for r in in_sheets(entries, 4)[0].rows] == ["line 0", "line 1", "line 2"]


def test_lines_that_must_be_read_count_on_the_sheet_of_their_last_row() -> None:
    (first, second) = in_sheets([entry("long", 4, must=2)], 3)
    assert (first.must, second.must) == (0, 2)


@pytest.mark.parametrize(("sheet", "back", "then"), [(0, False, 1), (2, False, 0), (0, True, 2)])
def test_sheets_go_round(sheet: int, back: bool, then: int) -> None:
    assert turned(sheet, 3, back) == then
    assert turned(7, 3) == 0


def test_without_a_screen_there_is_a_round_of_lines_a_sheet() -> None:
    assert ends_for(KeyState(), 12) == (6, 12)
    assert ends_for(KeyState(), 0) == (0,)
    assert ends_for(KeyState(cut=Cut((4, 8))), 8) == (4, 8)
    assert in_sheets([], 5)[0].rows == ()
