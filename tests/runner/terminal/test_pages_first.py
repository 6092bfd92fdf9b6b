"""The first page and the documents: what must be read, in order, and nothing lost at any size."""

from __future__ import annotations

import hashlib
from types import ModuleType
from typing import Any

import pytest

from runner.engine.effects import KeptLine, Prompt
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.keystate import KeyState, Page
from runner.terminal.layout import cut_of, screen
from runner.terminal.pages_first import SAFETY_NOTE
from runner.terminal.rows import Tone, row_text
from runner.terminal.shell import Document

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
    assert fewer == 8


def test_the_title_asks_for_no_more_than_must_be_read(fakes: ModuleType, beside: Aside) -> None:
    view, size = fakes.view(**PAGE), Size(80, 24)
    every = tuple(one._replace(changed_for=("commander",)) for one in fakes.DOCUMENTS)
    for documents, title in ((every, "READ ALL OF THIS"), (fakes.DOCUMENTS, "READ WHAT IS NEW")):
        first = fakes.every_sheet(view, size, beside._replace(documents=documents))[0]
        assert title in first


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


GROUNDING = KeptLine("defect", "Fire in start", -1, grounding=True)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_what_grounds_the_aircraft_stands_behind_its_registration(
    fakes: ModuleType, beside: Aside, size: Size
) -> None:
    kept = {**fakes.KEPT, "kept": (GROUNDING,), "defects": ("Landing lamp out", "Fire in start")}
    view = fakes.view(**PAGE, **kept)
    sheets = fakes.every_sheet(view, size, beside)
    grounded = "AIRCRAFT NOT TO BE FLOWN: Fire in start"
    assert grounded in sheets[0]
    seen = " ".join(sheets)
    assert "DEFECT: Fire in start" not in seen
    places = [
        seen.index(text)
        for text in (
            "CORVANE C-4 G-TVSA", grounded, "DEFECT: Landing lamp out", "THIS MACHINE: Battery",
            "PUT OFF: 12", SAFETY_NOTE, "CHANGED FOR COMMANDER", "CREW: commander",
            "AS AT THE LAST RUN",
        )
    ]  # fmt: skip
    assert places == sorted(places)
    rows = screen(view, Clock(fakes.UTC_AT_ZERO, 0), size, beside)
    (row,) = (row for row in rows if grounded in row_text(row))
    assert {span.tone for span in row} == {Tone.WARNING}


def many(fakes: ModuleType, count: int, *who: str) -> tuple[Document, ...]:
    return tuple(Document(f"Document {n}", "6", f"{n:08x}", who) for n in range(1, count + 1))


def test_to_whom_everything_is_new_one_code_stands_for_all_of_it(
    fakes: ModuleType, beside: Aside
) -> None:
    names = tuple(name for _, name in fakes.CREW)
    documents = many(fakes, 52, *names)
    page = beside._replace(documents=documents, machine=())
    sheets = fakes.every_sheet(fakes.view(**PAGE), Size(40, 12), page)
    seen = " ".join(sheets)
    assert len(sheets) <= 3
    assert "ALL 52 DOCUMENTS ARE NEW: DOCUMENTS HAS THEM" in seen
    code = hashlib.sha256("".join(one.code for one in documents).encode()).hexdigest()[:8].upper()
    assert code in seen
    assert "Document 1 " in seen
    assert "00000001" in seen
    assert "00000002" not in seen
    overlay = page._replace(keys=KeyState(page=Page.DOCUMENTS))
    every = " ".join(fakes.every_sheet(fakes.view(), Size(40, 12), overlay))
    assert all(one.code.upper() in every for one in documents)
    assert code in every


def test_what_changed_for_others_is_listed_beside_what_is_all_new_to_one(
    fakes: ModuleType, beside: Aside
) -> None:
    one, two, *rest = many(fakes, 20, "R Byrne")
    documents = (one, two._replace(changed_for=("J Hale", "R Byrne")), *rest)
    page = beside._replace(documents=documents)
    seen = " ".join(fakes.every_sheet(fakes.view(**PAGE), Size(40, 12), page))
    assert "ALL 20 DOCUMENTS ARE NEW FOR COPILOT: DOCUMENTS HAS THEM" in seen
    assert "CHANGED FOR COMMANDER (1) Document 2" in seen
    assert "Document 3" not in seen


def test_a_few_documents_are_listed_even_when_all_are_new(fakes: ModuleType, beside: Aside) -> None:
    page = beside._replace(documents=many(fakes, 4, "J Hale", "R Byrne"))
    seen = " ".join(fakes.every_sheet(fakes.view(**PAGE), Size(40, 12), page))
    assert "CHANGED FOR ALL (4)" in seen
    assert all(f"0000000{n}" in seen for n in range(1, 5))


def test_the_key_of_ground_is_nobody_who_has_read(fakes: ModuleType) -> None:
    crew = (("commander", "J Hale"), ("copilot", "R Byrne"), ("ground", "A Moor"))
    one = fakes.Pad(fakes.view(**PAGE, crew=crew)).key("3")
    assert one.sent == []
    assert "3 IS GROUND, WHO IS NOT ASKED TO READ IT" in one.screen
