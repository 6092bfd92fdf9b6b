"""How loud it is and how noisy: for the meter, and for the decision that needs to know.

Rules: the ratio of speech to noise is one of mean powers in the band 300 to 3400 Hz (telephony's),
each frame weighed by a Hann window; noise is learnt from frames without speech alone, fast at first
and then over seconds, so that an engine that comes up is followed and a word is not; nothing is
guessed: before there was noise to measure there is no figure.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from runner.speech.heard import RATE

if TYPE_CHECKING:
    from runner.speech.heard import Audio

FRAME: Final = 512
"""Samples of one frame: 32 ms, what the detector takes at once."""

_BAND_HZ: Final = (300.0, 3400.0)
_FLOOR: Final = 1e-12
_SECONDS: Final = 2.0
"""How long noise is remembered."""
_LEAST: Final = 8
"""Frames without speech before a figure is given (a quarter of a second)."""

_WINDOW: Final = np.hanning(FRAME + 1)[:-1]
_PLACES: Final = np.fft.rfftfreq(FRAME, 1 / RATE)
_IN_BAND: Final = np.abs(_PLACES - sum(_BAND_HZ) / 2) <= (_BAND_HZ[1] - _BAND_HZ[0]) / 2
_SCALE: Final = 2 / (FRAME * float((_WINDOW**2).sum()))


class Level(NamedTuple):
    """One frame in dB under full scale (a sine at full scale is −3): all of it, its highest sample,
    what lies in the band."""

    whole: float
    peak: float
    band: float


def level(frame: Audio) -> Level:
    """The levels of one frame."""
    samples = frame.astype(np.float64)
    peak = float(np.abs(samples).max(initial=0))
    mean = float(np.mean(samples**2))
    return Level(_db(mean), _db(peak * peak), _db(band_power(frame)))


def louder(samples: Audio, gain_db: float) -> Audio:
    """A sound with a person's gain, as far as it can be had without cutting off its peaks."""
    if not gain_db:
        return samples
    peak = float(np.abs(samples).max(initial=0.0))
    most = max(1.0, 1.0 / peak) if peak else 1.0
    made: Audio = samples * np.float32(min(10 ** (gain_db / 20), most))
    return made


def band_power(frame: Audio) -> float:
    """Mean power of one frame in the band. ValueError for another length."""
    if len(frame) != FRAME:
        raise ValueError(f"a frame of {len(frame)} samples; allowed: {FRAME}")
    spectrum = np.fft.rfft(frame.astype(np.float64) * _WINDOW)[_IN_BAND]
    return float((np.abs(spectrum) ** 2).sum()) * _SCALE


class Noise:
    """The noise that stands, learnt frame by frame."""

    def __init__(self) -> None:
        self._power = 0.0
        self._frames = 0

    def hear(self, frame: Audio, *, speech: bool) -> None:
        """Takes one frame; with speech in it, it is left out."""
        if speech:
            return
        self._frames += 1
        weight = max(1 / self._frames, FRAME / RATE / _SECONDS)
        self._power += weight * (band_power(frame) - self._power)

    def db(self) -> float | None:
        """Its mean power in the band in dB; None before there was enough of it."""
        return _db(self._power) if self._frames >= _LEAST else None

    def ratio(self, spoken: Audio) -> float | None:
        """How far a clip of speech is above it, in dB; its own noise is taken off first.

        None where noise is not known yet, or where the clip is shorter than a frame.
        """
        noise = self.db()
        frames = len(spoken) // FRAME
        if noise is None or not frames:
            return None
        powers = [band_power(spoken[i * FRAME : (i + 1) * FRAME]) for i in range(frames)]
        return _db(max(sum(powers) / frames - self._power, _FLOOR)) - noise


def _db(power: float) -> float:
    return 10 * math.log10(max(power, _FLOOR))
