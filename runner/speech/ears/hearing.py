"""From sound to utterances: detector, gate and the last seconds of sound, joined.

Rules: keys, mutes and questions are told from any thread, with the place in the sound at which they
came, and take effect there, not where the reader happens to be: sound arrives some frames after it
was said. Everything else belongs to the one thread that feeds. An utterance comes out once, as its
own copy of the sound; nothing of what was not taken is kept longer than an answer may last.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from runner.speech.ears.detector import Detector, Frame
from runner.speech.ears.gate import (
    AFTER,
    BEFORE,
    LONGEST,
    PAUSE,
    Dropped,
    Event,
    Mode,
    NoSound,
    Out,
    Sound,
    State,
    Utterance,
    advance,
    listening,
    occupied,
)
from runner.speech.ears.levels import FRAME, Level
from runner.speech.heard import RATE

if TYPE_CHECKING:
    from runner.speech.heard import Audio

_KEPT = LONGEST + BEFORE + 2 * RATE


class Clip(NamedTuple):
    """An utterance with its sound, and how far its speech stood above the noise, in dB, where that
    is known."""

    utterance: Utterance
    samples: Audio
    ratio: float | None


class Hearing:
    """One stream of sound, one gate."""

    def __init__(self, mode: Mode = Mode.HELD, detector: Detector | None = None) -> None:
        self.detector = Detector() if detector is None else detector
        self.state = State(mode=mode)
        self.level: Level | None = None
        self._told: deque[Event] = deque()
        self._frames: deque[Frame] = deque()
        self._at = 0

    @property
    def position(self) -> int:
        """The place up to which sound was fed."""
        return self.detector.heard

    @property
    def listening(self) -> bool:
        """Whether what is said now would be taken."""
        return listening(self.state)

    @property
    def occupied(self) -> bool:
        """Whether somebody is answering just now."""
        return occupied(self.state)

    def likely(self) -> Clip | None:
        """What will come out if nothing more is said: whoever judges may begin with it."""
        speech = self.state.speech
        if speech is None or self._at - speech.ended < AFTER:
            return None  # not all of its sound is here
        silence = Sound(self._at, self._at + PAUSE, speech=False, faint=False)
        made = [one for one in advance(self.state, silence)[1] if isinstance(one, Utterance)]
        found = self._with_sound(made[0]) if made else None
        return found if isinstance(found, Clip) else None

    def tell(self, event: Event) -> None:
        """A key, a mute, a question. It takes effect when the sound has come to its place."""
        self._told.append(event)

    def feed(self, samples: Audio, *, broken: bool = False) -> list[Clip | Dropped]:
        """The sound that follows; `broken`: something is missing before it."""
        out = self._gap() if broken else []
        for frame in self.detector.feed(samples):
            out += self.take(frame)
        return out

    def take(self, frame: Frame) -> list[Clip | Dropped]:
        """The same for one frame that was judged already."""
        self._keep(frame)
        self.level = frame.level
        until = frame.at + FRAME
        out = self._apply(until)
        return out + self._advance(Sound(frame.at, until, frame.speech, frame.faint))

    def stopped(self) -> list[Clip | Dropped]:
        """No sound arrives any more: what was told takes effect now, and nothing is going on."""
        self.level = None
        return self._gap() + self._apply(None)

    def _gap(self) -> list[Clip | Dropped]:
        self.detector.lost()
        out = self._apply(self.detector.heard)
        out += self._advance(NoSound(self.detector.heard))
        self._frames.clear()
        return out

    def _apply(self, until: int | None) -> list[Clip | Dropped]:
        """What was told of places before `until`."""
        out: list[Clip | Dropped] = []
        while self._told and (until is None or self._told[0].at < until):
            out += self._advance(self._told.popleft())
        return out

    def _advance(self, event: Event) -> list[Clip | Dropped]:
        # What was told late takes effect now: the gate's events never go back.
        self._at = max(self._at, event.at)
        if not isinstance(event, Sound):
            event = event._replace(at=self._at)
        self.state, out = advance(self.state, event)
        return [self._with_sound(one) for one in out]

    def _keep(self, frame: Frame) -> None:
        self._frames.append(frame)
        while self._frames[0].at < frame.at - _KEPT:
            self._frames.popleft()

    def _with_sound(self, one: Out) -> Clip | Dropped:
        if isinstance(one, Dropped):
            return one
        return Clip(
            one,
            self._between(one.first, one.last),
            self.detector.noise.ratio(self._between(one.began, one.ended)),
        )

    def _between(self, first: int, last: int) -> Audio:
        kept = [f for f in self._frames if f.at < last and f.at + FRAME > first]
        if not kept:
            return np.zeros(0, np.float32)
        begin = kept[0].at
        return np.concatenate([f.samples for f in kept])[first - begin : last - begin].copy()
