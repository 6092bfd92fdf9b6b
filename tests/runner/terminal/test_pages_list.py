"""Station, memory items and standby: all of it, as large as the height allows."""

from __future__ import annotations

from types import ModuleType

import pytest

from runner.engine.effects import Prompt
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.layout import screen
from runner.terminal.rows import Tone, row_text

SIZES = [Size(40, 12), Size(80, 24), Size(120, 40)]


def undotted(text: str) -> str:
    return " ".join(word for word in text.split() if set(word) != {"."})


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_a_station_in_the_order_of_its_numbers(fakes: ModuleType, size: Size) -> None:
    view = fakes.view(prompt=Prompt.STATION, title="Nose and engine bay", items=fakes.STATION)
    aside = Aside(listen=fakes.listen())
    (seen,) = fakes.every_sheet(view, size, aside)
    seen = undotted(seen)
    assert "NOSE AND ENGINE BAY 7 OPEN OF 9" in seen
    for part in (
        "1 Nose cowl latches: SECURE, TICKED", "2 ENGINE OIL LEVEL ABOVE MINIMUM",
        "3 Induction air screen: CLEAR, TICKED", "5 Nose wheel tyre SERVICEABLE? FAULT",
        "9 FORWARD FUEL DRAIN CLEAR", "FAULT -",
    ):  # fmt: skip
        assert part in seen
    low = seen.lower()
    places = [low.index(f"{n} {line.challenge.lower()}") for n, line in enumerate(fakes.STATION, 1)]
    assert places == sorted(places)
    assert "[" not in seen


def test_open_items_are_bold_and_ticked_ones_small(fakes: ModuleType) -> None:
    view = fakes.view(prompt=Prompt.STATION, items=fakes.STATION)
    rows = screen(view, Clock(0, 0), Size(40, 12), Aside(listen=fakes.listen()))
    tones = {row_text(row)[:1]: {span.tone for span in row if span.text.strip()} for row in rows}
    assert tones["1"] == {Tone.SMALL}
    assert tones["2"] == {Tone.BIG}
    assert tones["5"] == {Tone.CAUTION}


def test_without_colour_a_ticked_item_has_another_shape_and_keeps_its_answer(
    fakes: ModuleType,
) -> None:
    long = tuple(
        line._replace(challenge=f"{line.challenge}, both sides") for line in fakes.STATION[:7]
    )
    view = fakes.view(prompt=Prompt.STATION, title="Nose", items=long)
    for size in (Size(40, 12), Size(80, 24)):
        seen = " ".join(fakes.every_sheet(view, size, Aside(listen=fakes.listen())))
        assert "1 Nose cowl latches, both sides: SECURE" in seen
        assert "3 Induction air screen, both sides: CLEAR" in seen
    rows = [row_text(r) for r in screen(view, Clock(0, 0), Size(80, 24), Aside())]
    ticked, opened = (next(r for r in rows if r.startswith(n)) for n in ("1 ", "2 "))
    assert ticked.rstrip() == "1 Nose cowl latches, both sides: SECURE, TICKED"
    assert opened.startswith("2 ENGINE OIL LEVEL, BOTH SIDES ....")
    assert opened.endswith(". ABOVE MINIMUM")


def test_the_rows_of_a_fault_are_one_block_from_the_edge(fakes: ModuleType) -> None:
    fault = fakes.STATION[4]._replace(challenge="Nose wheel tyre and its slip mark")
    view = fakes.view(prompt=Prompt.STATION, title="Nose", items=(fault,))
    rows = screen(view, Clock(0, 0), Size(40, 12), Aside(listen=fakes.listen()))
    first = next(n for n, row in enumerate(rows) if row_text(row).startswith("1 "))
    assert "FAULT" in row_text(rows[first + 1])
    for row in rows[first : first + 2]:
        assert {span.tone for span in row} == {Tone.CAUTION}


def test_a_press_on_an_item_is_its_number(fakes: ModuleType) -> None:
    view = fakes.view(prompt=Prompt.STATION, items=fakes.STATION)
    rows = screen(view, Clock(0, 0), Size(40, 12), Aside(listen=fakes.listen()))
    keys = {row_text(row)[:1]: {span.key for span in row if span.text.strip()} for row in rows}
    assert keys["2"] == {"2"}
    assert keys["9"] == {"9"}


def test_a_station_that_is_too_long_turns_and_keeps_its_numbers(fakes: ModuleType) -> None:
    long = tuple(
        line._replace(challenge=f"{line.challenge} and what is behind it", status="open")
        for line in fakes.STATION
    )
    view = fakes.view(prompt=Prompt.STATION, title="Nose", items=long)
    sheets = fakes.every_sheet(view, Size(40, 12), Aside(listen=fakes.listen()))
    assert len(sheets) > 1
    assert f"1 OF {len(sheets)} NEXT 0" in sheets[0]
    seen = undotted(" ".join(sheets))
    for number, line in enumerate(long, 1):
        assert f"{number} {line.challenge.upper()} {line.expected}" in seen


def test_a_station_says_when_none_is_open_and_what_is_put_off(fakes: ModuleType) -> None:
    one, two, *rest = fakes.STATION
    done = tuple(line._replace(status="answered", answer=line.expected) for line in rest)
    later = two._replace(status="put off", why="before Rotor engagement")
    view = fakes.view(prompt=Prompt.STATION, items=(one, later, *done))
    (seen,) = fakes.every_sheet(view, Size(80, 24), Aside(listen=fakes.listen()))
    assert "1 OPEN OF 9" in seen
    assert "PUT OFF: BEFORE ROTOR ENGAGEMENT" in seen
    view = fakes.view(prompt=Prompt.STATION, items=(one, *done))
    (seen,) = fakes.every_sheet(view, Size(80, 24), Aside(listen=fakes.listen()))
    assert "NONE OPEN OF 8" in seen


@pytest.mark.parametrize("rows", range(9, 24))
def test_a_station_never_says_that_it_turns_where_it_does_not(fakes: ModuleType, rows: int) -> None:
    long = fakes.STATION[0]._replace(challenge="Intake and cooling inlets", answer="CLEAR")
    view = fakes.view(prompt=Prompt.STATION, title="Nose and engine bay", who="ground",
                      items=(long, *fakes.STATION[1:8]))  # fmt: skip
    sheets = fakes.every_sheet(view, Size(40, rows), Aside(listen=fakes.listen()))
    assert all(("NEXT 0" in sheet) is (len(sheets) > 1) for sheet in sheets)
    assert len(sheets) == (1 if rows >= 11 else 2)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_memory_items_stand_all_at_once(fakes: ModuleType, size: Size) -> None:
    view = fakes.view(
        prompt=Prompt.MEMORY_ITEMS,
        is_drill=True,
        title="Fire in start",
        memory=fakes.MEMORY,
        running=(fakes.BY_TIME,),
        modes=("demonstration", "solo"),
    )
    (seen,) = fakes.every_sheet(view, size, Aside(listen=fakes.listen()))
    assert "DRILL: FIRE IN START 7 ITEMS" in seen
    for number, item in enumerate(fakes.MEMORY, 1):
        assert f"{number} {item}" in seen
    assert "BY-TIME 0:20 LEFT: Oil pressure after firing" in seen


def test_memory_items_are_drawn_where_the_height_allows(fakes: ModuleType) -> None:
    few = {"prompt": Prompt.MEMORY_ITEMS, "is_drill": True, "memory": fakes.MEMORY[:3]}
    aside = Aside(listen=fakes.listen())
    (large,) = fakes.every_sheet(fakes.view(**few), Size(80, 24), aside)
    assert "\N{UPPER HALF BLOCK}" in large
    (small,) = fakes.every_sheet(fakes.view(**few), Size(40, 12), aside)
    assert "\N{UPPER HALF BLOCK}" not in small
    (plain,) = fakes.every_sheet(fakes.view(**few), Size(80, 24), aside._replace(blocks=False))
    assert "\N{UPPER HALF BLOCK}" not in plain


def test_more_memory_items_than_rows_turn(fakes: ModuleType) -> None:
    many = tuple(f"Lever number {n} all the way FORWARD AND LOCKED" for n in range(12))
    view = fakes.view(prompt=Prompt.MEMORY_ITEMS, is_drill=True, memory=many)
    sheets = fakes.every_sheet(view, Size(40, 12), Aside(listen=fakes.listen()))
    assert len(sheets) > 1
    assert all(item in " ".join(sheets) for item in many)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_standby_says_place_and_time_and_what_runs(fakes: ModuleType, size: Size) -> None:
    view = fakes.view(
        prompt=Prompt.STANDBY,
        standby_since=10_000,
        standby_place="Before start 34: Rotor brake",
        running=(fakes.LONG_WAIT,),
        options=("GO ON", "SECTION FROM ITS TOP"),
    )
    (seen,) = fakes.every_sheet(view, size, Aside(listen=fakes.listen()))
    for part in (
        "STANDBY 0:50 SINCE 07:40 UTC", "HELD AT BEFORE START 34: ROTOR BRAKE",
        "WAIT 1:23 LEFT: Clutch oil drains", "1 GO ON", "2 SECTION FROM ITS TOP",
    ):  # fmt: skip
        assert part in seen
    assert "\N{UPPER HALF BLOCK}" in seen
