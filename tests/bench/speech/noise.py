"""The noise of a helicopter around a word: real clips, and a synthesised piston cockpit.

Rules: noise is a function of its group and its seed, nothing else; groups never share a field
recording, nor a range of engine and rotor speeds, so what thresholds were fitted on is never what
they are judged on; mixed at a ratio of speech to noise in the band 300 to 3400 Hz, the speech taken
over the whole of its clip as it was recorded or rendered (over the frames that speak alone, a word
in a clip of one second is 3 to 4 dB louder), and what would pass full scale is turned down as a
whole, never clipped.

The synthesised cockpit has the parts of the real one: firing harmonics at half orders of engine
speed, strongest at the firing frequency (three a turn for six cylinders of four strokes); the main
rotor's blade pass as an impulsive thump; the tail rotor; gear whine that wobbles slowly; broadband
falling with frequency and modulated at blade rate. The band then lies some 10 dB under the total.
Common practice, no published source.
"""

from __future__ import annotations

import zlib
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from runner.speech.heard import RATE
from tests.bench.speech.sound import power, read_kept

GROUPS: Final = 5
RECORDINGS: Final = (
    ("1-172649",),
    ("2-188822",),
    ("2-37806",),
    ("3-150979", "1-181071"),
    ("3-68630", "3-154926"),
)
"""The field recordings of each group, by the beginning of their clips' names."""

LEVELS: Final[tuple[float | None, ...]] = (None, 10.0, 5.0)
"""Ratios in dB that are judged; None is without noise."""

if TYPE_CHECKING:
    from runner.speech.heard import Audio

Times = NDArray[np.float64]

_FULL = 0.98
_CYLINDERS_A_TURN = 3
_TAIL_RATIO = 115 / 17
_WHINES_HZ = ((1100, 0.020), (2300, 0.013), (3400, 0.008))


def seed_of(*words: object) -> int:
    """A seed that the same words give on any machine."""
    return zlib.crc32("\x1f".join(map(str, words)).encode())


def clips(folder: Path, group: int) -> list[Path]:
    """The helicopter clips of a group under the data folder, in the order of their names."""
    found = sorted((folder / "helicopter_noise").glob("*.ogg"))
    return [path for path in found if path.stem.rsplit("-", 1)[0] in RECORDINGS[group]]


def helicopter(folder: Path, group: int, length: int, seed: int) -> Audio:
    """A piece of a real clip, from a place that the seed gives; wound round at the end."""
    rng = np.random.default_rng(seed)
    paths = clips(folder, group)
    if not paths:
        raise FileNotFoundError(f"no noise clip of group {group} under {folder}")
    whole = read_kept(paths[int(rng.integers(len(paths)))])
    start = int(rng.integers(len(whole)))
    piece: Audio = np.take(whole, np.arange(start, start + length), mode="wrap")
    return piece


def cockpit(group: int, length: int, seed: int) -> Audio:
    """A piece of a piston cockpit; each group turns within a range of its own."""
    rng = np.random.default_rng(seed)
    share = (group + rng.uniform(0.1, 0.9)) / GROUPS
    turns = (1500 + 1300 * share) / 60
    blades = 15 + 4 * share
    t = np.arange(length) / RATE
    sound = _firing(rng, t, turns)
    thump = _thump(rng, t, blades)
    sound += 0.55 * thump
    tail = blades * _TAIL_RATIO
    for order in range(1, 5):
        sound += 0.12 / order * np.sin(2 * np.pi * tail * order * t + rng.uniform(0, 6.28))
    for place, level in _WHINES_HZ:
        sound += level * _whine(rng, t, place * (0.94 + 0.12 * share))
    wash = _broadband(rng, length)
    sound += 0.25 * wash * (1 + 0.5 * np.sin(2 * np.pi * blades * t + rng.uniform(0, 6.28)))
    found: Audio = (sound / np.abs(sound).max()).astype(np.float32)
    return found


def _firing(rng: np.random.Generator, t: Times, turns: float) -> Times:
    """Half orders of engine speed, each with a phase of its own, the speed wandering a little."""
    wander = 1 + 0.004 * np.sin(2 * np.pi * rng.uniform(0.2, 0.6) * t + rng.uniform(0, 6.28))
    angle = 2 * np.pi * np.cumsum(turns * wander) / RATE
    sound = np.zeros(len(t))
    for half in range(1, 41):
        order = half / 2
        peak = 1.0 if order % _CYLINDERS_A_TURN == 0 else 0.25
        level = peak * rng.uniform(0.6, 1.0) / (1 + (order / _CYLINDERS_A_TURN) ** 1.5)
        sound += level * np.sin(order * angle + rng.uniform(0, 6.28))
    return sound


def _thump(rng: np.random.Generator, t: Times, blades: float) -> Times:
    """One short push a blade: harmonics in step, falling slowly."""
    start = rng.uniform(0, 6.28)
    sound = np.zeros(len(t))
    for order in range(1, 25):
        sound += np.exp(-order / 7) * np.cos(order * (2 * np.pi * blades * t + start))
    return sound / 3


def _whine(rng: np.random.Generator, t: Times, place: float) -> Times:
    wobble = place * (1 + 0.006 * np.sin(2 * np.pi * rng.uniform(0.3, 1.2) * t))
    return np.sin(2 * np.pi * np.cumsum(wobble) / RATE + rng.uniform(0, 6.28))


def _broadband(rng: np.random.Generator, length: int) -> Times:
    """Noise whose power falls with the square of frequency above 200 Hz, at mean power 1."""
    spectrum = np.fft.rfft(rng.standard_normal(length))
    spectrum /= 1 + np.fft.rfftfreq(length, 1 / RATE) / 200
    found = np.fft.irfft(spectrum, length)
    level = float(np.sqrt(np.mean(found**2)))
    return found / level


def around(folder: Path, group: int, length: int, seed: int) -> Audio:
    """Noise of a group: a real clip or the synthesised cockpit, by the seed."""
    real = np.random.default_rng([seed, 1]).random() < 0.5
    return helicopter(folder, group, length, seed) if real else cockpit(group, length, seed)


def mixed(speech: Audio, noise: Audio, ratio_db: float, padding: int = 0) -> Audio:
    """Speech in noise at a ratio in the band; of the speech so many samples are silence that was
    added, and count for nothing. ValueError where either is silent in the band."""
    if len(noise) != len(speech):
        raise ValueError(f"{len(noise)} samples of noise for {len(speech)} of speech")
    loud = power(speech) * len(speech) / max(1, len(speech) - padding)
    quiet = power(noise)
    if loud <= 0 or quiet <= 0:
        raise ValueError("silence has no ratio to anything")
    gain = np.sqrt(loud / quiet / 10 ** (ratio_db / 10))
    whole = speech.astype(np.float64) + gain * noise.astype(np.float64)
    most = float(np.abs(whole).max())
    found: Audio = (whole * min(1.0, _FULL / most)).astype(np.float32)
    return found
