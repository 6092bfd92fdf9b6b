"""At a real terminal of the cockpit's size: two who look, who is who, and what is on paper."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from runner.host.scripted import parse
from tests.terminal_crew import work
from tests.terminal_day import (
    TO_SHUT_THE_DOORS,
    TO_THE_LISTS,
    demo,
    end_the_day,
    events,
    lines,
    met,
    only_log,
    outcomes,
    verified,
)
from tests.terminal_driver import Terminal
from tests.terminal_pages import CREW, PAPER, offered, open_page, put_away, read_through

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")

COCKPIT, WIDE = (40, 12), (80, 24)
SIZES = pytest.mark.parametrize("size", [COCKPIT, WIDE], ids=["40x12", "80x24"])
TO_BOTH_LOOK = (
    *TO_THE_LISTS, "commander: signed, in date", "copilot: 38.4", "commander: none open",
    "commander: read", "copilot: aboard", "copilot: aboard, revision 6",
)  # fmt: skip
LICENCES = "documents.licences"


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


@SIZES
def test_both_look_each_by_a_key_of_their_own(logs: Path, size: tuple[int, int]) -> None:
    with Terminal(demo(logs), *size) as screen:
        work(screen, lines(*TO_BOTH_LOOK))
        screen.see_text("TO LOOK: 1 COMMANDER 2 COPILOT")
        screen.see(lambda: offered(screen) == "BOTH LOOK 1 2", "a number for each")
        entries = len(events(logs))
        screen.key("+", after_ms=1000)
        screen.see_text("BOTH LOOK: EACH BY THE NUMBER OF THEIR OWN")
        assert len(events(logs)) == entries
        screen.key("2", after_ms=1000)
        screen.see_text("COPILOT HAS LOOKED")
        screen.see_text("TO LOOK: 1 COMMANDER")
        assert LICENCES not in met(logs)
        # The same person once more stands for nobody else.
        screen.key("2", after_ms=1000)
        screen.see_text("already")
        assert LICENCES not in met(logs)
        screen.key("1", after_ms=1000)
        screen.see_text("9 DUTY AND REST")
    looked = [
        (data["event"]["role"], tuple(data["outcome"][0]))
        for data in events(logs)[-3:]
    ]  # fmt: skip
    assert looked == [
        ("copilot", ("one of two", LICENCES, "copilot", "VALID")),
        ("copilot", ("refused", "already looked", "copilot")),
        ("commander", ("met", LICENCES, "VALID")),
    ]
    assert verified(logs) == "unclosed"


def test_not_so_of_one_asks_both_again(logs: Path) -> None:
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_BOTH_LOOK, "commander: valid"))
        screen.see_text("COMMANDER HAS LOOKED")
        screen.key("-", after_ms=1000)
        screen.see_text("8 LICENCES")
        screen.see_text("NOT MET: not so")
        screen.see_text("TO LOOK: 1 COMMANDER 2 COPILOT")
        assert LICENCES not in met(logs)
        screen.key("2", after_ms=1000)
        screen.see_text("TO LOOK: 1 COMMANDER")
        assert LICENCES not in met(logs)
        screen.key("1", after_ms=1000)
        screen.see_text("9 DUTY AND REST")
    assert outcomes(logs, "unmet") == [("unmet", LICENCES, "not so")]
    assert met(logs)[-1] == LICENCES
    assert verified(logs) == "unclosed"


def test_handling_and_monitoring_change_by_a_key(logs: Path) -> None:
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_LISTS))
        open_page(screen, CREW, "CREW")
        page = read_through(screen)
        assert "COMMANDER Ines Marlow, HANDLING" in page
        assert "COPILOT Tom Aske, MONITORING" in page
        screen.key("1", after_ms=1000)
        screen.see_text("HANDLING: copilot")
        # The duties go with the people from here on: a drill asks the one who handles now.
        work(screen, lines("drill generator failure"))
        screen.see_text("MONITORING (COMMANDER)")
        open_page(screen, CREW, "CREW")
        screen.see_text("COPILOT Tom Aske, HANDLING")
    assert outcomes(logs, "crew") == [("crew", "handling", "copilot")]
    assert met(logs) == []
    assert verified(logs) == "unclosed"


def closing_names(logs: Path) -> list[str]:
    """Who signed the closed log, in its order."""
    with only_log(logs).open(encoding="utf-8") as stream:
        bodies = [json.loads(row)["body"] for row in stream]
    return [body["data"]["name"] for body in bodies if body["type"] == "close-sig"]


def test_a_crew_change_is_seen_answered_and_signed_for(logs: Path) -> None:
    """The newcomer sees the place and what is open, answers by name, and signs with the others,
    the one who left among them."""
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_LISTS, "commander: signed, in date"))
        screen.see_text("COPILOT Tom Aske")
        open_page(screen, CREW, "CREW")
        page = read_through(screen)
        for words in (
            "3 COPILOT: SOMEBODY TAKES OVER",
            "PLACE: Documents and release, 2 Hours to next inspection, 1 OF 10",
            "ENGINE STOPPED, ROTOR STOPPED",
            "DOCUMENTS AND RELEASE, 8 OPEN",
            "SIGNATURE OWED by Ines Marlow, Tom Aske, Per Lund: for closing the log",
        ):
            assert words in page
        screen.key("3", after_ms=1000)
        screen.see_text("WORDS crew copilot:")
        screen.key("Nora Finch")
        screen.see_text("Nora Finch")
        assert outcomes(logs, "crew") == []
        screen.key("enter")
        screen.see_text("COPILOT: Nora Finch")
        screen.see_text("COPILOT Nora Finch ANSWERS")
        screen.see_text("LIMIT AT LEAST 3 h")
        # The list stands where it stood.
        screen.see_text("1 OF 10")
        work(screen, lines("copilot: 38.4", "discontinue"))
        work(screen, parse(TO_SHUT_THE_DOORS.splitlines()))
        end_the_day(screen, logs)
    assert ("crew", "copilot", "Nora Finch") in outcomes(logs)
    assert sorted(closing_names(logs)) == ["Ines Marlow", "Nora Finch", "Per Lund", "Tom Aske"]
    assert verified(logs) == "closed"


def test_nobody_takes_two_roles(logs: Path) -> None:
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_LISTS))
        open_page(screen, CREW, "CREW")
        screen.key("3", after_ms=1000)
        screen.see_text("WORDS crew copilot:")
        screen.key("Ines Marlow")
        screen.see_text("Ines Marlow")
        screen.key("enter")
        screen.see_text("Two roles want two people.")
        open_page(screen, CREW, "CREW")
        screen.see_text("COPILOT Tom Aske, MONITORING")
    assert outcomes(logs, "crew") == []
    assert verified(logs) == "unclosed"


@SIZES
def test_a_range_on_paper_is_vouched_for_by_one(logs: Path, size: tuple[int, int]) -> None:
    """Ordinary steps are done by it; what is critical and what is measured is asked as ever."""
    with Terminal(demo(logs), *size) as screen:
        work(screen, lines(*TO_THE_LISTS))
        open_page(screen, PAPER, "ON PAPER, REVISION 6")
        page = read_through(screen)
        assert "Documents and release" in page
        assert "1 TO 10" in page
        screen.key("1", after_ms=1000)
        screen.see_text("FROM 1 ENTER, then the last")
        screen.key("enter")
        screen.see_text("FROM 1 TO")
        screen.key("1", "0", after_ms=1000)
        screen.see_text("FROM 1 TO 10")
        entries = len(events(logs))
        screen.key("enter")
        screen.see_text("1 TO 10 ON PAPER, CARD REVISION 6, BY COMMANDER")
        screen.key("2", after_ms=100)
        screen.see_text("TOO SOON")
        assert len(events(logs)) == entries
        screen.key("2", after_ms=1000)
        screen.see_text("ON PAPER: 5 TO 7; STILL ASKED: 1 TO 4, 8 TO 10")
        # The release is critical, the hours have a limit.
        screen.see_text("1 MAINTENANCE RELEASE")
        work(screen, lines("commander: signed, in date"))
        screen.see_text("LIMIT AT LEAST 3 h")
    paper = next(data["event"] for data in events(logs) if data["event"]["kind"] == "on paper")
    told = (paper["first"], paper["last"], paper["revision"], paper["role"])
    assert told == (1, 10, "6", "copilot")
    assert outcomes(logs, "paper") == [("paper", "1", "10")]
    assert met(logs) == ["documents.maintenance_release"]
    assert verified(logs) == "unclosed"


def test_numbers_that_the_card_does_not_have_are_said_at_once(logs: Path) -> None:
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_LISTS))
        entries = len(events(logs))
        open_page(screen, PAPER, "ON PAPER, REVISION 6")
        screen.key("enter")
        screen.see_text("TYPE THE FIRST NUMBER OF THE CARD")
        screen.key("9", "8", "7", after_ms=1000)
        screen.see_text("FROM 987")
        screen.key("enter")
        screen.see_text("THE CARD HAS NO 987")
        screen.key("5", after_ms=1000)
        screen.see_text("FROM 5")
        screen.key("enter")
        screen.see_text("FROM 5 TO")
        screen.key("4", after_ms=1000)
        screen.see_text("FROM 5 TO 4")
        screen.key("enter")
        screen.see_text("THE LAST IS NOT BEFORE 5")
        put_away(screen)
        screen.see_text("1 MAINTENANCE RELEASE")
        assert len(events(logs)) == entries
    assert verified(logs) == "unclosed"
