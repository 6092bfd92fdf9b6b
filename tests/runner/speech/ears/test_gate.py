"""The gate, situation by situation, and in any order of keys, mutes, questions and speech."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.speech.ears.gate import (
    AFTER,
    BEFORE,
    FRESH,
    LEAD,
    LONGEST,
    PAUSE,
    PRESSED_FOR,
    STUCK,
    TAIL,
    Asked,
    Dropped,
    Event,
    Mode,
    ModeSet,
    NoSound,
    Out,
    OwnVoice,
    Sound,
    State,
    TalkKey,
    TransmitKey,
    Utterance,
    Why,
    advance,
    listening,
    occupied,
)
from runner.speech.heard import RATE

FRAME = 512


class Told:
    """A gate that is told things in the order of their places, as a crew would do them."""

    def __init__(self, mode: Mode = Mode.HELD, ask: int | None = 1) -> None:
        self.state = State(mode=mode)
        self.at = 0
        self.out: list[Out] = []
        self.told(Asked(0, ask))
        self.silence(1)

    def told(self, event: Event) -> None:
        self.state, out = advance(self.state, event)
        self.out += out

    def frames(self, seconds: float, *, speech: bool, faint: bool) -> None:
        for _ in range(round(seconds * RATE / FRAME)):
            self.told(Sound(self.at, self.at + FRAME, speech, faint))
            self.at += FRAME

    def silence(self, seconds: float) -> None:
        self.frames(seconds, speech=False, faint=False)

    def talk(self, seconds: float) -> None:
        self.frames(seconds, speech=True, faint=True)

    def whisper(self, seconds: float) -> None:
        self.frames(seconds, speech=False, faint=True)

    def key(self, *, down: bool) -> None:
        self.told(TalkKey(self.at, down))

    def answer(self) -> None:
        """A word with the key held around it."""
        self.key(down=True)
        self.silence(0.3)
        self.talk(0.5)
        self.silence(0.3)
        self.key(down=False)

    @property
    def taken(self) -> list[Utterance]:
        return [one for one in self.out if isinstance(one, Utterance)]

    @property
    def dropped(self) -> list[Why]:
        return [one.why for one in self.out if isinstance(one, Dropped)]


def test_with_the_key_held_an_answer_is_taken_at_its_release() -> None:
    gate = Told()
    gate.answer()
    (one,) = gate.taken
    assert one.ask == 1
    assert (one.mode, one.cut) == (Mode.HELD, False)
    assert one.ended - one.began == pytest.approx(0.5 * RATE, abs=FRAME)
    assert one.began - one.first == pytest.approx(0.3 * RATE, abs=FRAME)
    assert one.first < one.began < one.ended < one.last
    assert not gate.dropped


def test_with_the_key_held_a_pause_ends_an_answer_before_its_release() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.2)
    gate.talk(0.5)
    assert occupied(gate.state)
    gate.silence(PAUSE / RATE + 0.1)
    assert len(gate.taken) == 1
    assert not occupied(gate.state)
    gate.talk(0.5)
    gate.key(down=False)
    assert [one.cut for one in gate.taken] == [False, True]


def test_with_the_key_up_nothing_is_taken() -> None:
    gate = Told()
    gate.talk(3)
    gate.silence(2)
    assert not gate.out
    assert not listening(gate.state)


def test_with_the_key_held_what_may_be_speech_is_enough() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.3)
    gate.whisper(0.5)
    gate.silence(0.3)
    gate.key(down=False)
    assert len(gate.taken) == 1


def test_with_an_open_microphone_it_is_not() -> None:
    gate = Told(Mode.OPEN)
    gate.whisper(0.5)
    gate.silence(1)
    assert not gate.out
    gate.talk(0.5)
    gate.silence(1)
    assert [one.mode for one in gate.taken] == [Mode.OPEN]


def test_a_knock_is_nothing() -> None:
    gate = Told()
    gate.key(down=True)
    gate.talk(0.064)
    gate.silence(1)
    gate.key(down=False)
    assert not gate.out


def test_what_began_before_the_key_is_dropped_whole_and_told_once() -> None:
    """ "Not … released": with the key pressed in between, the opposite would be taken."""
    gate = Told()
    gate.talk(0.3)
    gate.key(down=True)
    gate.talk(0.5)
    gate.silence(0.1)
    gate.talk(0.5)
    gate.key(down=False)
    assert not gate.taken
    assert gate.dropped == [Why.BEGAN_BEFORE]


def test_after_a_moment_of_silence_the_key_begins_something_new() -> None:
    gate = Told()
    gate.talk(0.3)
    gate.silence(FRESH / RATE + 0.04)
    gate.answer()
    assert len(gate.taken) == 1


def test_a_key_let_go_in_mid_word_says_so() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.2)
    gate.talk(0.4)
    gate.told(TalkKey(gate.at - 100, down=False))
    (one,) = gate.taken
    assert one.cut
    assert one.last == gate.at - 100


def test_a_pressed_key_opens_until_the_end_of_speech() -> None:
    gate = Told(Mode.PRESSED)
    assert not listening(gate.state)
    gate.key(down=True)
    assert listening(gate.state)
    gate.silence(0.5)
    gate.talk(0.6)
    gate.silence(0.7)
    assert len(gate.taken) == 1
    assert not listening(gate.state)
    gate.talk(0.6)
    gate.silence(1)
    assert len(gate.taken) == 1


def test_a_pressed_key_opens_for_five_seconds() -> None:
    gate = Told(Mode.PRESSED)
    gate.key(down=True)
    gate.silence(PRESSED_FOR / RATE - 0.1)
    assert listening(gate.state)
    gate.silence(0.2)
    assert not listening(gate.state)
    assert not gate.out


def test_five_seconds_after_a_pressed_key_what_is_being_said_is_cut() -> None:
    gate = Told(Mode.PRESSED)
    gate.key(down=True)
    gate.silence(4)
    gate.talk(2)
    assert [one.cut for one in gate.taken] == [True]


def test_pressed_again_it_begins_anew_but_not_while_somebody_speaks() -> None:
    gate = Told(Mode.PRESSED)
    gate.key(down=True)
    gate.silence(4)
    gate.key(down=True)
    gate.silence(4)
    assert listening(gate.state)
    gate.key(down=True)
    gate.talk(0.5)
    gate.key(down=True)
    gate.silence(0.7)
    assert len(gate.taken) == 1
    assert not listening(gate.state)


def test_the_transmit_key_mutes_and_drops_what_it_fell_into() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.2)
    gate.talk(0.3)
    gate.told(TransmitKey(gate.at, down=True))
    gate.talk(0.5)
    assert not listening(gate.state)
    gate.told(TransmitKey(gate.at, down=False))
    gate.talk(0.3)
    gate.silence(0.5)
    assert not gate.taken
    assert gate.dropped == [Why.TRANSMITTING, Why.BEGAN_BEFORE]
    gate.talk(0.4)
    gate.key(down=False)
    assert len(gate.taken) == 1


def test_a_pressed_key_is_forgotten_by_the_transmit_key() -> None:
    gate = Told(Mode.PRESSED)
    gate.key(down=True)
    gate.told(TransmitKey(gate.at, down=True))
    gate.key(down=True)
    gate.told(TransmitKey(gate.at, down=False))
    gate.silence(0.3)
    assert not listening(gate.state)


@pytest.mark.parametrize("mode", Mode)
def test_its_own_voice_is_not_heard_nor_the_moment_after_it(mode: Mode) -> None:
    gate = Told(mode)
    gate.told(OwnVoice(gate.at, speaking=True))
    gate.key(down=True)
    gate.talk(1)
    assert not listening(gate.state)
    gate.told(OwnVoice(gate.at, speaking=False))
    gate.talk(TAIL / RATE)
    gate.silence(1)
    assert not gate.out
    assert listening(gate.state)
    gate.talk(0.5)
    gate.silence(1)
    assert len(gate.taken) == 1


def test_what_its_own_voice_falls_into_is_dropped() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.2)
    gate.talk(0.4)
    gate.told(OwnVoice(gate.at, speaking=True))
    assert gate.dropped == [Why.OWN_VOICE]
    gate.key(down=False)
    assert not gate.taken


def test_the_question_that_stood_when_speech_began_is_answered() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.3)
    gate.talk(0.3)
    gate.told(Asked(gate.at, 2))
    gate.talk(0.3)
    gate.told(Asked(gate.at, 3))
    gate.silence(1)
    assert [one.ask for one in gate.taken] == [1]
    gate.talk(0.3)
    gate.silence(1)
    assert [one.ask for one in gate.taken] == [1, 3]


def test_nobody_answers_a_question_within_the_time_of_a_glance() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.3)
    gate.told(Asked(gate.at, 2))
    gate.silence(LEAD / RATE - 0.05)
    gate.talk(0.3)
    gate.silence(1)
    assert [one.ask for one in gate.taken] == [1]


def test_without_a_question_nothing_is_taken() -> None:
    gate = Told(ask=None)
    gate.answer()
    assert not gate.taken
    assert not listening(gate.state)


def test_where_the_question_came_with_the_word_it_is_dropped() -> None:
    gate = Told(ask=None)
    gate.key(down=True)
    gate.silence(0.3)
    gate.told(Asked(gate.at, 1))
    gate.silence(0.1)
    gate.talk(0.5)
    assert gate.dropped == [Why.NO_QUESTION]
    gate.silence(0.5)
    gate.talk(0.5)
    gate.key(down=False)
    assert [one.ask for one in gate.taken] == [1]


def test_missing_sound_drops_what_it_is_missing_from_and_needs_a_pause() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.3)
    gate.talk(0.3)
    gate.told(NoSound(gate.at))
    assert not listening(gate.state)
    gate.talk(0.3)
    assert gate.dropped == [Why.SOUND_LOST, Why.BEGAN_BEFORE]
    gate.silence(PAUSE / RATE + 0.1)
    gate.talk(0.3)
    gate.key(down=False)
    assert len(gate.taken) == 1


def test_it_listens_only_while_sound_arrives() -> None:
    gate = Told(Mode.OPEN)
    assert listening(gate.state)
    gate.told(NoSound(gate.at))
    assert not listening(gate.state)
    gate.silence(0.1)
    assert listening(gate.state)


def test_a_question_that_comes_while_no_sound_does_makes_it_listen_to_nothing() -> None:
    gate = Told(Mode.OPEN)
    gate.told(NoSound(gate.at))
    gate.told(Asked(gate.at, 2))
    assert not listening(gate.state)


def test_a_pressed_key_is_forgotten_where_sound_stops() -> None:
    gate = Told(Mode.PRESSED)
    gate.key(down=True)
    gate.told(NoSound(gate.at))
    gate.silence(0.1)
    assert not listening(gate.state)


def test_of_two_questions_that_come_at_once_speech_still_answers_the_one_before() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(0.3)
    gate.told(Asked(gate.at, 2))
    gate.silence(0.1)
    gate.told(Asked(gate.at, 3))
    gate.silence(0.1)
    gate.talk(0.3)
    gate.silence(1)
    assert [one.ask for one in gate.taken] == [1]


def test_what_is_taken_around_two_utterances_fits_into_the_pause_between_them() -> None:
    assert AFTER + BEFORE <= PAUSE


def test_talk_without_an_end_is_no_answer() -> None:
    gate = Told(Mode.OPEN)
    gate.talk(LONGEST / RATE + 3)
    gate.silence(0.3)
    gate.talk(0.4)
    gate.silence(0.8)
    assert not gate.taken
    assert gate.dropped == [Why.TOO_LONG]
    gate.talk(0.4)
    gate.silence(0.8)
    assert len(gate.taken) == 1


def test_a_key_whose_release_was_lost_is_let_go() -> None:
    gate = Told()
    gate.key(down=True)
    gate.silence(STUCK / RATE + 0.1)
    assert gate.dropped == [Why.KEY_STUCK]
    assert not listening(gate.state)
    gate.talk(0.5)
    gate.silence(1)
    assert not gate.taken


def test_set_another_way_what_is_being_said_is_dropped() -> None:
    gate = Told(Mode.OPEN)
    gate.talk(0.5)
    gate.told(ModeSet(gate.at, Mode.HELD))
    assert gate.dropped == [Why.MODE_CHANGED]
    assert not listening(gate.state)
    gate.told(ModeSet(gate.at, Mode.OPEN))
    gate.silence(1)
    assert listening(gate.state)


# Any order of things. What is checked is said once more here, sample by sample, in other words.


class Step(NamedTuple):
    """So many frames of one kind, and then something happens."""

    frames: int
    kind: int
    what: str


STEPS = st.lists(
    st.builds(
        Step,
        st.integers(0, 40),
        st.sampled_from([0, 0, 1, 2, 2]),
        st.sampled_from(
            ["ask", "ask", "none", "down", "down", "up", "transmit", "receive", "voice", "silent",
             "gap", "nothing", *(mode.value for mode in Mode)]
        ),
    ),
    max_size=60,
)  # fmt: skip


class Watched(NamedTuple):
    """What may be said of every sample: the question, whether a key or mode opens, what mutes."""

    asks: list[int | None]
    open: list[bool]
    out: list[Out]
    heard: list[tuple[int, bool]]


def run(mode: Mode, steps: Iterable[Step]) -> Watched:
    state, at, ask, count = State(mode=mode), 0, None, 0
    key = transmit = voice = False
    voice_ended = -TAIL
    watched = Watched([], [], [], [])

    def tell(event: Event) -> None:
        nonlocal state
        state, out = advance(state, event)
        watched.out.extend(out)

    for step in steps:
        for _ in range(step.frames):
            allowed = (
                (key or state.mode is Mode.OPEN)
                and not transmit
                and not voice
                and at + FRAME > voice_ended + TAIL
                and ask is not None
            )
            watched.asks.append(ask)
            watched.open.append(allowed)
            tell(Sound(at, at + FRAME, step.kind == 2, step.kind > 0))
            watched.heard.append((at, listening(state)))
            at += FRAME
        if step.what == "ask":
            count += 1
            ask = count
            tell(Asked(at, ask))
        elif step.what == "none":
            ask = None
            tell(Asked(at, None))
        elif step.what in ("down", "up"):
            key = step.what == "down"
            tell(TalkKey(at, key))
        elif step.what in ("transmit", "receive"):
            transmit = step.what == "transmit"
            tell(TransmitKey(at, transmit))
        elif step.what in ("voice", "silent"):
            if voice and step.what == "silent":
                voice_ended = at
            voice = step.what == "voice"
            tell(OwnVoice(at, voice))
        elif step.what == "gap":
            tell(NoSound(at))
        elif step.what != "nothing":
            key = False
            tell(ModeSet(at, Mode(step.what)))
        if state.mode is Mode.PRESSED:
            # The key that cannot be held: down until the gate says that it is over.
            key = state.key
    return watched


def spans(watched: Watched) -> list[Utterance]:
    return [one for one in watched.out if isinstance(one, Utterance)]


@settings(max_examples=400)
@given(mode=st.sampled_from(Mode), steps=STEPS)
def test_every_sample_that_is_taken_may_be(mode: Mode, steps: list[Step]) -> None:
    """No key, a mute, the own voice, no question: not one sample of it is ever handed on."""
    watched = run(mode, steps)
    for one in spans(watched):
        assert one.first < one.last
        for place in range(one.first // FRAME, -(-one.last // FRAME)):
            assert watched.open[place], (one, place)


@settings(max_examples=400)
@given(mode=st.sampled_from(Mode), steps=STEPS)
def test_one_utterance_answers_one_question_and_no_sample_two(
    mode: Mode, steps: list[Step]
) -> None:
    watched = run(mode, steps)
    taken = spans(watched)
    for one in taken:
        assert one.first <= one.began < one.ended <= one.last
        assert one.ask == watched.asks[(one.began - LEAD) // FRAME]
        assert one.ask is not None
    for earlier, later in pairwise(taken):
        assert earlier.last <= later.first
        assert earlier.ask <= later.ask


@settings(max_examples=200)
@given(steps=STEPS)
def test_with_the_key_up_nothing_ever_comes(steps: list[Step]) -> None:
    for mode in (Mode.HELD, Mode.PRESSED):
        quiet = [s for s in steps if s.what not in ("down", *(mode.value for mode in Mode))]
        watched = run(mode, quiet)
        assert not watched.out
        assert not any(heard for _, heard in watched.heard)


@settings(max_examples=200)
@given(mode=st.sampled_from(Mode), steps=STEPS, event=st.sampled_from(["voice", "transmit"]))
def test_muted_from_the_first_nothing_ever_comes(mode: Mode, steps: list[Step], event: str) -> None:
    unmuted = [s for s in steps if s.what not in ("silent", "receive")]
    watched = run(mode, [Step(0, 0, event), *unmuted])
    assert not spans(watched)
    assert not any(heard for _, heard in watched.heard)


@settings(max_examples=200)
@given(mode=st.sampled_from(Mode), steps=STEPS)
def test_listening_is_shown_only_when_it_is_true(mode: Mode, steps: list[Step]) -> None:
    watched = run(mode, steps)
    for (at, shown), allowed in zip(watched.heard, watched.open, strict=True):
        assert not shown or allowed, at


@settings(max_examples=200)
@given(mode=st.sampled_from(Mode), steps=STEPS)
def test_what_was_going_on_before_the_gate_opened_is_never_taken(
    mode: Mode, steps: list[Step]
) -> None:
    """Before every utterance there is silence since the gate opened, or before it did."""
    watched = run(mode, steps)
    kinds = [step.kind for step in steps for _ in range(step.frames)]
    for one in spans(watched):
        place = one.began // FRAME
        before = kinds[max(0, place - 5) : place]
        assert all(kind < 2 for kind in before), (one, before)


def test_the_padding_never_reaches_before_the_key() -> None:
    gate = Told()
    pressed = gate.at
    gate.key(down=True)
    gate.silence(0.1)
    gate.talk(0.5)
    gate.key(down=False)
    (one,) = gate.taken
    assert one.first == pressed > one.began - BEFORE
