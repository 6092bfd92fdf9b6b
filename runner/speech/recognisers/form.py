"""What every recogniser asks of an utterance before it listens."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from runner.speech.heard import RATE

if TYPE_CHECKING:
    from runner.speech.heard import Audio

SHORTEST_S: Final = 0.1
LONGEST_S: Final = 30.0


def check(audio: Audio) -> None:
    """ValueError unless `audio` is one utterance as every recogniser gets it."""
    if audio.ndim != 1 or audio.dtype != np.float32:
        raise ValueError(f"audio is {audio.dtype} of {audio.ndim} dimensions; float32 of 1 is due")
    seconds = len(audio) / RATE
    if not SHORTEST_S <= seconds <= LONGEST_S:
        raise ValueError(f"audio lasts {seconds:.2f} s; {SHORTEST_S} to {LONGEST_S} s is heard")
    if not np.isfinite(audio).all():
        raise ValueError("audio holds what is no number")
    if np.abs(audio).max() > 1.0:
        raise ValueError("audio is outside ±1")
