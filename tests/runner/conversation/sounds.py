"""A microphone and a detector of our own: sound by the frame, speech where a sample says so.

Rules: what is loud is speech, and `mark` of an utterance is found again as its loudest sample; the
microphone gives what was put into it and nothing else, is gone and back as it is told, and knows
how much of what it gave was dealt with: whoever reads again has.
"""

from __future__ import annotations

import queue
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from runner.speech.ears.capture import Piece
from runner.speech.ears.levels import FRAME
from runner.speech.heard import RATE

if TYPE_CHECKING:
    from runner.speech.heard import Audio

SPEECH, LOUD, QUIET = 0.5, 0.1, 0.001


def piece(seconds: float, value: float = QUIET, mark: float = 0.0) -> Audio:
    """So much sound in whole frames; `mark` is the value of its samples in place of `value`."""
    return np.full(max(1, round(seconds * RATE / FRAME)) * FRAME, mark or value, np.float32)


def mark_of(samples: Audio) -> float:
    """By which mark an utterance was said."""
    return round(float(np.abs(samples).max(initial=0.0)), 4)


class LoudIsSpeech:
    """A net for the detector that takes what is loud for speech; `fails` is raised in its place."""

    def __init__(self) -> None:
        self.fails: Exception | None = None

    def process(self, data: memoryview) -> float:
        if self.fails is not None:
            raise self.fails
        return float(np.abs(np.frombuffer(data, np.float32)).max() > LOUD)

    def reset(self) -> None:
        """Nothing to forget."""


class FakeDevice:
    """A microphone that gives what is put into it."""

    def __init__(self) -> None:
        self.fault = ""
        self.gone = False
        self.closed = 0
        self.reopened = 0
        self.comes_back: Callable[[], bool] = lambda: False
        self.fails: Exception | None = None
        self.given = 0
        self.dealt_with = 0
        self._got = 0
        self._pieces: queue.SimpleQueue[Piece | None] = queue.SimpleQueue()

    @property
    def position(self) -> int:
        return self.given

    @property
    def lost(self) -> bool:
        return self.gone

    def put(self, samples: Audio, *, broken: bool = False) -> None:
        """Sound arrives."""
        self.given += len(samples)
        self._pieces.put(Piece(samples, broken))

    def say(self, seconds: float = 0.4, mark: float = 0.0) -> None:
        """Somebody speaks, with the silence around it that makes it an answer."""
        self.put(piece(0.3))
        self.put(piece(seconds, SPEECH, mark))
        self.put(piece(1.0))

    def lose(self, fault: str = "it is gone") -> None:
        """Pulled out."""
        self.fault, self.gone = fault, True
        self._pieces.put(None)

    def reopen(self) -> bool:
        self.reopened += 1
        if self.comes_back():
            self.fault, self.gone = "", False
        return not self.gone

    def read(self, timeout: float) -> Piece | None:
        self.dealt_with = self._got
        if self.fails is not None:
            raise self.fails
        try:
            found = self._pieces.get(timeout=timeout)
        except queue.Empty:
            return None
        self._got += len(found.samples) if found is not None else 0
        return found

    def close(self) -> None:
        self.closed += 1
