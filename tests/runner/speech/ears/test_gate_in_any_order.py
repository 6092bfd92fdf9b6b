"""The gate in any order of keys, mutes, questions and speech.

What is checked is said once more here, sample by sample, in other words.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import NamedTuple

from hypothesis import given, settings
from hypothesis import strategies as st

from runner.speech.ears.gate import (
    LEAD,
    TAIL,
    Asked,
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
    advance,
    listening,
)

FRAME = 512


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
