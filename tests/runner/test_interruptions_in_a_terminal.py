"""At a real terminal of the cockpit's size: what a day puts between two items of a list, and the
copy page that holds it at the end."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from runner.host.scripted import parse
from tests.terminal_crew import work
from tests.terminal_day import (
    TO_SHUT_THE_DOORS_ENTERED,
    TO_THE_LISTS,
    demo,
    end_the_day,
    events,
    lines,
    met,
    outcomes,
    verified,
)
from tests.terminal_driver import Terminal
from tests.terminal_pages import (
    COPY_AT_THE_END,
    CORRECT,
    FLIGHTS_AT_THE_END,
    KEPT,
    KEPT_AT_THE_END,
    open_page,
    put_away,
    read_through,
)

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")

COCKPIT = (40, 12)
RELEASE, HOURS = "documents.maintenance_release", "documents.hours_to_next_inspection"
PAPERS = "documents.insurance_and_registration_papers"
TO_THE_THIRD = (*TO_THE_LISTS, "commander: signed, in date", "copilot: 38.4")


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


def stand_by(screen: Terminal, ms: int) -> None:
    """Holds the list by its key for so long, and goes on by the large one."""
    screen.see_text("3 OPEN DEFECTS")
    screen.key("f3", after_ms=1000)
    screen.see_text("HELD AT DOCUMENTS AND RELEASE 3: OPEN DEFECTS")
    screen.passes(ms)
    minutes, seconds = divmod(ms // 1000, 60)
    screen.see_text(f"STANDBY {minutes}:{seconds:02} SINCE 21:50 UTC")
    screen.key("+", after_ms=1)
    screen.see(lambda: "HELD AT" not in screen.text(), "the list goes on")


def test_a_short_standby_goes_on_where_it_was(logs: Path) -> None:
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_THIRD))
        stand_by(screen, 119_000)
        screen.see_text("1 NONE OPEN")
    assert outcomes(logs, "standby", "resumed", "choose") == [("standby",), ("resumed",)]
    assert met(logs) == [RELEASE, HOURS]
    assert verified(logs) == "unclosed"


@pytest.mark.parametrize("top", [True, False], ids=["from its top", "here"])
def test_after_two_minutes_of_standby_the_section_is_offered(logs: Path, top: bool) -> None:
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_THIRD))
        stand_by(screen, 125_000)
        screen.see_text("1 RESUME HERE 2 SECTION FROM ITS TOP")
        screen.see_text("LAST ANSWERED: Hours to next inspection")
        # The large key means neither of the two.
        screen.key("+", after_ms=1000)
        screen.see_text("CHOOSE BY NUMBER")
        screen.key("2" if top else "1", after_ms=1000)
        screen.see_text("1 MAINTENANCE RELEASE" if top else "1 NONE OPEN")
        screen.see_text("0 OF 10" if top else "2 OF 10")
    again = [("reopened", RELEASE), ("reopened", HOURS)] if top else []
    assert outcomes(logs, "standby", "resumed", "choose", "chosen", "reopened") == [
        ("standby",), ("resumed",), ("choose", "resume", "RESUME HERE", "SECTION FROM ITS TOP"),
        *again, ("chosen", "SECTION FROM ITS TOP" if top else "RESUME HERE"),
    ]  # fmt: skip
    assert verified(logs) == "unclosed"


def test_an_item_put_off_comes_back_once(logs: Path) -> None:
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_THIRD, "commander: none open", "commander: read"))
        screen.see_text("6 INSURANCE")
        screen.key("f4", after_ms=1000)
        screen.see_text("7 FLIGHT MANUAL AND THIS CARD")
        screen.see_text("back before Licences")
        work(screen, lines("copilot: aboard, revision 6"))
        screen.see_text("BACK FROM PUT OFF: Insurance and registration papers")
        entries = len(events(logs))
        screen.key("f4", after_ms=1000)
        screen.see_text("THIS STEP CANNOT BE PUT OFF")
        assert len(events(logs)) == entries
        work(screen, lines("copilot: aboard"))
        screen.see_text("8 LICENCES")
    assert outcomes(logs, "put off", "back") == [("put off", PAPERS), ("back", PAPERS)]
    assert met(logs)[-2:] == ["documents.flight_manual_and_this_card", PAPERS]
    assert verified(logs) == "unclosed"


def test_an_earlier_answer_is_corrected_from_its_page(logs: Path) -> None:
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_THIRD, "commander: none open"))
        screen.see_text("5 LAST FLIGHT'S SNAGS")
        open_page(screen, CORRECT, "CORRECT WHICH ANSWER?")
        screen.see_text("2 Hours to next inspection (2), WAS 38.4 h")
        screen.key("2", after_ms=1000)
        screen.see_text("WORDS correct Hours to next inspection")
        screen.key("4", "1", after_ms=100)
        screen.see_text("inspection 41")
        assert outcomes(logs, "corrected") == []
        screen.key("enter")
        screen.see_text("WAS THREE EIGHT DECIMAL FOUR, NOW FOUR ONE")
        # What was asked is asked still.
        screen.see_text("5 LAST FLIGHT'S SNAGS")
    assert outcomes(logs, "corrected") == [("corrected", HOURS, "38.4", "41")]
    assert verified(logs) == "unclosed"


def test_a_correction_out_of_limits_opens_the_step_again(logs: Path) -> None:
    """Two hours are too few: what was met is not, however far the list has come since."""
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_THIRD, "commander: none open"))
        work(screen, lines("correct hours to next inspection 2.0"))
        screen.see(
            lambda: (
                "2 HOURS TO NEXT INSPECTION" in screen.text()
                and "5 LAST FLIGHT'S SNAGS" not in screen.text()
            ),
            "the step asked again, in place of the one that was",
        )
    assert outcomes(logs, "corrected") == [("corrected", HOURS, "38.4", "2.0")]
    assert outcomes(logs, "list closed") == []
    assert verified(logs) == "unclosed"


def test_a_snag_is_kept_and_the_list_does_not_move(logs: Path) -> None:
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_THIRD))
        screen.see_text("3 OPEN DEFECTS")
        screen.key("f5", after_ms=1000)
        screen.see_text("WORDS snag")
        screen.key("vibration, left pedal")
        screen.see_text("WORDS snag vibration, left pedal")
        assert outcomes(logs, "noted") == []
        screen.key("enter")
        screen.see_text("NOTED, SNAG: vibration, left pedal")
        screen.see_text("3 OPEN DEFECTS")
        open_page(screen, KEPT, "SNAGS AND DEFECTS")
        assert "1. vibration, left pedal" in read_through(screen)
        put_away(screen)
        screen.see_text("3 OPEN DEFECTS")
    assert outcomes(logs, "noted") == [("noted", "snag", "vibration, left pedal")]
    assert met(logs) == [RELEASE, HOURS]
    assert verified(logs) == "unclosed"


OPEN_WHEN_LIFTED = (
    "Open defects", "Placards for open defects", "Last flight's snags",
    "Insurance and registration papers", "Flight manual and this card", "Licences",
    "Duty and rest",
)  # fmt: skip


def test_lifted_with_items_open_and_the_copy_page_at_the_end(logs: Path) -> None:
    """The mark is taken whatever is open, the log says what; nothing nags in flight; behind the
    shutdown the figures stand on pages that a hand copies from."""
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_THIRD))
        screen.see_text("3 OPEN DEFECTS")
        screen.key("f7", after_ms=1000)
        screen.see_text("IN FLIGHT")
        lifted = outcomes(logs, "marked", "lifted")[1]
        assert lifted == ("lifted", "7", str(len(lifted) - 10), *lifted[3:-7], *OPEN_WHEN_LIFTED)
        assert {"brief", "start", "before_take_off"} <= set(lifted[3:-7])
        bells, entries, face = screen.output.count(b"\x07"), len(events(logs)), screen.face()
        for _ in range(11):
            screen.passes(10_000)
        assert screen.output.count(b"\x07") == bells
        assert len(events(logs)) == entries
        assert screen.face() == face
        work(screen, lines("snag vibration, left pedal", "mark landing"))
        screen.see(lambda: "IN FLIGHT" not in screen.text(), "the band is gone")
        work(screen, lines("discontinue"))
        work(screen, parse(TO_SHUT_THE_DOORS_ENTERED.splitlines()))
        screen.see_text("LISTS ENDED, 1 NOT DONE")
        end = read_through(screen)
        assert "LIST NOT DONE: Documents and release" in end
        open_page(screen, COPY_AT_THE_END, "COPY PAGE")
        copied = read_through(screen)
        put_away(screen)
        open_page(screen, KEPT_AT_THE_END, "SNAGS AND DEFECTS")
        assert "1. vibration, left pedal" in read_through(screen)
        put_away(screen)
        open_page(screen, FLIGHTS_AT_THE_END, "FLIGHTS OF THE DAY")
        assert "Documents and release" in read_through(screen).partition("NOT DONE")[2]
        put_away(screen)
        end_the_day(screen, logs)
    for figure in (
        "Take-off ..................... 21:50 UTC",
        "Landing ...................... 21:52 UTC",
        "Flight time ...................... 2 min",
        "Landings ............................. 1",
        "Hour meter .................... 4127.6 h",
        "Fuel left, forward tank .......... 132 L",
        "Fuel left, aft tank .............. 141 L",
        "Engine oil left ................... 32 L",
        "Defects ........................... NONE",
        "Snags ............ vibration, left pedal",
    ):
        assert figure in copied
    assert [item[:2] for item in outcomes(logs, "marked")] == [
        ("marked", "take-off"), ("marked", "landing"),
    ]  # fmt: skip
    assert verified(logs) == "closed"
