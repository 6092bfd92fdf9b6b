"""Sound of any rate at another, mostly the 16 kHz of the recognisers, in pieces as they come.

Rules: the same samples give the same result however they are cut into pieces; nothing above half
of the lower rate is folded back (70 dB and more under its own level); what is heard is neither
moved in time nor made louder. One polyphase filter, a sinc in a Kaiser window, designed by the
window's own rule (J. F. Kaiser 1974, as in Oppenheim and Schafer, Discrete-Time Signal Processing,
section 7.5; from memory).
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from runner.speech.heard import RATE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from runner.speech.heard import Audio

LOWEST: Final = 4_000
HIGHEST: Final = 384_000
"""The rates that a device may have, in samples a second."""

_STOP_DB: Final = 80.0
_PASS: Final = 7 / 8
"""The part of the lower half rate that is kept whole: 7 kHz of 8."""
_BATCH: Final = 1 << 12


class Resampler:
    """A stream of one rate, made one of another. ValueError for a rate that no device has."""

    def __init__(self, rate: int, to: int = RATE) -> None:
        for one in (rate, to):
            if not LOWEST <= one <= HIGHEST:
                raise ValueError(f"a rate of {one} a second; allowed: {LOWEST} to {HIGHEST}")
        common = math.gcd(rate, to)
        self._up, self._down = to // common, rate // common
        self._phases = None if rate == to else _filter(rate, to)
        # As if silence had gone before: the first sample out is at the time of the first one in.
        self._held = np.zeros(0 if self._phases is None else self._phases.shape[1] // 2, np.float32)
        self._first = -len(self._held)
        self._made = 0

    def feed(self, samples: Audio) -> Audio:
        """What can be said of the sound so far: all of it but the last milliseconds."""
        if self._phases is None:
            return samples.astype(np.float32)
        self._held = np.concatenate([self._held, samples.astype(np.float32)])
        return self._make()

    def flush(self) -> Audio:
        """The rest, as if silence followed. Nothing may be fed after it."""
        if self._phases is None:
            return np.zeros(0, np.float32)
        before, given = self._made, self._first + len(self._held)
        wanted = -(-given * self._up // self._down)
        tail = np.zeros(self._phases.shape[1], np.float32)
        self._held = np.concatenate([self._held, tail])
        return self._make()[: max(0, wanted - before)]

    def _make(self) -> Audio:
        assert self._phases is not None  # noqa: S101
        taps = self._phases.shape[1]
        # Output n stands at n * down / up of the input, and needs the taps around that place.
        last = self._first + len(self._held) - taps // 2 - 1
        count = max(0, (last * self._up + self._up - 1) // self._down + 1 - self._made)
        parts = [
            self._some(begin, min(begin + _BATCH, self._made + count))
            for begin in range(self._made, self._made + count, _BATCH)
        ]
        self._made += count
        unused = self._made * self._down // self._up - taps // 2 + 1 - self._first
        if unused > 0:
            self._held = self._held[unused:]
            self._first += unused
        return np.concatenate(parts) if parts else np.zeros(0, np.float32)

    def _some(self, begin: int, end: int) -> Audio:
        assert self._phases is not None  # noqa: S101
        taps = self._phases.shape[1]
        places = np.arange(begin, end, dtype=np.int64) * self._down
        starts = places // self._up - taps // 2 + 1 - self._first
        windows = np.lib.stride_tricks.sliding_window_view(self._held, taps)[starts]
        made: Audio = np.einsum("nk,nk->n", windows, self._phases[places % self._up])
        return made


def resampled(samples: Audio, rate: int, to: int = RATE) -> Audio:
    """The whole of a sound at another rate."""
    stream = Resampler(rate, to)
    first = stream.feed(samples)
    return np.concatenate([first, stream.flush()])


@lru_cache(maxsize=4)
def _filter(rate: int, to: int) -> NDArray[np.float32]:
    """The taps of each phase: row p weighs the input around a place p/up behind a sample."""
    up = to // math.gcd(rate, to)
    half_rate = min(rate, to) / 2
    width = half_rate * (1 - _PASS)
    cutoff = half_rate - width / 2
    beta = 0.1102 * (_STOP_DB - 8.7)
    seconds = (_STOP_DB - 7.95) / (2.285 * 2 * math.pi * width)
    half = math.ceil(seconds * rate / 2)
    offsets = np.arange(-half + 1, half + 1)[None, :] - (np.arange(up) / up)[:, None]
    inside = np.clip(1 - (offsets / half) ** 2, 0, None)
    window = np.i0(beta * np.sqrt(inside)) / np.i0(beta)
    taps = 2 * cutoff / rate * np.sinc(2 * cutoff / rate * offsets) * window
    taps /= taps.sum(axis=1, keepdims=True)
    found: NDArray[np.float32] = taps.astype(np.float32)
    return found
