"""The pages that a key lays over a list, at every size: each says all that belongs to it."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest

from runner.engine.effects import Prompt, Voice
from runner.terminal.aside import Aside, Message, Size
from runner.terminal.clock import Clock
from runner.terminal.commands import COMMAND_SHEETS
from runner.terminal.keyhelp import keys_here
from runner.terminal.keystate import KeyState, Page
from runner.terminal.layout import screen
from runner.terminal.overlays import TITLES
from runner.terminal.rows import Tone

SIZES = [Size(40, 12), Size(80, 24), Size(120, 40)]
EXPECTED = {
    Page.DRILLS: ["1 Fire in start", "6 Clutch slip or needles not joining", "Droop stop not in"],
    Page.MORE: ["5 SNAG", "9 DISCONTINUE", "9 LEAVE OPEN", "1 NEXT FLIGHT", "4 COPY PAGE"],
    Page.OPTIONS: ["1 WAIT ON", "2 DISCONTINUE"],
    Page.TIMERS: ["1 Oil pressure after firing", "2 Starter"],
    Page.LISTS: ["1 Fuel", "2 Cabin"],
    Page.CORRECT: [
        "1 Fuel selector (33), WAS BOTH",
        "2 Seats and harness (31), WAS SECURE",
    ],
    Page.HAPPENED: ["1 REFUELLED", "2 CREW CHANGE"],
    Page.FAULT: ["1 Nose cowl latches", "7 Battery door", "9 Forward fuel drain"],
    Page.ACCEPT: ["below 1550 rpm", "1 Instrument known", "5 Other, written after shutdown"],
    Page.ACCEPT_SURE: ["below 1550 rpm", "34 ROTOR BRAKE", "Operation cannot wait", "+ ACCEPTS"],
    Page.DISCONTINUE: ["ENGINE TURNING", "limits of that list still hold", "+ DISCONTINUES"],
    Page.LEAVE: ["can be resumed", "+ LEAVES"],
    Page.END: ["END OF DAY?", "signed and closed", "+ ENDS THE DAY"],
    Page.WRONG: ["This run is for G-TVSA", "nothing is carried over", "+ ENDS THE RUN"],
    Page.PAPER: ["ON PAPER, REVISION 6", "FROM 31 ENTER", "Before start", "31 TO 47", "48 TO 60"],
    Page.PAPER_SURE: ["31 TO 47 ON PAPER, CARD REVISION 6, BY COMMANDER", "In Before start."],
    Page.CREW: ["COMMANDER J Hale, HANDLING", "1 HAND OVER"],
    Page.OPEN: ["35 Wheel brakes"],
    Page.FLIGHTS: ["FLIGHT 2, BEGUN 08:00 UTC, NOW"],
    Page.KEPT: ["1. vibration, left pedal"],
    Page.COPY: ["Oil added"],
    Page.DOCUMENTS: ["0A1B2C3D"],
    Page.RECEIPT: ["There is no receipt."],
    Page.KEYS: [
        "SPACE or +: nothing; choose",
        "N or -: not so",
        "F9: discontinue",
        "0 or PAGE DOWN",
    ],
}


@pytest.fixture
def around(fakes: ModuleType) -> dict[str, Any]:
    return {
        **fakes.KEPT,
        "accept_class": "commander",
        "unmet_why": "below 1550 rpm",
        "options": ("WAIT ON", "DISCONTINUE"),
        "items": fakes.STATION,
        "figures": fakes.FIGURES,
        "flights": fakes.FLIGHTS,
        "card": fakes.CARD,
        "happenings": ("refuelled", "maintenance", "crew change"),
        "engine_running": True,
        "lists": (
            *fakes.LISTS,
            fakes.LISTS[3]._replace(key="fuel", title="Fuel", status="open"),
            fakes.LISTS[3]._replace(key="cabin", title="Cabin", status="open"),
        ),
    }


def test_every_page_has_a_title_and_is_looked_at_here() -> None:
    pages = set(Page) - {Page.NONE}
    assert set(TITLES) == set(EXPECTED) == pages


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("page", list(EXPECTED))
def test_page(fakes: ModuleType, around: dict[str, Any], size: Size, page: Page) -> None:
    typed = {Page.PAPER: ("", "31"), Page.PAPER_SURE: ("31", "47")}.get(page, ("", ""))
    keys = KeyState(
        page=page, reason=fakes.REASONS[2], note="NO NUMBER 7 HERE", first=typed[0], typed=typed[1]
    )
    aside = Aside(
        keys=keys, listen=fakes.listen(), registration="G-TVSA", documents=fakes.DOCUMENTS
    )
    sheets = fakes.every_sheet(fakes.view(**around), size, aside)
    seen = " ".join(sheets)
    assert all(part in seen for part in EXPECTED[page]), seen
    for number, sheet in enumerate(sheets, 1):
        assert TITLES[page] in sheet
        assert "NO NUMBER 7 HERE" in sheet
        assert "DEMONSTRATION" in sheet
        assert (f"{number} OF {len(sheets)} NEXT 0" in sheet) is (len(sheets) > 1)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_what_is_urgent_stands_on_every_sheet(fakes: ModuleType, size: Size) -> None:
    message = Message("TWENTY SECONDS", Voice.TIMER, urgent=True)
    aside = Aside(keys=KeyState(page=Page.DRILLS), listen=fakes.listen(), messages=(message,))
    view = fakes.view(running=(fakes.LONG_WAIT, fakes.BY_TIME))
    for sheet in fakes.every_sheet(view, size, aside):
        assert "BY-TIME 0:20 LEFT: Oil pressure after firing" in sheet
        assert "TWENTY SECONDS" in sheet


def test_the_commands_keep_their_numbers_at_every_size(fakes: ModuleType) -> None:
    aside = Aside(keys=KeyState(page=Page.MORE), listen=fakes.listen())
    for size in (*SIZES, Size(40, 8), Size(41, 9), Size(56, 12)):
        for sheet, commands in zip(
            fakes.every_sheet(fakes.view(), size, aside), COMMAND_SHEETS, strict=True
        ):
            for number, command in enumerate(commands, 1):
                label = {"mark": "MARK TAKE-OFF"}.get(command.send, command.label)
                assert f"{number} {label}" in sheet


def test_commands_say_their_help_and_their_function_key(fakes: ModuleType) -> None:
    aside = Aside(keys=KeyState(page=Page.MORE), listen=fakes.listen())
    first = fakes.every_sheet(fakes.view(), Size(80, 24), aside)[0]
    assert "9 DISCONTINUE F9 the way to the shutdown list" in first
    narrow = fakes.every_sheet(fakes.view(), Size(40, 12), aside)
    assert "9 DISCONTINUE F9" in narrow[0]
    assert "9 KEYS F12" in narrow[2]


def test_discontinue_says_what_turns(fakes: ModuleType) -> None:
    aside = Aside(keys=KeyState(page=Page.DISCONTINUE), listen=fakes.listen())

    def said(**changes: Any) -> str:
        (seen,) = fakes.every_sheet(fakes.view(**changes), Size(40, 12), aside)
        return str(seen)

    assert "NOTHING TURNS. Leads to: the shutdown list." in said()
    assert "Leads to: Switches and fuel off." in said(way_out="Switches and fuel off")
    assert "ENGINE AND ROTOR TURNING" in said(engine_running=True, rotor_turning=True)
    assert "ROTOR TURNING; IN FLIGHT" in said(rotor_turning=True, airborne=True)


def test_emergency_says_that_it_opens_a_defect(fakes: ModuleType) -> None:
    keys = KeyState(page=Page.ACCEPT_SURE, reason=fakes.REASONS[0])
    view = fakes.view(accept_class="emergency only", unmet_why="below 1550 rpm")
    (seen,) = fakes.every_sheet(view, Size(40, 12), Aside(keys=keys, listen=fakes.listen()))
    assert "CONTINUE, EMERGENCY ONLY" in seen
    assert "Opens a defect." in seen


def test_the_title_of_the_drills_stands_out_from_edge_to_edge(fakes: ModuleType) -> None:
    aside = Aside(keys=KeyState(page=Page.DRILLS), listen=fakes.listen())
    rows = screen(fakes.view(), Clock(0, 0), Size(40, 12), aside)
    assert {span.tone for span in rows[1]} == {Tone.BAND}  # red is kept for a warning


def test_keys_here_fit_the_question(fakes: ModuleType) -> None:
    value = keys_here(fakes.view(), Aside(listen=fakes.number()))
    assert "DIGITS and . or ,: the value" in value
    station = keys_here(fakes.view(prompt=Prompt.STATION), Aside(listen=fakes.listen()))
    assert "N or -: fault, then the number of the item" in station
    assert "1 to 9: tick the item of that number" in station
    first = keys_here(fakes.view(prompt=Prompt.FIRST_PAGE), Aside(listen=fakes.listen()))
    assert any("wrong aircraft" in line for line in first)


def test_a_page_with_nothing_on_it_says_so(fakes: ModuleType) -> None:
    aside = Aside(keys=KeyState(page=Page.TIMERS), listen=fakes.listen())
    (seen,) = fakes.every_sheet(fakes.view(timers=()), Size(40, 12), aside)
    assert "NOTHING HERE" in seen
