"""At a real terminal of the cockpit's size: the way out is open from every state, by one key that
says where it leads and a second, later one."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.terminal_crew import work
from tests.terminal_day import TO_THE_LISTS, demo, events, lines, met, outcomes, verified
from tests.terminal_driver import Terminal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")

COCKPIT = (40, 12)
TO_BOTH_LOOK = (
    *TO_THE_LISTS, "commander: signed, in date", "copilot: 38.4", "commander: none open",
    "commander: read", "copilot: aboard", "copilot: aboard, revision 6",
)  # fmt: skip
TO_THE_CLOSING = (
    *TO_BOTH_LOOK, "commander: valid", "copilot: valid",
    "commander: within limits", "copilot: within limits",
)  # fmt: skip
TO_A_STATION = (
    *TO_THE_CLOSING, "closed", "copilot: briefed", "copilot: 7", "copilot: 14",
    "copilot: only crew", "copilot: stays empty", "copilot: 5120", "copilot: inside envelope",
    "commander: spoken through", "copilot: spoken through", "commander: agreed", "closed",
)  # fmt: skip
TO_THE_SECOND = (*TO_THE_LISTS, "commander: signed, in date")
NOTHING_TURNS = ("NOTHING TURNS", "switches", "RADIOS AND TRANSPONDER")
IN_THE_AIR = ("IN FLIGHT", "landing", "FUEL SELECTOR")
State = Callable[[Terminal], None]


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    return tmp_path / "logs"


def said(*words: str, then: str) -> State:
    """A state that words of the crew lead to, and what shows that it stands."""

    def reach(screen: Terminal) -> None:
        work(screen, lines(*words))
        screen.see_text(then)

    return reach


def pressed(*words: str, keys: tuple[str, ...], then: str) -> State:
    """The same, by some keys after the words."""

    def reach(screen: Terminal) -> None:
        work(screen, lines(*words))
        screen.key(*keys, after_ms=1000)
        screen.see_text(then)

    return reach


STATES: dict[str, tuple[State, tuple[str, str, str]]] = {
    "a response is asked": (said(*TO_THE_LISTS, then="AS SHOWN +"), NOTHING_TURNS),
    "digits stand there": (
        pressed(*TO_THE_SECOND, keys=("3", "8"), then="TYPED 38"), NOTHING_TURNS),
    "a value is read back": (
        said(*TO_THE_SECOND, "copilot: 2.0", then="READ BACK"), NOTHING_TURNS),
    "a limit is not met": (
        said(*TO_THE_SECOND, "copilot: 2.0", "affirm", then="TOO LOW"), NOTHING_TURNS),
    "a choice is asked": (
        said(*TO_THE_SECOND, "copilot: 38.4", then="OPEN AND PERMITTED"), NOTHING_TURNS),
    "one of two has looked": (
        said(*TO_BOTH_LOOK, "commander: valid", then="BOTH LOOK 2"), NOTHING_TURNS),
    "the list is to be closed": (
        said(*TO_THE_CLOSING, then="10 DOCUMENTS AND RELEASE LIST"), NOTHING_TURNS),
    "a station": (said(*TO_A_STATION, then="NUMBER TICKS"), NOTHING_TURNS),
    "what cannot be done": (
        said(*TO_THE_LISTS, "unable", then="1 DEFECT"), NOTHING_TURNS),
    "memory items": (
        said(*TO_THE_LISTS, "drill hydraulic lock felt", then="ITEMS DONE +"), NOTHING_TURNS),
    "a caution in a drill": (
        said(*TO_THE_LISTS, "drill hydraulic lock felt", "memory items done", "let go",
             "magnetos off", then="ROGER +"), NOTHING_TURNS),
    "a wait in a drill": (
        said(*TO_THE_LISTS, "drill over-primed", "memory items done", "magnetos off",
             "mixture cut-off", "full open", "off", then="2:00 LEFT"), NOTHING_TURNS),
    "standby": (said(*TO_THE_SECOND, "stand by", then="HELD AT"), NOTHING_TURNS),
    "the drills lie over it": (
        pressed(*TO_THE_SECOND, keys=("f1",), then="DRILLS: NUMBER OPENS"), NOTHING_TURNS),
    "the commands lie over it": (
        pressed(*TO_THE_SECOND, keys=("/",), then="NUMBER OR WORDS"), NOTHING_TURNS),
    "words are typed": (
        pressed(*TO_THE_SECOND, keys=("f5",), then="WORDS snag"), NOTHING_TURNS),
    "a range on paper is typed": (
        pressed(*TO_THE_SECOND, keys=("/", "0", "0", "3", "1", "enter"), then="FROM 1 TO"),
        NOTHING_TURNS),
    "in flight": (said(*TO_THE_SECOND, "mark take-off", then="IN FLIGHT"), IN_THE_AIR),
    "a drill in flight": (
        said(*TO_THE_SECOND, "mark take-off", "drill servo failure", then="ITEMS DONE +"),
        IN_THE_AIR),
}  # fmt: skip


@pytest.mark.parametrize("state", STATES)
def test_discontinuing_leads_to_its_list_by_two_keys(logs: Path, state: str) -> None:
    reach, (turning, goal, first) = STATES[state]
    with Terminal(demo(logs), *COCKPIT) as screen:
        reach(screen)
        before, entries = met(logs), len(events(logs))
        screen.key("f9", after_ms=1000)
        screen.see_text("DISCONTINUE?")
        screen.see_text(turning)
        screen.see_text("+ DISCONTINUES, any other key goes back.")
        # A second key that is pressed with the first one is none.
        screen.key("+", after_ms=100)
        screen.see_text("TOO SOON")
        assert len(events(logs)) == entries
        screen.key("+", after_ms=1000)
        screen.see_text(first)
        screen.see_text("LEFT, NOT DONE")
        *_, last = events(logs)
    assert last["event"]["kind"] == "discontinue"
    left = [tuple(item) for item in last["outcome"]]
    assert ("entered", goal) in left
    assert any(item[0] == "left behind" and item[2] == "discontinued" for item in left)
    # What was half answered is not answered by leaving it.
    assert met(logs) == before
    assert outcomes(logs, "refused", "accepted") == []
    assert verified(logs) == "unclosed"


@pytest.mark.parametrize("state", ["a response is asked", "digits stand there", "memory items"])
def test_another_key_goes_back_to_where_the_list_was(logs: Path, state: str) -> None:
    reach, _ = STATES[state]
    with Terminal(demo(logs), *COCKPIT) as screen:
        reach(screen)
        stood, entries = screen.face(), len(events(logs))
        screen.key("f9", after_ms=1000)
        screen.see_text("DISCONTINUE?")
        screen.key("7", after_ms=1000)
        screen.see(lambda: screen.face() == stood, "the list as it was")
        assert len(events(logs)) == entries


TURNING = {
    "engine": (("engine running", "affirm", "rotor stopped", "on the ground"), "ENGINE"),
    "rotor": (("engine running", "affirm", "rotor turning", "affirm", "on the ground"), "ROTOR"),
    "airborne": (
        ("engine running", "affirm", "rotor turning", "affirm", "airborne", "affirm"), "FLIGHT",
    ),
}  # fmt: skip
"""What is answered, each fact that the log knows otherwise affirmed, and what the way out names."""


@pytest.mark.parametrize("turning", TURNING)
def test_where_it_leads_goes_by_what_turns(logs: Path, turning: str) -> None:
    """A run taken up again asks what turns; the way out goes by the answers."""
    facts, named = TURNING[turning]
    with Terminal(demo(logs), *COCKPIT) as screen:
        work(screen, lines(*TO_THE_SECOND))
        screen.see_text("2 HOURS TO NEXT INSPECTION")
        screen.hang_up()
        assert screen.process.wait(timeout=30) == 75
        gone = screen.gone_ms
    with Terminal(["resume", "--log-dir", str(logs)], *COCKPIT, gone_ms=gone + 5000) as screen:
        work(screen, lines(*facts))
        screen.see_text("RESUME HERE")
        screen.key("f9", after_ms=1000)
        screen.see_text("DISCONTINUE?")
        screen.see_text(named)
        screen.key("+", after_ms=1000)
        screen.see_text("LEFT, NOT DONE")
    goal = "landing" if turning == "airborne" else "shutdown"
    assert outcomes(logs, "entered")[-1] == ("entered", goal)
    assert verified(logs) == "unclosed"
