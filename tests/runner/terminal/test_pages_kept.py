"""Crew, open items, snags and defects, the copy page: nothing left out, what is not known said."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest

from runner.engine.effects import Line
from runner.terminal.aside import Aside, Size
from runner.terminal.keystate import KeyState, Page
from runner.terminal.open_items import open_counts
from runner.terminal.shell import Owed

SIZES = [Size(40, 12), Size(80, 24), Size(120, 40)]


@pytest.fixture
def look(fakes: ModuleType) -> Any:
    def make(page: Page, size: Size, **changes: Any) -> list[str]:
        aside = Aside(keys=KeyState(page=page), listen=fakes.listen(), registration="G-TVSA")
        return [
            " ".join(word for word in seen.split() if set(word) != {"."})
            for seen in fakes.every_sheet(fakes.view(**changes), size, aside)
        ]

    return make


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_a_newcomer_sees_who_where_and_what_is_left(
    look: Any, fakes: ModuleType, size: Size
) -> None:
    sheets = look(Page.CREW, size, **fakes.KEPT)
    for part in (
        "COMMANDER J Hale, HANDLING", "COPILOT R Byrne, MONITORING",
        "1 HAND OVER: HANDLING TO COPILOT", "2 COMMANDER: SOMEBODY TAKES OVER",
        "3 COPILOT: SOMEBODY TAKES OVER", "4 GROUND JOINS",
    ):  # fmt: skip
        assert part in sheets[0]
    seen = " ".join(sheets)
    for part in (
        "PLACE: Before start, 34 Rotor brake, 6 OF 12", "ENGINE STOPPED, ROTOR STOPPED",
        "BEFORE START, 1 OPEN", "START, 1 OPEN", "NOT MET: 51 Left magneto drop",
        "PUT OFF: 28 Cabin heater", "COMMANDER ACCEPTS: 36 Throttle, OPEN: Operation cannot wait",
        "DEFECT: Landing lamp out", "SNAG: vibration, left pedal",
    ):  # fmt: skip
        assert part in seen


def test_a_newcomer_sees_what_turns_and_where_no_list_is_open(look: Any) -> None:
    flying = {"engine_running": True, "rotor_turning": True, "airborne": True}
    seen = " ".join(look(Page.CREW, Size(80, 24), **flying, is_drill=True, title="Gearbox hot"))
    assert "ENGINE RUNNING, ROTOR TURNING, IN FLIGHT" in seen
    assert "PLACE: DRILL Gearbox hot" in seen
    assert "PLACE: no list is open" in " ".join(look(Page.CREW, Size(80, 24), title=""))
    alone = {"crew": (("commander", "J Hale"),), "handling": "commander"}
    seen = " ".join(look(Page.CREW, Size(80, 24), **alone))
    assert "HAND OVER" not in seen
    assert "2 COPILOT JOINS" in seen


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_open_items_of_every_list(look: Any, fakes: ModuleType, size: Size) -> None:
    seen = " ".join(look(Page.OPEN, size, **fakes.KEPT))
    for part in (
        "BEFORE START, 1 OPEN", "35 Wheel brakes", "START, 1 OPEN",
        "51 Left magneto drop: NOT MET", "PUT OFF (2)",
        "12 Right side fuel drain, back before Rotor engagement", "28 Cabin heater",
        "COMMANDER ACCEPTS (1)", "36 Throttle, OPEN: Operation cannot wait",
    ):  # fmt: skip
        assert part in seen
    assert "NOTHING IS OPEN, PUT OFF OR ACCEPTED" in look(Page.OPEN, size)[0]


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_snags_and_defects(look: Any, fakes: ModuleType, size: Size) -> None:
    many = tuple(f"something noticed at place number {n}" for n in range(1, 15))
    snag, defect, flag = fakes.KEPT["kept"]
    snags = (snag._replace(text=text) for text in many)
    seen = " ".join(look(Page.KEPT, size, kept=(*snags, defect, flag)))
    assert "SNAGS, TO BE WRITTEN UP (14)" in seen
    for number, text in enumerate(many, 1):
        assert f"{number}. {text}" in seen
    assert "1. something noticed at place number 1 07:51 UTC, Before start, Oil temp" in seen
    assert "1. Landing lamp out from an earlier run" in seen
    assert "1. Oil temperature corrected behind a closed list 07:52 UTC, Start" in seen
    grounded = look(Page.KEPT, size, kept=(defect._replace(grounding=True),))
    assert "1. Landing lamp out: AIRCRAFT NOT TO BE FLOWN" in grounded[0]
    assert "NO SNAG AND NO DEFECT IS KEPT" in look(Page.KEPT, size)[0]


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_every_figure_in_the_operators_order(look: Any, fakes: ModuleType, size: Size) -> None:
    sheets = look(Page.COPY, size, figures=fakes.FIGURES)
    seen = " ".join(sheets)
    at = 0
    for figure in fakes.FIGURES:
        said = f"{figure.label} {figure.value or 'not known'}"
        at = seen.index(said, at) + 1
    for part in ("FLIGHT 1", "FLIGHT 2", "DAY", "06:13 UTC", "540 L", "not that it was done"):
        assert part in seen
    assert f"1 OF {len(sheets)} NEXT 0" in sheets[0]
    assert "No figure is kept" in look(Page.COPY, size)[0]


def test_figures_are_drawn_large_where_there_is_room(look: Any, fakes: ModuleType) -> None:
    drawn = look(Page.COPY, Size(80, 24), figures=fakes.FIGURES)
    assert all("\N{UPPER HALF BLOCK}" in sheet for sheet in drawn)
    small = look(Page.COPY, Size(40, 12), figures=fakes.FIGURES)
    assert not any("\N{UPPER HALF BLOCK}" in sheet for sheet in small)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_who_owes_a_signature_is_named_and_when_it_is_given(fakes: ModuleType, size: Size) -> None:
    owed = (
        Owed(("R Byrne",), "for taking the run up again"),
        Owed(("J Hale", "R Byrne"), "for closing the log"),
    )
    aside = Aside(keys=KeyState(page=Page.CREW), owed=owed)
    seen = " ".join(fakes.every_sheet(fakes.view(), size, aside))
    at_the_end = "given at END OF DAY, after shutdown"
    assert f"SIGNATURE OWED by R Byrne: for taking the run up again, {at_the_end}" in seen
    assert f"SIGNATURE OWED by J Hale, R Byrne: for closing the log, {at_the_end}" in seen
    nobody = aside._replace(owed=())
    assert "SIGNATURE" not in " ".join(fakes.every_sheet(fakes.view(), size, nobody))


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_two_counts_of_one_list_say_what_each_counts(
    look: Any, fakes: ModuleType, size: Any
) -> None:
    lines = tuple(
        Line(n, f"Step {n}", "SET", "", "open", key=f"before_start.s{n}") for n in range(1, 10)
    )
    seen = " ".join(look(Page.OPEN, size, open_lines=lines, done=0, required=10))
    assert "BEFORE START, 9 OPEN" in seen
    assert "0 OF 10: STEPS REQUIRED BY NOW, AND THE CLOSING CALL" in seen
    seen = " ".join(look(Page.OPEN, size, open_lines=lines, done=0, required=10, title="Cabin"))
    assert "CLOSING CALL" not in seen


def test_a_count_of_the_list_that_is_asked_says_that_its_closing_call_is_no_part(
    fakes: ModuleType,
) -> None:
    here = Line(1, "Step", "SET", "", "open", key="before_start.s")
    there = here._replace(key="start.s")
    view = fakes.view(open_lines=(here, there), put_off=())
    assert open_counts(view) == [
        "BEFORE START, 1 OPEN AND ITS CLOSING CALL",
        "START, 1 OPEN",
    ]
