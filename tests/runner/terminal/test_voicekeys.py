"""The keys of talking where no terminal reports a release."""

from __future__ import annotations

from types import ModuleType

from runner.terminal.keys import press, settle
from runner.terminal.keystate import HELD_MS, KeyState, Page, not_accepted
from runner.terminal.voicekeys import (
    CALLER,
    TALK_MS,
    presses,
    swaps,
    talking,
    voice_key,
    voice_words,
)


def test_transmit_begins_with_a_press_and_ends_with_the_next() -> None:
    keys = voice_key(KeyState(), "transmit", 1_000)
    assert voice_words(keys, 60_000) == ("TRANSMIT",)
    keys = voice_key(keys, "transmit", 61_000)
    assert voice_words(keys, 61_000) == ()


def test_the_repeats_of_a_held_key_are_one_press() -> None:
    keys, now = KeyState(), 1_000
    for gap in (0, 500, *[33] * 100):
        now += gap
        keys = voice_key(keys, "transmit", now)
        assert keys.transmit
    keys = voice_key(keys, "transmit", now + HELD_MS)
    assert not keys.transmit
    assert not voice_key(keys, "transmit", now + HELD_MS + 500).transmit


def test_talk_closes_after_five_seconds_or_by_its_key() -> None:
    keys = voice_key(KeyState(), "talk", 1_000)
    assert talking(keys, 1_000 + TALK_MS - 1)
    assert not talking(keys, 1_000 + TALK_MS)
    closed = voice_key(keys, "talk", 3_000)
    assert not talking(closed, 3_000)
    # The key that closed it, held, opens nothing.
    assert not talking(voice_key(closed, "talk", 3_500), 3_500)
    assert talking(voice_key(closed, "talk", 4_000), 4_000)


def test_talk_held_stays_open_and_closes_after_the_last_repeat() -> None:
    keys, now = voice_key(KeyState(), "talk", 1_000), 1_000
    for _ in range(300):
        now += 33
        keys = voice_key(keys, "talk", now)
    assert talking(keys, now + TALK_MS - 1)
    assert not talking(keys, now + TALK_MS)


def test_talk_puts_away_what_a_flight_skips_and_opens_nothing_by_that_press() -> None:
    page = KeyState(page=Page.FLIGHTS, begins=True)
    assert not presses(page, 10_000)
    seen = voice_key(page, "talk", 10_000)
    assert (seen.page, seen.begins, talking(seen, 10_001)) == (Page.NONE, False, False)
    # Held, it still opens nothing; pressed again it does; and no answer counts at once behind it.
    held = voice_key(seen, "talk", 10_030)
    assert not talking(held, 10_031)
    assert not presses(seen, 10_030)
    assert presses(seen, 10_000 + HELD_MS)
    assert talking(voice_key(seen, "talk", 10_000 + HELD_MS), 10_001 + HELD_MS)
    assert not_accepted(seen, 10_030) != ""
    # A key that was held when the page came, and one while transmitting, leave it there.
    assert voice_key(page._replace(talk_at=9_990), "talk", 10_000).begins
    assert voice_key(page._replace(transmit=True), "talk", 10_000).begins
    # A page that was asked for is no such page.
    assert voice_key(KeyState(page=Page.DRILLS), "talk", 10_000).page is Page.DRILLS


def test_while_transmitting_nobody_talks_to_the_list() -> None:
    keys = voice_key(voice_key(KeyState(), "talk", 1_000), "transmit", 2_000)
    assert voice_words(keys, 2_000) == ("TRANSMIT",)
    keys = voice_key(keys, "talk", 2_500)
    assert not talking(keys, 2_500)
    assert voice_words(voice_key(keys, "transmit", 3_000), 3_000) == ()


def test_the_keys_of_talking_answer_nothing_and_stand_in_no_key_s_way(fakes: ModuleType) -> None:
    view, listen = fakes.view(), fakes.listen()
    state = settle(KeyState(typed="12"), view, 0)
    for key in ("talk", "transmit"):
        before = state
        state, action = press(state, key, 5_000, view, listen)
        assert action is None
        assert (state.last, state.last_at, state.note) == (before.last, before.last_at, before.note)
    state, action = press(state, " ", 5_010, view, listen)
    assert action is not None


def test_the_repeats_of_a_held_talk_key_are_one_press() -> None:
    keys, now = KeyState(), 1_000
    assert presses(keys, now)
    for _ in range(50):
        keys = voice_key(keys, "talk", now)
        now += 33
        assert not presses(keys, now)
    assert presses(keys, now + HELD_MS)
    assert not presses(voice_key(KeyState(), "transmit", 1_000), 60_000)


def test_the_repeats_of_the_caller_s_key_change_nothing(fakes: ModuleType) -> None:
    view, listen = fakes.view(), fakes.listen()
    keys, now = settle(KeyState(), view, 0), 1_000
    assert swaps(keys, now)
    for _ in range(50):
        keys, action = press(keys, CALLER, now, view, listen)
        assert action is None
        now += 33
        assert not swaps(keys, now)
    assert swaps(keys, now + HELD_MS)
