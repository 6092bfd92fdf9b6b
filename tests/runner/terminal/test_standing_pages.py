"""What a digit means on a page that stands: what stood beside it when the page was opened.

Rules: nothing that happens behind the page, beside it or below it gives a digit another meaning; a
digit answers a line that stands on the screen, and no other.
"""

from __future__ import annotations

import re
from types import ModuleType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine.effects import Voice
from runner.terminal.aside import Aside, Message, Size
from runner.terminal.clock import Clock
from runner.terminal.keys import press, settle
from runner.terminal.keystate import Action, KeyState, Page
from runner.terminal.layout import cut_of, screen
from runner.terminal.rows import row_text

OPENED = {Page.DRILLS: ("*",), Page.TIMERS: ("f6",), Page.CORRECT: ("/", "0", "6")}


class Board:
    """A keyboard at a screen, where everything around the page may change between two keys."""

    def __init__(self, fakes: ModuleType, size: Size, count: int) -> None:
        self.fakes, self.size, self.at = fakes, size, 10_000
        titles = tuple((f"t{n}", f"Title {chr(65 + n)}") for n in range(count))
        before = tuple(
            fakes.view().before[0]._replace(number=n, challenge=title)
            for n, (_, title) in enumerate(titles, 1)
        )
        self.view = fakes.view(drills=titles, timers=titles, before=before)
        self.keys = settle(KeyState(), self.view, 0)
        self.messages: tuple[Message, ...] = ()
        self.bands: tuple[str, ...] = ()

    @property
    def aside(self) -> Aside:
        return Aside(
            keys=self.keys, listen=self.fakes.listen(), messages=self.messages, bands=self.bands
        )

    def rows(self) -> list[str]:
        clock = Clock(self.fakes.UTC_AT_ZERO, self.at)
        return [row_text(row) for row in screen(self.view, clock, self.size, self.aside)]

    def beside(self) -> dict[int, str]:
        """The title that stands beside each digit."""
        found = (re.match(r"(\d) .*(Title [A-Z])", row) for row in self.rows())
        return {int(one[1]): one[2] for one in found if one}

    def key(self, name: str) -> Action | None:
        self.at += 5_000
        clock = Clock(self.fakes.UTC_AT_ZERO, self.at)
        keys = self.keys._replace(cut=cut_of(self.view, clock, self.size, self.aside))
        self.keys, action = press(keys, name, self.at, self.view, self.fakes.listen())
        return action

    def means(self, digit: int) -> str:
        """What a digit would bring now; empty where it brings nothing."""
        kept = self.keys, self.at
        action = self.key(str(digit))
        begun = self.keys.line or ""
        self.keys, self.at = kept
        found = re.search("Title [A-Z]", f"{action.text if action else ''} {begun}")
        return found[0] if found else ""

    def happens(self, what: str) -> None:
        if what == "order":
            self.view = self.view._replace(
                drills=self.view.drills[::-1], timers=self.view.timers[::-1]
            )
        elif what == "note":
            self.keys = self.keys._replace(note="A NOTE OF SOME LENGTH THAT TAKES A SECOND ROW")
        elif what == "by-time":
            self.view = self.view._replace(
                running=(self.fakes.BY_TIME, self.fakes.BY_TIME._replace(over=True))
            )
        elif what == "warning":
            self.messages = (Message("NO OIL PRESSURE, STOP ENGINE", Voice.TIMER, True, self.at),)
        elif what == "band":
            self.bands = ("RECORDING LOST, LIST CONTINUES",)
        elif what == "question":
            self.view = self.view._replace(ask=self.view.ask + 1)
            self.keys = settle(self.keys, self.view, self.at)
        else:
            self.at += 60_000


HAPPENS = st.lists(
    st.sampled_from(["order", "note", "by-time", "warning", "band", "question", "time"]),
    max_size=4,
)


@settings(max_examples=120, deadline=None)
@given(
    page=st.sampled_from(list(OPENED)), count=st.integers(2, 20), columns=st.integers(40, 120),
    rows=st.integers(12, 40), turns=st.integers(0, 3), happens=HAPPENS,
)  # fmt: skip
def test_a_digit_means_what_stood_beside_it_whatever_happens(
    fakes: ModuleType, page: Page, count: int, columns: int, rows: int, turns: int,
    happens: list[str],
) -> None:  # fmt: skip
    board = Board(fakes, Size(columns, rows), count)
    for name in (*OPENED[page], *"0" * turns):
        board.key(name)
    assert board.keys.page is page
    stood = board.beside()
    assert stood
    for what in happens:
        board.happens(what)
        now = board.beside()
        for digit in range(1, 10):
            # what stands is never another line than before, and a digit means what stands, or none
            assert now.get(digit, "") in ("", stood.get(digit, now.get(digit)))
            assert board.means(digit) == now.get(digit, "")


@pytest.mark.parametrize("size", [Size(40, 12), Size(80, 24)], ids=str)
def test_the_order_of_the_drills_is_that_of_the_opening(fakes: ModuleType, size: Size) -> None:
    pad = fakes.Pad(fakes.view(), size).key("*")
    pad.ask(drills=fakes.DRILLS[::-1])
    assert f"1 {fakes.DRILLS[0][1]}" in pad.screen
    assert pad.key("1").sent == [f"drill {fakes.DRILLS[0][1]}"]


def test_a_new_size_changes_no_number(fakes: ModuleType) -> None:
    pad: Any = fakes.Pad(fakes.view(), Size(80, 24)).key("*", "0")
    for size in (Size(40, 7), Size(120, 40), Size(40, 12)):
        pad.size = size
        assert f"1 {fakes.DRILLS[6][1]}" in pad.screen


def test_what_is_no_longer_so_is_not_done(fakes: ModuleType) -> None:
    pad = fakes.Pad(fakes.view()).key("/", "0", "0", "4")
    assert "1 HAND OVER: HANDLING TO COPILOT" in pad.screen
    pad.ask(handling="copilot")
    assert "1 HAND OVER: HANDLING TO COPILOT" in pad.screen
    assert pad.key("1").sent == []
    assert "THAT HAS CHANGED: OPEN THE PAGE AGAIN" in pad.screen
