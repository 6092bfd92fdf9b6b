"""Keys on the pages over a list: a digit picks what stands, 0 turns, and two keys are two keys."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest

from runner.engine.effects import Prompt
from runner.terminal.aside import Size
from runner.terminal.keystate import GUARD_MS, SECOND, Page

SMALL = Size(40, 12)


@pytest.fixture
def pad(fakes: ModuleType) -> Any:
    def make(size: Size = SMALL, **changes: Any) -> Any:
        return fakes.Pad(fakes.view(**changes), size)

    return make


@pytest.mark.parametrize("size", [Size(40, 12), Size(80, 24), Size(40, 7)], ids=str)
def test_every_drill_is_reached_by_the_number_before_it(
    pad: Any, fakes: ModuleType, size: Size
) -> None:
    for _, title in fakes.DRILLS:
        one = pad(size).key("*")
        for _ in range(12):
            if title in one.screen:
                break
            one.key("0")
        before = one.screen.partition(f" {title}")[0]
        assert one.key(before[-1]).sent == [f"drill {title}"]


def test_a_number_that_does_not_stand_there_opens_nothing(pad: Any) -> None:
    one = pad(Size(40, 7)).key("*", "9")
    assert one.sent == []
    assert "NO NUMBER 9 HERE" in one.screen


def test_pages_turn_on_and_back_and_begin_at_the_first_sheet(pad: Any) -> None:
    one = pad().key("*", "pagedown")
    assert "2 OF 2" in one.screen
    assert "1 OF 2" in one.key("pageup").screen
    assert "1 OF 2" in one.key("0", "backspace", "*").screen


def test_where_the_lists_are_closed_a_number_goes_on(pad: Any) -> None:
    closed = {"prompt": Prompt.CLOSED}
    assert pad(**closed).key("5").sent == ["next flight"]
    for key, page in (
        ("1", Page.COPY), ("2", Page.KEPT), ("3", Page.FLIGHTS), ("4", Page.RECEIPT),
    ):  # fmt: skip
        one = pad(**closed).key(key)
        assert one.state.page is page
        assert one.sent == []
    assert pad(**closed).key("6").sent == []
    assert pad(**closed).key("5", after=GUARD_MS - 1).sent == []


def test_a_next_flight_that_would_be_refused_is_not_offered(pad: Any) -> None:
    """And no other line of the page takes its number."""
    one = pad(prompt=Prompt.CLOSED, may_begin_next=False)
    assert "NEXT FLIGHT" not in one.screen
    assert "4 RECEIPT" in one.screen
    assert one.key("5").did == []
    assert "NO NUMBER 5 HERE" in one.screen


def test_the_receipt_is_made_where_the_lists_are_closed(pad: Any) -> None:
    one = pad().key("/", "0", "0", "0", "5")
    assert one.state.page is Page.NONE
    assert "THE RECEIPT COMES WHERE THE LISTS ARE CLOSED" in one.screen
    assert pad(prompt=Prompt.CLOSED).key("/", "0", "0", "0", "5").state.page is Page.RECEIPT


def test_the_crew_page_hands_over_and_takes_over(pad: Any) -> None:
    assert pad().key("/", "0", "0", "4", "1").sent == ["hand over"]
    one = pad().key("/", "0", "0", "4", "3")
    assert one.state.line == "crew copilot: "
    assert one.key(*"A New", "enter").sent == ["crew copilot: A New"]


def test_a_correction_names_what_it_corrects(pad: Any) -> None:
    one = pad().key("/", "0", "6")
    assert one.state.page is Page.CORRECT
    assert one.key("1").state.line == "correct Fuel selector "
    assert one.key(*"54", "enter").sent == ["correct Fuel selector 54"]
    nothing = pad(before=()).key("/", "0", "6")
    assert nothing.state.page is Page.NONE
    assert "NOTHING IS ANSWERED YET" in nothing.screen


def test_the_last_answer_is_named_at_the_first_step_of_a_list_and_stands_once(
    pad: Any, fakes: ModuleType
) -> None:
    first, _, last = fakes.view().before
    one = pad(before=(), latest=last).key("/", "0", "6")
    assert "1 Fuel selector (33), WAS BOTH" in one.screen
    assert one.key("1").state.line == "correct Fuel selector "
    keyed = last._replace(key="before_start.fuel")
    one = pad(before=(first, keyed), latest=keyed).key("/", "0", "6")
    assert one.screen.count("Fuel selector") == 1
    assert "2 Seats and harness (31), WAS SECURE" in one.screen


def test_what_is_read_back_is_corrected_by_its_name_and_value(pad: Any) -> None:
    one = pad(prompt=Prompt.READ_BACK, read_back="1600", challenge="Engine RPM").key("/", "0", "6")
    assert "1 Engine RPM (34), READ BACK 1600" in one.screen
    assert one.key("1", "1", "5", "enter").sent == ["correction 15"]


@pytest.mark.parametrize("size", [Size(40, 12), Size(80, 24), Size(120, 40)], ids=str)
def test_a_run_for_the_wrong_aircraft_offers_no_way_on(
    pad: Any, fakes: ModuleType, size: Size
) -> None:
    left = fakes.LISTS[3]._replace(status="not done", why="wrong aircraft")
    ended = {"prompt": Prompt.CLOSED, "lists": (left,), "title": "", **fakes.KEPT}
    one = pad(size, **ended)
    assert "RUN ENDED: WRONG AIRCRAFT" in one.screen
    assert "The placard is not that of G-TVSA. Nothing is carried over." in one.screen
    for word in ("NEXT FLIGHT", "LISTS", "vibration", "Landing lamp", "PUT OFF"):
        assert word not in one.screen
    for digit in "123456789":
        assert one.key(digit).sent == []
        assert one.state.page is Page.NONE
    assert one.key("/", "0", "0", "1").sent == []
    assert "WRONG AIRCRAFT: THIS RUN HAS ENDED" in one.screen
    assert one.key("+").sent == []
    assert one.key("+").sent == ["end of day"]


def test_what_happened_by_number_and_maintenance_by_its_entry(pad: Any) -> None:
    said = ("refuelled", "maintenance", "crew change")
    keys = ("/", "0", "0", "5")
    assert pad(happenings=said).key(*keys, "2").sent == ["happened crew change"]
    assert pad(happenings=said).key(*keys, "3").sent == []
    assert pad().key("/", "0", "0", "6").state.line == "maintenance "


def test_another_list_of_the_group_by_number(pad: Any, fakes: ModuleType) -> None:
    lists = (*fakes.LISTS, fakes.LISTS[3]._replace(key="fuel", title="Fuel", status="open"))
    assert pad(lists=lists).key("/", "0", "0", "2", "1").sent == ["turn to Fuel"]
    one = pad().key("/", "0", "0", "2")
    assert "NO OTHER LIST OF THIS GROUP IS OPEN" in one.screen


@pytest.mark.parametrize(
    ("keys", "page"),
    [
        (("/", "0", "0", "3"), Page.PAPER),
        (("/", "0", "0", "8"), Page.DOCUMENTS),
        (("/", "0", "0", "9"), Page.KEYS),
        (("/", "0", "0", "0", "1"), Page.OPEN),
        (("/", "0", "0", "0", "2"), Page.FLIGHTS),
        (("/", "0", "0", "0", "3"), Page.KEPT),
        (("/", "0", "0", "0", "4"), Page.COPY),
    ],
)
def test_pages_by_number_and_back(pad: Any, keys: tuple[str, ...], page: Page) -> None:
    one = pad().key(*keys)
    assert one.state.page is page
    assert one.did == []
    assert one.key("/").state.page is Page.NONE
    assert one.did == []


@pytest.mark.parametrize("key", ["-", "n", "N"])
def test_not_so_closes_no_page_and_answers_nothing_there(pad: Any, key: str) -> None:
    """It has one meaning, an answer; the key that closes a page is named instead."""
    closing = {Page.NONE, Page.MORE, *SECOND}
    for page in set(Page) - closing:
        one = pad(accept_class="commander")
        one.state = one.state._replace(page=page)
        assert one.key(key).state.page is page
        assert one.sent == []
        assert "NOT SO IS NO ANSWER HERE; / GOES BACK" in one.screen
        assert one.key("/").state.page is Page.NONE
    for page in SECOND:
        one = pad(accept_class="commander")
        one.state = one.state._replace(page=page)
        assert one.key(key).state.page is Page.NONE
        assert one.sent == []


def test_a_number_that_no_command_has(pad: Any) -> None:
    one = pad().key("/", "0", "0", "0", "9")
    assert "NO NUMBER 9 HERE" in one.screen
    assert one.did == []


def test_a_page_to_look_at_answers_nothing(pad: Any) -> None:
    for keys in (("/", "0", "0", "0", "2"), ("f12",)):
        one = pad().key(*keys).key(*"123456789", "+", "enter", ".")
        assert one.sent == []


def test_drills_open_from_every_page(pad: Any) -> None:
    for page in set(Page) - {Page.NONE, Page.DRILLS}:
        one = pad(accept_class="commander")
        one.state = one.state._replace(page=page)
        assert one.key("*").state.page is Page.DRILLS
