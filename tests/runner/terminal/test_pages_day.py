"""The pages of a day: first page, documents, flights, end; nothing of them is lost at any size."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest

from runner.engine.effects import Prompt
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.keystate import KeyState, Page
from runner.terminal.layout import cut_of
from runner.terminal.pages_day import SAFETY_NOTE, list_status

SIZES = [Size(40, 12), Size(80, 24), Size(120, 40)]
PAGE: dict[str, Any] = {"prompt": Prompt.FIRST_PAGE, "unread": ("commander", "copilot")}


@pytest.fixture
def beside(fakes: ModuleType) -> Aside:
    return Aside(
        listen=fakes.listen(),
        registration="G-TVSA",
        head_code="7K2M-QX4D",
        documents=fakes.DOCUMENTS,
        machine=("Battery 41 %, not charging",),
    )


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_the_first_page_says_all_of_it(fakes: ModuleType, beside: Aside, size: Size) -> None:
    sheets = fakes.every_sheet(fakes.view(**PAGE, **fakes.KEPT), size, beside)
    assert "CORVANE C-4 G-TVSA" in sheets[0]
    assert "Compare G-TVSA with the placard." in sheets[0]
    assert "WRONG AIRCRAFT -" in sheets[0]
    seen = " ".join(sheets)
    for part in (
        "Tarn Valley Survey, card revision 6", "FLIGHT 1", "commander J Hale", "copilot R Byrne",
        "THIS MACHINE: Battery 41 %, not charging", "DEFECT: Landing lamp out",
        "FLAG: Oil temperature corrected behind a closed list",
        "PUT OFF: 12 Right side fuel drain, back before Rotor engagement",
        "NOT MET: 51 Left magneto drop", "BEFORE START, 1 OPEN", "START, 1 OPEN",
        "COMMANDER ACCEPTS: 36 Throttle, OPEN: Operation cannot wait",
        "SNAG: vibration, left pedal", SAFETY_NOTE,
    ):  # fmt: skip
        assert part in seen
    for document in fakes.DOCUMENTS:
        assert document.title in seen
        assert document.code.upper() in seen


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_what_changed_stands_before_what_did_not(
    fakes: ModuleType, beside: Aside, size: Size
) -> None:
    seen = " ".join(fakes.every_sheet(fakes.view(**PAGE), size, beside))
    places = [
        seen.index(text)
        for text in (
            "CHANGED FOR COMMANDER, COPILOT (1)", "0A1B2C3D", "CHANGED FOR COPILOT (3)", "00000001",
            "AS AT THE LAST RUN (3)", "00000002",
        )
    ]  # fmt: skip
    assert places == sorted(places)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_what_did_not_change_need_not_be_read(fakes: ModuleType, beside: Aside, size: Size) -> None:
    """The count of what must be read is the same at every size, and ends before the unchanged."""
    clock = Clock(fakes.UTC_AT_ZERO, 0)
    view = fakes.view(**PAGE)
    must = cut_of(view, clock, size, beside).must[-1]
    old = tuple(one._replace(changed_for=()) for one in fakes.DOCUMENTS)
    fewer = cut_of(view, clock, size, beside._replace(documents=old)).must[-1]
    assert must - fewer == sum(bool(one.changed_for) for one in fakes.DOCUMENTS) == 4
    assert fewer == 7


def test_revisions_are_said_where_they_are_not_the_cards(fakes: ModuleType, beside: Aside) -> None:
    one, *others = fakes.DOCUMENTS
    mixed = beside._replace(documents=(one._replace(revision="7"), *others))
    seen = " ".join(fakes.every_sheet(fakes.view(**PAGE), Size(80, 24), mixed))
    assert "rev. 7 0A1B2C3D" in seen
    assert "rev. 6 00000001" in seen
    plain = " ".join(fakes.every_sheet(fakes.view(**PAGE), Size(80, 24), beside))
    assert "rev." not in plain


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_without_named_documents_the_lists_stand(fakes: ModuleType, size: Size) -> None:
    sheets = fakes.every_sheet(fakes.view(**PAGE), size, Aside(listen=fakes.listen()))
    seen = " ".join(sheets)
    assert all(line.title in seen for line in fakes.LISTS)
    page = Aside(keys=KeyState(page=Page.DOCUMENTS), listen=fakes.listen())
    assert "No document is named" in fakes.every_sheet(fakes.view(), size, page)[0]


def test_the_registration_is_drawn_large_where_it_can_be(fakes: ModuleType, beside: Aside) -> None:
    first = fakes.every_sheet(fakes.view(**PAGE), Size(40, 12), beside)[0]
    assert "\N{UPPER HALF BLOCK}" in first
    plain = fakes.every_sheet(fakes.view(**PAGE), Size(40, 12), beside._replace(blocks=False))[0]
    assert "\N{UPPER HALF BLOCK}" not in plain
    assert "CORVANE C-4 G-TVSA" in plain


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_the_documents_can_be_looked_at_again(fakes: ModuleType, beside: Aside, size: Size) -> None:
    page = beside._replace(keys=KeyState(page=Page.DOCUMENTS))
    seen = " ".join(fakes.every_sheet(fakes.view(), size, page))
    assert all(one.code.upper() in seen for one in fakes.DOCUMENTS)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_the_flights_of_the_day(fakes: ModuleType, beside: Aside, size: Size) -> None:
    page = beside._replace(keys=KeyState(page=Page.FLIGHTS))
    seen = " ".join(fakes.every_sheet(fakes.view(flights=fakes.FLIGHTS), size, page))
    undotted = " ".join(word for word in seen.split() if set(word) != {"."})
    for part in (
        "FLIGHT 2, BEGUN 08:00 UTC, NOW", "FLIGHT 1, BEGUN 07:40 UTC", "take-off 07:50 UTC",
        "landing 07:55 UTC", "FLIGHT 2, CURRENT Before start",
        "FLIGHT 2, DONE, STILL VALID UNTIL MAINTENANCE Documents and release 07:40 UTC",
        "STILL VALID UNTIL REFUELLED, OR STOPPED MORE THAN 30 MINUTES Outside inspection 07:55 UTC",
        "FLIGHT 2, NOT REQUIRED Cargo hook NO HOOK", "FLIGHT 2, NOT DONE After landing FLOWN ON",
        "FLIGHT 1, DONE, STILL VALID Documents and release 07:40 UTC",
        "FLIGHT 1, DONE Outside inspection 07:55 UTC", "FLIGHT 1, TO COME Start",
    ):  # fmt: skip
        assert part in undotted
    assert seen.index("FLIGHT 2, BEGUN") < seen.index("FLIGHT 1, BEGUN")


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_the_end_of_the_lists(fakes: ModuleType, beside: Aside, size: Size) -> None:
    view = fakes.view(prompt=Prompt.CLOSED, **{**fakes.KEPT, "open_lines": ()})
    sheets = fakes.every_sheet(view, size, beside)
    for part in (
        "LISTS CLOSED, NONE OPEN", "LOG SO FAR 7K2M-QX4D", "1 NEXT FLIGHT", "2 COPY PAGE",
        "3 SNAGS, DEFECTS", "4 FLIGHTS", "END OF DAY +",
    ):  # fmt: skip
        assert part in sheets[0]
    seen = " ".join(sheets)
    for part in (
        "SNAG: vibration, left pedal", "DEFECT: Landing lamp out", "take-off 07:50 UTC",
        "Shows what was answered, not that it was done.",
    ):  # fmt: skip
        assert part in seen


def test_status_of_a_list_in_words(fakes: ModuleType) -> None:
    clock = Clock(fakes.UTC_AT_ZERO, 0)
    said = [list_status(line, clock) for line in fakes.LISTS]
    assert said == [
        "DONE 07:40 UTC, STILL VALID", "DONE 07:55 UTC", "NOT REQUIRED: NO HOOK", "CURRENT",
        "TO COME", "TO COME",
    ]  # fmt: skip
