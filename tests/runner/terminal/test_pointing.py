"""From a place on the screen to the key that it stands for."""

from __future__ import annotations

from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine.effects import Prompt
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.keystate import GUARD_MS, KeyState, Page
from runner.terminal.layout import screen
from runner.terminal.pointing import Point, Pointer, Zone, point_at, read_point, zone_at
from runner.terminal.rows import Rows, Span, Tone, row_cells

ROWS: Rows = (
    (Span("1 ON  ", Tone.STRONG, "1"), Span("2 OFF", Tone.STRONG, "2"), Span("   ")),
    (Span("AS SHOWN ", Tone.TEXT, "+"), Span("+", Tone.STRONG, "+"), Span("    NOT"),),
    (),
)  # fmt: skip


def test_a_press_is_read_and_everything_else_is_none() -> None:
    """XTerm Control Sequences: CSI < button ; column ; row, M pressed and m let go."""
    assert read_point("\x1b[<0;5;2M") == Point(4, 1, True)
    assert read_point("\x1b[<0;5;2m") == Point(4, 1, False)
    assert read_point("\x1b[<16;5;2M") == Point(4, 1, True)
    for data in ("\x1b[<64;5;2M", "\x1b[<32;5;2M", "\x1b[<2;5;2M", "\x1b[M !!", "\x1b[<0;5M", "x"):
        assert read_point(data) is None


def test_neighbours_of_one_key_are_one_place() -> None:
    assert zone_at(ROWS, 0, 1) == zone_at(ROWS, 9, 1) == Zone(1, 0, "AS SHOWN +", "+")
    assert zone_at(ROWS, 5, 0) == Zone(0, 0, "1 ON  ", "1")
    assert zone_at(ROWS, 6, 0) == Zone(0, 6, "2 OFF", "2")
    for column, row in ((12, 0), (12, 1), (0, 2), (0, 3), (0, -1), (500, 0)):
        assert zone_at(ROWS, column, row) is None


def clicked(down: tuple[int, int], up: tuple[int, int], **changes: object) -> str:
    pointer, key = point_at(Pointer(), Point(*down, True), ROWS, 7, 5_000, False)
    assert key == ""
    ask = changes.get("ask", 7)
    rows = changes.get("rows", ROWS)
    return point_at(pointer, Point(*up, False), rows, ask, 5_100, False)[1]  # type: ignore[arg-type]


def test_a_press_counts_where_it_is_let_go_in_its_own_place() -> None:
    assert clicked((0, 1), (9, 1)) == "+"
    assert clicked((0, 1), (12, 1)) == ""
    assert clicked((0, 0), (6, 0)) == ""
    assert clicked((12, 1), (0, 1)) == ""


def test_a_press_for_another_question_or_other_words_is_none() -> None:
    assert clicked((0, 1), (0, 1), ask=8) == ""
    assert clicked((0, 0), (0, 0), rows=((Span("1 OFF ", Tone.STRONG, "1"),),)) == ""


@pytest.mark.parametrize(("after", "key"), [(0, ""), (GUARD_MS - 1, ""), (GUARD_MS, "+")])
def test_the_press_that_brings_the_window_back_is_none(after: int, key: str) -> None:
    pointer = Pointer(back_at=1_000)
    pointer, _ = point_at(pointer, Point(0, 1, True), ROWS, 7, 1_000 + after, False)
    assert point_at(pointer, Point(0, 1, False), ROWS, 7, 5_000, False)[1] == key


def test_a_press_while_the_keys_go_elsewhere_is_none() -> None:
    pointer, _ = point_at(Pointer(), Point(0, 1, True), ROWS, 7, 5_000, True)
    assert point_at(pointer, Point(0, 1, False), ROWS, 7, 5_000, False)[1] == ""


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 4)), min_size=2, max_size=30))
def test_a_sleeve_over_the_screen_means_no_key_but_where_it_is_set_down_and_lifted(
    places: list[tuple[int, int]],
) -> None:
    """Only what lies under the first touch can be meant, and only if it is lifted there."""
    pointer, _ = point_at(Pointer(), Point(*places[0], True), ROWS, 7, 5_000, False)
    _, key = point_at(pointer, Point(*places[-1], False), ROWS, 7, 5_500, False)
    zone = zone_at(ROWS, *places[0])
    assert key == (zone.key if zone and zone == zone_at(ROWS, *places[-1]) else "")


def keys_on(rows: Rows) -> dict[str, str]:
    """Key to the words that stand for it, over a whole screen."""
    found: dict[str, str] = {}
    for number, row in enumerate(rows):
        for column in range(row_cells(row)):
            zone = zone_at(rows, column, number)
            if zone is not None and zone.words.strip() not in found.get(zone.key, ""):
                found[zone.key] = found.get(zone.key, "") + zone.words
    return found


@pytest.mark.parametrize("size", [Size(40, 12), Size(80, 24), Size(120, 40)])
def test_what_the_screen_offers_can_be_pressed_there(fakes: ModuleType, size: Size) -> None:
    clock = Clock(fakes.UTC_AT_ZERO, 0)

    def shown(keys: KeyState = KeyState(), **changes: object) -> dict[str, str]:  # noqa: B008
        aside = Aside(listen=fakes.listen(), keys=keys)
        return keys_on(screen(fakes.view(**changes), clock, size, aside))

    asked = shown()
    assert "AS SHOWN" in asked["+"]
    assert "NOT SO" in asked["-"]
    assert "DRILLS" in asked["*"]
    choice = shown(options=("FIRING", "NOT FIRING"))
    assert "FIRING" in choice["1"]
    assert "NOT FIRING" in choice["2"]
    station = shown(prompt=Prompt.STATION, items=fakes.STATION)
    assert "Nose cowl latches" in station["1"] or "Engine oil level" in station["2"]
    drills = shown(KeyState(page=Page.DRILLS))
    assert "Fire in start" in drills["1"]
    assert "Hydraulic lock felt" in drills["2"]
    assert "BACK" in drills["/"]
    assert "-" not in drills
    assert "DISCONTINUE" in shown(KeyState(page=Page.MORE))["9"]
    assert "+" in shown(KeyState(page=Page.DISCONTINUE))
