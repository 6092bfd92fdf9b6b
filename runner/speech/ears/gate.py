"""What of the sound is taken as an utterance: keys, mutes, and the question that stood.

Rules: pure, without clock or thread; every event carries its place in the sound (samples at 16 kHz)
and they come in that order. Nothing is taken while the gate is shut: with the talk-to-list key up
(or not pressed), the transmit key down, the program's own voice sounding or just silent, or no
question standing. An utterance is one stretch of speech between pauses, carries the one `ask` that
was shown when it began, and shares no sample with another. What began before the gate opened, what
sound is missing from and what a mute fell into is dropped whole: half an answer may mean the
opposite. Cut short by the key alone it is handed on and says so.
"""

from __future__ import annotations

from enum import Enum
from typing import Final, NamedTuple

from runner.speech.heard import RATE


def _samples(seconds: float) -> int:
    return round(seconds * RATE)


PAUSE: Final = _samples(0.6)
"""Silence that ends an utterance; not shorter than what is taken around two of them."""
LEAST: Final = _samples(0.09)
"""Speech shorter than this (three frames) is a knock."""
LONGEST: Final = _samples(12)
"""Speech longer than this is no answer."""
BEFORE: Final = _samples(0.3)
AFTER: Final = _samples(0.3)
"""What is taken around the speech: the detector finds its ends late and early."""
LEAD: Final = _samples(0.25)
"""Speech may have begun this long before its first frame: the question that stood then counts."""
FRESH: Final = _samples(0.2)
"""Silence between what was said before the key and an answer; where no key says that an answer
begins, or sound was missing, it is a whole pause."""
TAIL: Final = _samples(0.4)
"""How long the program's own voice may still sound after its end: what was stopped in a word was
heard up to 170 ms later, on a busy machine longer."""
PRESSED_FOR: Final = _samples(5)
"""How long a key opens the gate that cannot be held."""
STUCK: Final = _samples(30)
"""Nobody holds a key this long: its release was lost."""


class Mode(Enum):
    """How the gate is opened: a key that is held, a key that is pressed, or not at all."""

    HELD = "held"
    PRESSED = "pressed"
    OPEN = "open microphone"


class Asked(NamedTuple):
    """Question `ask` is shown now; None: none is."""

    at: int
    ask: int | None


class TalkKey(NamedTuple):
    """The talk-to-list key went down, or up."""

    at: int
    down: bool


class TransmitKey(NamedTuple):
    """The transmit key went down, or up."""

    at: int
    down: bool


class OwnVoice(NamedTuple):
    """The program's own voice begins, or has ended."""

    at: int
    speaking: bool


class ModeSet(NamedTuple):
    """The gate is opened another way from now on."""

    at: int
    mode: Mode


class Sound(NamedTuple):
    """One frame was heard, to `until`; `faint`: it may be speech."""

    at: int
    until: int
    speech: bool
    faint: bool


class NoSound(NamedTuple):
    """Sound is missing here, or none arrives any more."""

    at: int


Event = Asked | TalkKey | TransmitKey | OwnVoice | ModeSet | Sound | NoSound


class Why(Enum):
    """Why speech was not taken."""

    BEGAN_BEFORE = "began before the key"
    TRANSMITTING = "the transmit key was down"
    OWN_VOICE = "the program was speaking"
    SOUND_LOST = "sound was lost"
    TOO_LONG = "too long for an answer"
    NO_QUESTION = "no question stood when it began"
    MODE_CHANGED = "the microphone was set another way"
    KEY_STUCK = "the talk key did not come up"


class Utterance(NamedTuple):
    """One answer to question `ask`: the sound from `first` to before `last`, in which speech was
    found from `began` to `ended`; `cut`: the key closed the gate while it went on."""

    ask: int
    first: int
    last: int
    began: int
    ended: int
    mode: Mode
    cut: bool


class Dropped(NamedTuple):
    """Speech that was not taken."""

    at: int
    why: Why


class _Speech(NamedTuple):
    began: int
    ended: int
    loud: int
    ask: int


class State(NamedTuple):
    """All that the gate knows. `asked` holds the questions of the last moments, oldest first;
    `spoilt` is the silence that must come before speech counts again, 0 for none."""

    mode: Mode = Mode.HELD
    asked: tuple[tuple[int, int | None], ...] = ()
    key: bool = False
    key_since: int = 0
    transmitting: bool = False
    speaking: bool = False
    deaf_until: int = 0
    hearing: bool = False
    opened: int | None = None
    loud_until: int = -PAUSE
    spoilt: int = 0
    told: bool = False
    speech: _Speech | None = None


Out = Utterance | Dropped


def listening(state: State) -> bool:
    """Whether what is said now would be taken: sound arrives and the gate is open."""
    return state.hearing and state.opened is not None


def occupied(state: State) -> bool:
    """Whether somebody is answering: the program had better not speak now."""
    return state.speech is not None


def advance(state: State, event: Event) -> tuple[State, tuple[Out, ...]]:
    """The state after an event, and what came of it."""
    if isinstance(event, Sound):
        return _sound(state, event)
    out: tuple[Out, ...] = ()
    at = event.at
    if isinstance(event, Asked):
        state = state._replace(asked=_known(state.asked, at, event.ask))
        return _settled(state, at, Why.NO_QUESTION)
    if isinstance(event, TalkKey):
        return _key(state, event)
    if isinstance(event, TransmitKey):
        state = state._replace(transmitting=event.down)
        if event.down and state.mode is Mode.PRESSED:
            state = state._replace(key=False)
        return _settled(state, at, Why.TRANSMITTING)
    if isinstance(event, OwnVoice):
        deaf = state.deaf_until if event.speaking or not state.speaking else at + TAIL
        state = state._replace(speaking=event.speaking, deaf_until=deaf)
        return _settled(state, at, Why.OWN_VOICE)
    if isinstance(event, ModeSet):
        state, out = _shut(state, at, Why.MODE_CHANGED)
        state, more = _settled(state._replace(mode=event.mode, key=False), at, Why.MODE_CHANGED)
        return state, out + more
    # What was said in the missing part is not known: speech there spoils what follows.
    state, out = _shut(state, at, Why.SOUND_LOST)
    key = state.key and state.mode is Mode.HELD
    return state._replace(hearing=False, loud_until=at, key=key), out


def _known(
    asked: tuple[tuple[int, int | None], ...], at: int, ask: int | None
) -> tuple[tuple[int, int | None], ...]:
    """The questions that may still count, with this one."""
    if asked and asked[-1][1] == ask:
        return asked
    old = [begin for begin, _ in asked if begin <= at - RATE]
    return (*(one for one in asked if not old or one[0] >= old[-1]), (at, ask))


def _ask_at(state: State, at: int) -> int | None:
    return next((ask for begin, ask in reversed(state.asked) if begin <= at), None)


def _key(state: State, event: TalkKey) -> tuple[State, tuple[Out, ...]]:
    if state.mode is Mode.OPEN:
        return state, ()
    if state.mode is Mode.HELD:
        since = event.at if event.down and not state.key else state.key_since
        state = state._replace(key=event.down, key_since=since)
        return _settled(state, event.at, None)
    if not event.down:
        state = state._replace(key=False)
    elif not state.transmitting and state.speech is None:
        state = state._replace(key=True, key_since=event.at)
    return _settled(state, event.at, None)


def _may_open(state: State, at: int) -> bool:
    return (
        (state.key or state.mode is Mode.OPEN)
        and not state.transmitting
        and not state.speaking
        and at >= state.deaf_until
        and bool(state.asked)
        and state.asked[-1][1] is not None
    )


def _settled(state: State, at: int, why: Why | None) -> tuple[State, tuple[Out, ...]]:
    """The gate opened or shut as the keys and mutes have it; without a `why` by the key alone."""
    may = _may_open(state, at)
    if may and state.opened is None:
        fresh = PAUSE if state.mode is Mode.OPEN or not state.hearing else FRESH
        spoilt = fresh if at - state.loud_until < fresh else 0
        since = at if state.mode is Mode.PRESSED else state.key_since
        return state._replace(opened=at, spoilt=spoilt, told=False, key_since=since), ()
    if not may and state.opened is not None:
        return _shut(state, at, why)
    return state, ()


def _shut(state: State, at: int, why: Why | None) -> tuple[State, tuple[Out, ...]]:
    """Shuts the gate: what is being said is dropped for `why`, or without one handed on."""
    out: tuple[Out, ...] = ()
    if state.speech is not None:
        if why is None:
            state, out = _ended(state, at, cut=state.speech.ended >= at - FRESH // 2)
        else:
            out = (Dropped(at, why),)
    return state._replace(opened=None, speech=None, spoilt=0), out


def _ended(state: State, at: int, *, cut: bool) -> tuple[State, tuple[Out, ...]]:
    """The speech that was going on is complete; shorter than a word it is nothing."""
    speech, opened = state.speech, state.opened
    assert speech is not None  # noqa: S101
    assert opened is not None  # noqa: S101
    state = state._replace(speech=None)
    if speech.loud < LEAST:
        return state, ()
    first = max(opened, speech.began - BEFORE)
    last = min(at, speech.ended + AFTER)
    ended = min(speech.ended, last)
    began = max(first, speech.began)
    made = Utterance(speech.ask, first, last, began, ended, state.mode, cut)
    return state, (made,)


def _sound(state: State, sound: Sound) -> tuple[State, tuple[Out, ...]]:
    """One frame: opens what only waited for time, then hears it, then shuts what time shuts."""
    state, first = _settled(state, sound.at, None)
    state = state._replace(hearing=True)
    loud = sound.speech if state.mode is Mode.OPEN else sound.faint
    if state.opened is None:
        return (state._replace(loud_until=sound.until) if sound.speech else state), first
    if state.spoilt:
        state, more = _spoilt(state, sound, loud=loud)
    elif state.speech is None:
        state, more = _begun(state, sound) if loud else (state, ())
    else:
        state, more = _gone_on(state, sound, state.speech, loud=loud)
    if loud:
        state = state._replace(loud_until=sound.until)
    state, last = _timed_out(state, sound.until)
    return state, first + more + last


def _spoilt(state: State, sound: Sound, *, loud: bool) -> tuple[State, tuple[Out, ...]]:
    """What goes on from before: told once, over after a moment of silence."""
    if loud:
        out = () if state.told else (Dropped(sound.at, Why.BEGAN_BEFORE),)
        return state._replace(told=True), out
    silent = sound.until - state.loud_until >= state.spoilt
    return (state._replace(spoilt=0) if silent else state), ()


def _begun(state: State, sound: Sound) -> tuple[State, tuple[Out, ...]]:
    ask = _ask_at(state, sound.at - LEAD)
    if ask is None:
        return state._replace(spoilt=FRESH, told=True), (Dropped(sound.at, Why.NO_QUESTION),)
    began = _Speech(sound.at, sound.until, sound.until - sound.at, ask)
    return state._replace(speech=began), ()


def _gone_on(
    state: State, sound: Sound, speech: _Speech, *, loud: bool
) -> tuple[State, tuple[Out, ...]]:
    if loud:
        if sound.until - speech.began > LONGEST:
            spoilt = state._replace(speech=None, spoilt=PAUSE, told=True)
            return spoilt, (Dropped(sound.at, Why.TOO_LONG),)
        longer = speech.loud + sound.until - sound.at
        return state._replace(speech=speech._replace(ended=sound.until, loud=longer)), ()
    if sound.until - speech.ended < PAUSE:
        return state, ()
    state, out = _ended(state, sound.until, cut=False)
    if out and state.mode is Mode.PRESSED:
        state = state._replace(key=False, opened=None)
    return state, out


def _timed_out(state: State, at: int) -> tuple[State, tuple[Out, ...]]:
    """A pressed key opens for five seconds; a held one that never comes up is let go."""
    if state.mode is Mode.PRESSED and state.key and at - state.key_since >= PRESSED_FOR:
        return _shut(state._replace(key=False), at, None)
    if state.mode is Mode.HELD and state.key and at - state.key_since >= STUCK:
        state, out = _shut(state._replace(key=False), at, Why.KEY_STUCK)
        return state, out or (Dropped(at, Why.KEY_STUCK),)
    return state, ()
