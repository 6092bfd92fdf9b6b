"""The pages of the plain mode: everything that the screen has on pages of its own, by a word."""

from __future__ import annotations

from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

from runner.engine.effects import Figure, Prompt, View
from runner.terminal.clock import Clock
from runner.terminal.commands import local
from runner.terminal.shell import Document, Owed, Receipt
from runner.terminal.wordpages import PAGES, document_lines, page_lines


@pytest.fixture
def clock(fakes: ModuleType) -> Clock:
    return Clock(fakes.UTC_AT_ZERO, 1_000_000)


def papers(
    receipt: Receipt | None = None,
    owed: tuple[Owed, ...] = (),
    documents: tuple[Document, ...] = (),
) -> Any:
    """What a desk keeps beside the view."""
    return SimpleNamespace(
        documents=lambda: documents, receipt=lambda: receipt or Receipt(), owed=lambda: owed
    )


@pytest.fixture
def desk() -> Any:
    return papers()


@pytest.fixture
def full(fakes: ModuleType) -> View:
    view: View = fakes.view(
        **fakes.KEPT, flights=fakes.FLIGHTS, card=fakes.CARD, memory=fakes.MEMORY,
        figures=(
            Figure("Take-off", "", "UTC", 1, 600_000), Figure("Landing", "", "UTC", 1),
            Figure("Flight time", "26", "min", 1), Figure("Fuel left", "", "", 2),
        ),
    )  # fmt: skip
    return view


@pytest.mark.parametrize("word", sorted(PAGES))
def test_a_page_is_labelled_lines_and_one_that_has_nothing_says_so(
    fakes: ModuleType, full: View, clock: Clock, desk: Any, word: str
) -> None:
    lines = page_lines(f" {word.upper()} ", full, clock, desk) or []
    assert lines
    assert all(": " in line for line in lines)
    bare = fakes.view(lists=(), drills=(), crew=(), handling="", title="", number=0)
    nothing = page_lines(word, bare, clock, desk)
    assert nothing == [f"{word.upper()}: none"] or word == "crew"


def test_no_word_of_a_page_is_another_word_of_the_shell(
    full: View, clock: Clock, desk: Any
) -> None:
    assert not any(local(word) for word in PAGES)
    for said in ("memory items done", "drill fire", "crew copilot: Ida Moe", "snag smoke", "page"):
        assert page_lines(said, full, clock, desk) is None


def said(word: str, view: View, clock: Clock) -> list[str]:
    lines = page_lines(word, view, clock, papers())
    assert lines is not None
    return lines


def test_open_items_are_open_put_off_accepted_and_defective(full: View, clock: Clock) -> None:
    assert said("open items", full, clock) == [
        "OPEN: Before start, 35 Wheel brakes",
        "NOT MET: Start, 51 Left magneto drop",
        "PUT OFF: 12 Right side fuel drain, back before Rotor engagement",
        "PUT OFF: 28 Cabin heater",
        "COMMANDER ACCEPTS: 36 Throttle, OPEN: Operation cannot wait",
        "DEFECT: Landing lamp out",
        "FLAG: Oil temperature corrected behind a closed list",
    ]


def test_flights_come_latest_first_with_their_marks_and_what_ends_a_validity(
    full: View, clock: Clock
) -> None:
    lines = said("flights", full, clock)
    assert lines[0] == "FLIGHT 2: begun 08:00 UTC, now"
    assert lines[1] == (
        "LIST: Documents and release, DONE 07:40 UTC, STILL VALID, valid until maintenance"
    )
    assert "LIST: After landing, NOT DONE: FLOWN ON" in lines
    first = lines.index("FLIGHT 1: begun 07:40 UTC")
    assert lines[first + 1 : first + 3] == [
        "MARK: take-off 07:50 UTC", "MARK: landing 07:55 UTC",
    ]  # fmt: skip
    assert not any("TO COME" in line for line in lines)


def test_the_copy_page_has_times_as_utc_and_says_what_is_not_known(
    full: View, clock: Clock
) -> None:
    assert said("copy page", full, clock) == [
        "FLIGHT 1: figures for the technical log",
        "FIGURE: Take-off, 07:50 UTC",
        "FIGURE: Landing, not known yet",
        "FIGURE: Flight time, 26 min",
        "FLIGHT 2: figures for the technical log",
        "FIGURE: Fuel left, not known yet",
    ]


def test_the_crew_page_tells_a_newcomer_where_the_list_stands(full: View, clock: Clock) -> None:
    lines = said("crew", full, clock)
    assert lines[:4] == [
        "CREW: commander J Hale", "CREW: copilot R Byrne", "HANDLING: commander",
        "PLACE: Before start, 34 Rotor brake, 6 of 12 done",
    ]  # fmt: skip
    assert "PUT OFF: 28 Cabin heater" in lines
    assert lines[-1].startswith("TO TAKE OVER: crew ROLE: NAME")


def test_the_card_names_numbers_by_list_and_the_words_for_paper(full: View, clock: Clock) -> None:
    lines = said("card", full, clock)
    assert lines[1] == "CARD: 31 to 47, Before start"
    assert lines[-1].endswith("on paper 31 to 47 revision 6")


def test_drills_stand_in_their_order_and_memory_items_all_at_once(full: View, clock: Clock) -> None:
    assert said("drills", full, clock)[0] == "DRILL 1: Fire in start"
    assert said("memory items", full, clock)[6] == "MEMORY ITEM 7: Rotor brake ON if turning"


def test_a_snag_says_when_where_and_what_was_read(full: View, clock: Clock) -> None:
    assert said("snags", full, clock) == [
        "SNAG: vibration, left pedal; 07:51 UTC, Before start, Oil temperature 54 °C",
        "DEFECT: Landing lamp out; from an earlier run",
    ]


def test_documents_that_somebody_must_read_come_first() -> None:
    one, two, three = (
        Document("Start", "6", "0a1b2c3d", ()),
        Document("Fuel", "6", "11112222", ("R Byrne",)),
        Document("Taxi", "7", "aaaabbbb", ()),
    )
    assert document_lines((one, two, three)) == [
        "CHANGED FOR R Byrne: 1 document, to be read:",
        "DOCUMENT: Fuel, revision 6, code 1111 2222",
        "AS AT THE LAST RUN: 2 documents:",
        "DOCUMENT: Start, revision 6, code 0A1B 2C3D",
        "DOCUMENT: Taxi, revision 7, code AAAA BBBB",
        # 0a1b2c3d11112222aaaabbbb by another program's SHA-256 (GNU coreutils)
        "ALL DOCUMENTS: one code over all 3, 513F 8F97",
    ]
    assert document_lines((one,))[0] == "DOCUMENTS: 1, all as at everybody's last run:"
    assert document_lines(()) == []


def test_documents_are_a_page_of_their_own(full: View, clock: Clock) -> None:
    document = Document("Start", "6", "0a1b2c3d", ())
    assert page_lines("documents", full, clock, papers(documents=(document,))) == document_lines(
        (document,)
    )
    assert page_lines("documents", full, clock, papers()) == [
        "DOCUMENTS: none is named by this run"
    ]


def test_the_receipt_is_said_where_no_list_is_open(fakes: ModuleType, clock: Clock) -> None:
    given = Receipt(("4F2A", "91C0"), "Run 7, still open, last line 3", "CODE/1")
    lines = page_lines("receipt", fakes.view(prompt=Prompt.CLOSED), clock, papers(given))
    assert lines == [
        "RECEIPT: Run 7, still open, last line 3",
        "HEAD OF THE LOG: 4F2A 91C0",
        "RECEIPT CODE: CODE/1",
    ]
    early = page_lines("receipt", fakes.view(), clock, papers(given))
    assert early == ["RECEIPT: it comes where the lists are closed"]
    none = papers(Receipt(why="the log is not being written"))
    said = page_lines("receipt", fakes.view(prompt=Prompt.CLOSED), clock, none)
    assert said == ["RECEIPT: the log is not being written"]


def test_the_crew_page_says_who_owes_a_signature(full: View, clock: Clock) -> None:
    owing = papers(owed=(Owed(("J Hale", "R Byrne"), "for closing the log"),))
    assert (page_lines("crew", full, clock, owing) or [])[-1] == (
        "SIGNATURE OWED: J Hale, R Byrne: for closing the log, given at END OF DAY, after shutdown"
    )
