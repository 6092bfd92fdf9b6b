"""The screen of a run by voice: what it tells the voice of its keys, and what it shows of it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

import pytest
from prompt_toolkit.input import DummyInput
from prompt_toolkit.output import DummyOutput

from runner.terminal import fullscreen
from runner.terminal.fullscreen import FullScreen
from runner.terminal.keymap import Keymap
from runner.terminal.keystate import HELD_MS, Page
from runner.terminal.shell import Ear
from runner.terminal.voicekeys import CALLER, TALK, TRANSMIT
from tests.runner.terminal.fakes import FakeDesk


class NotedEar:
    """Notes what it is told."""

    def __init__(self) -> None:
        self.told: list[str] = []
        self.shows: tuple[str, ...] = ()
        self.covered = False
        self.uncover: Callable[[], None] = lambda: None

    def start(self, uncover: Callable[[], None]) -> None:
        self.told.append("start")
        self.uncover = uncover

    def cover(self, *, covered: bool) -> None:
        self.covered = covered

    def bands(self) -> tuple[str, ...]:
        return self.shows

    def talk(self) -> None:
        self.told.append("talk")

    def transmit(self, *, down: bool) -> None:
        self.told.append(f"transmit {down}")

    def call_again(self) -> None:
        self.told.append("call again")

    def swap_caller(self) -> str:
        self.told.append("swap")
        return "copilot reads"


class Screen:
    """A full screen that is not drawn, at a desk of three steps, with a clock that is told."""

    def __init__(self, *, ear: bool = True, keymap: Keymap | None = None) -> None:
        self.now = 10_000
        self.sent: list[str] = []
        self.desk = FakeDesk(lambda: self.now, self.sent.append)
        self.ear = NotedEar()
        heard: Ear | None = self.ear if ear else None
        self.screen = FullScreen(
            source=DummyInput(), sink=DummyOutput(), keymap=keymap or Keymap(), ear=heard
        )
        made: Any = self.screen
        made._desk = self.desk
        made._view, made._listen = self.desk.view(), self.desk.listen()
        made._app = made._application()
        made._heard = lambda effects: None

    def press(self, key: str, after: int = 2 * HELD_MS) -> None:
        self.now += after
        self.screen._key(key)

    @property
    def note(self) -> str:
        return self.screen._keys.note

    @property
    def bands(self) -> tuple[str, ...]:
        return self.screen._voice_bands(self.now)


def test_the_voice_begins_when_a_screen_was_drawn() -> None:
    here = Screen()
    assert here.ear.told == []
    here.screen._rendered(None)
    assert here.ear.told == ["start"]


def test_tab_talks_and_its_repeats_do_not() -> None:
    here = Screen()
    here.press("tab")
    for _ in range(20):
        here.press("tab", after=33)
    assert here.ear.told == ["talk"]
    here.press("tab")
    assert here.ear.told == ["talk", "talk"]
    assert here.sent == []


def test_insert_changes_who_calls_once_for_a_key_that_is_held() -> None:
    here = Screen()
    here.press("insert")
    assert here.note == "COPILOT READS"
    for _ in range(21):
        here.press("insert", after=33)
    assert here.ear.told == ["swap"]
    assert here.sent == []


def test_a_key_that_transmits_silences_and_its_next_press_ends_it() -> None:
    here = Screen(keymap=Keymap({"f14": TRANSMIT}))
    here.press("f14")
    for _ in range(20):
        here.press("f14", after=33)
    assert here.ear.told == ["transmit True"]
    assert here.bands == ("TRANSMIT",)
    here.press("tab")
    assert here.ear.told == ["transmit True"]
    here.press("f14")
    assert here.ear.told == ["transmit True", "transmit False"]


def test_a_pedal_puts_away_what_a_flight_skips_and_no_other_page() -> None:
    here = Screen()
    made: Any = here.screen

    async def pressed() -> None:
        made._loop = asyncio.get_running_loop()
        here.now += 2 * HELD_MS
        made._rendered(None)
        here.ear.uncover()
        await asyncio.sleep(0)
        made._rendered(None)

    made._keys = made._keys._replace(page=Page.FLIGHTS, begins=True)
    made._rendered(None)
    assert here.ear.covered
    asyncio.run(pressed())
    assert (made._keys.page, here.ear.covered) == (Page.NONE, False)
    # What somebody opened stays, and the question below it is still theirs to answer.
    made._keys = made._keys._replace(page=Page.FLIGHTS)
    asyncio.run(pressed())
    assert (made._keys.page, here.ear.covered) == (Page.FLIGHTS, False)
    assert "talk" not in here.ear.told


def test_the_voice_knows_of_the_page_before_it_is_drawn() -> None:
    here = Screen()
    made: Any = here.screen
    made._keys = made._keys._replace(page=Page.FLIGHTS, begins=True, ask=made._view.ask)
    made._take(())
    assert (made._keys.begins, here.ear.covered) == (True, True)


def test_keys_of_one_s_own_talk_and_those_they_took_do_not() -> None:
    here = Screen(keymap=Keymap({"f13": TALK, "f15": CALLER}))
    here.press("f13")
    here.press("f15")
    assert here.ear.told == ["talk", "swap"]
    here.press("tab")
    here.press("insert")
    assert here.ear.told == ["talk", "swap"]


def test_without_a_voice_these_keys_are_no_keys() -> None:
    here = Screen(ear=False)
    here.press("tab")
    here.press("insert")
    assert (here.ear.told, here.note, here.bands) == ([], "", ())
    own = Screen(ear=False, keymap=Keymap({"f13": TALK}))
    own.press("f13")
    assert own.bands == ("TALK",)


@pytest.mark.parametrize("shows", [(), ("LISTENING",), ("NO MICROPHONE",), ("VOICE STARTS",)])
def test_what_is_shown_is_what_the_voice_does_and_not_what_the_key_asked(
    shows: tuple[str, ...],
) -> None:
    here = Screen()
    here.ear.shows = shows
    assert here.bands == shows
    here.press("tab")
    assert here.bands == shows


def test_the_keys_of_the_voice_leave_what_is_typed_where_it_is() -> None:
    here = Screen()
    here.press("s")
    assert here.screen._keys.line == "s"
    here.press("insert")
    here.press("tab")
    assert here.screen._keys.line == "s"
    assert (here.ear.told, here.sent) == (["swap", "talk"], [])


@pytest.mark.parametrize(("waited", "transmits", "told"), [
    (9_999, False, []), (10_000, False, ["call again"]), (10_000, True, []),
    (30_000, False, ["call again"]),
])  # fmt: skip
def test_the_call_that_waits_is_repeated_and_not_while_somebody_transmits(
    monkeypatch: pytest.MonkeyPatch, waited: int, transmits: bool, told: list[str]
) -> None:
    monkeypatch.setattr(fullscreen, "_TICK_S", 0)
    here = Screen()
    made: Any = here.screen
    made._keys = made._keys._replace(asked_at=here.now, transmit=transmits)
    here.now += waited

    async def ticked() -> None:
        task = asyncio.create_task(made._tick())
        for _ in range(10):
            await asyncio.sleep(0)
        task.cancel()

    asyncio.run(ticked())
    assert here.ear.told == told
