"""Sound files and levels: what is read comes out mono, 16 kHz, float32, within ±1.

Rules: a clip is resampled as a whole by its spectrum, which neither folds nor shifts; levels are
mean powers in the band 300 to 3400 Hz (telephony's), where the ratios of this bench are measured;
where takes of one speaker are joined, they are brought to one level in the frames that speak.
"""

from __future__ import annotations

import math
import os
import wave
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from runner.speech.heard import RATE

if TYPE_CHECKING:
    from runner.speech.heard import Audio

BAND_HZ = (300.0, 3400.0)
_FRAME = RATE // 50
_QUIETER = 10 ** (-15.9 / 10)
"""A frame this far under the mean of those that speak holds no speech: the margin of the active
level of ITU-T P.56 (from memory)."""


def resampled(samples: Audio, rate: int) -> Audio:
    """`samples` of `rate` a second at 16 kHz."""
    if rate == RATE or not len(samples):
        return samples.astype(np.float32)
    length = round(len(samples) * RATE / rate)
    spectrum = np.fft.rfft(samples.astype(np.float64))
    kept = np.zeros(length // 2 + 1, np.complex128)
    count = min(len(kept), len(spectrum))
    kept[:count] = spectrum[:count]
    return (np.fft.irfft(kept, length) * (length / len(samples))).astype(np.float32)


def read(path: Path) -> Audio:
    """The sound of a file."""
    import soundfile

    samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
    mixed: Audio = samples.mean(axis=1)
    return resampled(mixed, rate)


@lru_cache(maxsize=256)
def read_kept(path: Path) -> Audio:
    """The same, kept in memory and not to be written to."""
    found = read(path)
    found.flags.writeable = False
    return found


def write(path: Path, samples: Audio) -> None:
    """Writes 16 bits a sample, whole or not at all: another process may be reading."""
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    with wave.open(str(part), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((np.clip(samples, -1, 1) * 32767).round().astype("<i2").tobytes())
    part.replace(path)


def in_band(samples: Audio) -> Audio:
    """What of it lies in the band."""
    spectrum = np.fft.rfft(samples.astype(np.float64))
    places = np.fft.rfftfreq(len(samples), 1 / RATE)
    spectrum[(places < BAND_HZ[0]) | (places > BAND_HZ[1])] = 0
    return np.fft.irfft(spectrum, len(samples)).astype(np.float32)


def power(samples: Audio) -> float:
    """Mean power in the band."""
    return float(np.mean(in_band(samples).astype(np.float64) ** 2)) if len(samples) else 0.0


def speech_power(samples: Audio) -> float:
    """Mean power in the band of the frames of 20 ms that hold speech; 0 for silence."""
    band = in_band(samples).astype(np.float64)
    count = max(1, len(band) // _FRAME)
    frames = np.array([np.mean(part**2) for part in np.array_split(band, count)])
    active = frames
    for _ in range(20):
        kept = frames[frames > active.mean() * _QUIETER]
        if len(kept) in (0, len(active)):
            break
        active = kept
    return float(active.mean())


def decibels(ratio: float) -> float:
    """A ratio of powers."""
    return 10 * math.log10(ratio)
