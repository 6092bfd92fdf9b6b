"""The first page counts as read when all of it has stood; a flight begins with what it skips."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest

from runner.engine.effects import Prompt
from runner.terminal.aside import Size
from runner.terminal.keymap import Keymap
from runner.terminal.keystate import GUARD_MS, Page
from tests.runner.terminal.pad import every_sheet

SMALL = Size(40, 12)
PAGE: dict[str, Any] = {"prompt": Prompt.FIRST_PAGE, "unread": ("commander", "copilot")}


@pytest.fixture
def pad(fakes: ModuleType) -> Any:
    def make(size: Size = SMALL, **changes: Any) -> Any:
        one = fakes.Pad(fakes.view(**PAGE, **changes), size)
        one.documents = fakes.DOCUMENTS
        return one

    return make


def turns(pad: Any) -> int:
    """How many sheets the screen says there are."""
    return int(pad.screen.partition("1 OF ")[2].partition(" ")[0])


def test_nobody_confirms_what_has_not_stood_on_the_screen(pad: Any) -> None:
    one = pad()
    assert turns(one) > 2
    assert one.key("1").sent == []
    assert f"READ ON: 2 OF {turns(one)}, BY 0" in one.screen
    one.key("0", "2")
    assert one.sent == []
    assert f"READ ON: 3 OF {turns(pad())}" in one.screen


def test_each_confirms_once_all_of_it_has_stood(pad: Any) -> None:
    one = pad()
    one.key(*["0"] * (turns(one) - 1))
    assert one.key("1").sent == ["commander: page read"]
    one.ask(ask=8, unread=("copilot",))
    assert one.key("2").sent == ["commander: page read", "copilot: page read"]


def test_page_down_turns_on_and_page_up_turns_back(pad: Any) -> None:
    one = pad().key("pagedown")
    assert "2 OF" in one.screen
    assert "1 OF" in one.key("pageup").screen
    many = turns(one)
    assert f"{many} OF {many}" in one.key("pageup").screen


def test_a_sheet_that_was_skipped_is_not_read(pad: Any) -> None:
    """Backwards over the end: the last sheet has stood, the ones between have not."""
    one = pad().key("pageup", "1")
    assert one.sent == []
    assert "READ ON: 2 OF" in one.screen


def test_a_sheet_that_stood_shorter_than_the_guard_is_not_read(pad: Any) -> None:
    one = pad()
    many = turns(one)
    for key in ["0", "pagedown"] * many:
        one.key(key, after=GUARD_MS - 100)
    one.key("1")
    assert one.sent == []


def test_a_held_key_turns_one_sheet(pad: Any) -> None:
    one = pad().key("0")
    for _ in range(30):
        one.key("0", after=30)
        assert "2 OF" in one.screen


def test_another_size_in_between_makes_nothing_read(pad: Any) -> None:
    """Half of it at 40x12, then a wide screen whose first sheet ends further down."""
    one = pad().key("0")
    one.size = Size(120, 14)
    last = turns(pad(Size(120, 14)))
    assert last > 1
    assert one.key("1").sent == []
    one.key(*["0"] * last, "1")
    assert one.sent == ["commander: page read"]


def test_what_has_not_changed_need_not_be_turned_to(pad: Any, fakes: ModuleType) -> None:
    old = tuple(
        one._replace(changed_for=(), title=f"{one.title} {n}")
        for n in range(5)
        for one in fakes.DOCUMENTS
    )
    one = pad()
    one.documents = old
    many = turns(one)
    assert many > 4
    one.key("0", "0", "1")
    assert one.sent == ["commander: page read"]


def test_a_page_over_it_is_no_reading(pad: Any) -> None:
    one = pad().key("0").key("f12", after=100)
    one.key("backspace", after=5_000).key("1", after=100)
    assert one.sent == []
    assert "READ ON: 2 OF" in one.screen


def test_one_sheet_is_read_as_it_stands(pad: Any) -> None:
    one = pad(Size(120, 40))
    assert one.key("1").sent == ["commander: page read"]


def test_alone_the_key_of_as_shown_reads_it(pad: Any) -> None:
    alone = pad(modes=("single-pilot",))
    assert alone.key(" ").sent == []
    assert "READ ON: 2 OF" in alone.screen
    alone.key(*["0"] * (turns(pad()) - 1), " ")
    assert alone.sent == ["page read"]


def test_the_wrong_aircraft_takes_two_keys(pad: Any) -> None:
    one = pad().key("-")
    assert one.sent == []
    assert "WRONG AIRCRAFT? This run is for G-TVSA." in one.screen
    assert one.key("+").sent == ["wrong aircraft"]
    assert pad().key("-", "-").sent == []
    assert "READ WHAT IS NEW" in pad().key("-", "backspace").screen


def test_the_next_page_begins_at_its_first_sheet(pad: Any) -> None:
    one = pad().key("0")
    one.ask(ask=8, prompt=Prompt.ASKING)
    assert (one.state.sheet, one.state.read) == (0, 0)
    one.ask(ask=9, prompt=Prompt.FIRST_PAGE, flight=2)
    assert "1 OF" in one.screen
    assert one.key("1").sent == []


def test_a_station_keeps_its_sheet_from_tick_to_tick(fakes: ModuleType) -> None:
    long = tuple(
        line._replace(challenge=f"{line.challenge} and all that is behind it", status="open")
        for line in fakes.STATION
    )
    one = fakes.Pad(fakes.view(prompt=Prompt.STATION, items=long))
    assert one.key("9").sent == []
    assert "9 IS ON ANOTHER SHEET: TURN BY 0" in one.screen
    one.key("0")
    shown = next(n for n in range(1, 10) if f"{n} {long[n - 1].challenge.upper()}" in one.screen)
    assert one.key(str(shown)).sent == [f"tick {long[shown - 1].challenge}"]
    one.ask(ask=8)
    assert "2 OF" in one.screen
    assert one.key("1").sent == [f"tick {long[shown - 1].challenge}"]


def test_a_station_of_more_than_nine_items_is_numbered_on_each_sheet(fakes: ModuleType) -> None:
    items = tuple(
        line._replace(challenge=f"{line.challenge} {side}")
        for side in ("left", "right")
        for line in fakes.STATION
    )
    one = fakes.Pad(fakes.view(prompt=Prompt.STATION, items=items), Size(80, 24))
    assert one.key("0", "2").sent == ["tick Engine oil level right"]
    one.ask(items=items[:12])
    assert "7 STANDS AT NO ITEM HERE" in one.key("7").screen
    assert len(one.sent) == 1


NEXT: dict[str, Any] = {"ask": 8, "flight": 2}


@pytest.mark.parametrize("size", [Size(40, 12), Size(80, 24), Size(120, 40)], ids=str)
@pytest.mark.parametrize("key", ["+", " ", "/", "backspace", "talk"])
def test_a_flight_begins_with_what_it_skips_and_a_key_that_answers_nothing(
    fakes: ModuleType, size: Size, key: str
) -> None:
    pad = fakes.Pad(fakes.view(prompt=Prompt.CLOSED), size).key("5")
    assert pad.sent == ["next flight"]
    pad.ask(prompt=Prompt.ASKING, **NEXT)
    undotted = " ".join(word for word in pad.screen.split() if set(word) != {"."})
    assert "FLIGHT 2: DONE, STILL VALID + GOES ON, AND ANSWERS NOTHING" in undotted
    assert "Documents and release DONE 07:40 UTC" in undotted
    assert "Outside inspection" not in undotted
    assert pad.key(key).sent == ["next flight"]
    assert pad.state.page is Page.NONE
    assert "ROTOR BRAKE" in pad.screen
    if key in "+ ":
        assert pad.key(key, after=900).sent == ["next flight"]
        assert pad.key(key, after=2000).sent == ["next flight", "RELEASED"]


def test_nothing_lies_over_a_flight_that_skips_nothing_or_was_resumed(fakes: ModuleType) -> None:
    fresh = tuple(line for line in fakes.LISTS if line.status != "still valid")
    pad = fakes.Pad(fakes.view(prompt=Prompt.CLOSED)).key("5")
    pad.ask(prompt=Prompt.ASKING, lists=fresh, **NEXT)
    assert pad.state.page is Page.NONE
    assert fakes.Pad(fakes.view(**NEXT)).state.page is Page.NONE


def test_the_page_of_the_flights_is_whole_when_it_is_asked_for(fakes: ModuleType) -> None:
    pad = fakes.Pad(fakes.view(prompt=Prompt.CLOSED)).key("5").ask(prompt=Prompt.ASKING, **NEXT)
    pad.key("/").key("/", "pageup", "2")
    assert pad.state.page is Page.FLIGHTS
    assert "FLIGHTS OF THE DAY" in pad.screen
    assert "GOES ON" not in pad.screen


def test_a_drill_opens_over_what_a_flight_skips(fakes: ModuleType) -> None:
    pad = fakes.Pad(fakes.view(prompt=Prompt.CLOSED)).key("5").ask(prompt=Prompt.ASKING, **NEXT)
    assert pad.key("*").state.page is Page.DRILLS
    assert "1 Fire in start" in pad.screen


@pytest.mark.parametrize("words", ["page read", "commander: page read", "Copilot: Page  read."])
def test_typed_words_read_the_page_no_sooner_than_the_key(pad: Any, words: str) -> None:
    one = pad().key("0", "x", *["backspace"], *words, "enter", after=200)
    assert one.sent == []
    typed = pad().key(*words[:1], *words[1:], "enter")
    assert typed.sent == []
    assert "READ ON: 2 OF" in typed.screen
    read = pad().key(*["0"] * (turns(pad()) - 1)).key(*words, "enter")
    assert read.sent == [" ".join(words.split())]


def test_a_flight_that_begins_says_which_key_goes_on(fakes: ModuleType) -> None:
    pad = fakes.Pad(fakes.view(prompt=Prompt.CLOSED)).key("5").ask(prompt=Prompt.ASKING, **NEXT)
    assert "GOES ON + BACK / DRILLS *" in pad.screen
    assert "GOES ON" not in pad.key("/").key("/", "pageup", "2").screen


def test_in_a_run_by_voice_the_talk_key_goes_on_too(fakes: ModuleType) -> None:
    pad = fakes.Pad(fakes.view(prompt=Prompt.CLOSED)).key("5").ask(prompt=Prompt.ASKING, **NEXT)
    for voice, said in ((False, "+ GOES ON, AND"), (True, "+ OR TAB GOES ON, AND")):
        aside = pad.aside._replace(keymap=Keymap().for_voice(), voice=voice)
        (sheet,) = every_sheet(pad.view, Size(80, 24), aside)
        assert f"{said} ANSWERS NOTHING" in sheet
    pad.key("talk")
    assert "ROTOR BRAKE" in pad.screen
    pad.key("+", after=100)
    assert pad.sent == ["next flight"]
