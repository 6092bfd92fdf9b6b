"""Fitting parts: what must stand stands, the rest by rank, and what yields comes back if it can."""

from __future__ import annotations

from runner.terminal.fill import Part, blank, fit, spring
from runner.terminal.rows import Rows, Span, text


def rows(*lines: str) -> Rows:
    return tuple((Span(line),) for line in lines)


def shown(parts: list[Part], height: int) -> list[str]:
    return text(fit(parts, height)).split("\n")


def test_lowest_rank_grows_first() -> None:
    parts = [Part("a", ((), rows("a")), 5), Part("b", (rows("b"),)), Part("c", ((), rows("c")), 3)]
    assert shown(parts, 2) == ["b", "c"]
    assert shown(parts, 3) == ["a", "b", "c"]


def test_further_forms_come_later() -> None:
    many = Part("many", ((), rows("1"), rows("1", "2"), rows("1", "2", "3")), 0)
    assert shown([many, Part("late", ((), rows("late")), 15)], 3) == ["1", "2", "late"]


def test_yields_in_order_and_comes_back_where_there_is_room() -> None:
    parts = [
        Part("must", (rows("must"),)),
        Part("small", (rows("s"),), yields=1),
        Part("large", (rows("l", "l", "l"),), yields=2),
    ]
    assert shown(parts, 5) == ["must", "s", "l", "l", "l"]
    assert shown(parts, 4) == ["must", "l", "l", "l"]
    assert shown(parts, 3) == ["must", "s", ""]


def test_spare_rows_stand_at_the_spring() -> None:
    parts = [Part("top", (rows("top"),)), spring(), Part("foot", (rows("foot"),)), blank("x", 90)]
    assert shown(parts, 5) == ["top", "", "", "foot", ""]
