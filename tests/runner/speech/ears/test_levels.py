"""Levels of tones against what theory says of them, and the noise that stands."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

np = pytest.importorskip("numpy")

from runner.speech.ears.levels import FRAME, Noise, band_power, level  # noqa: E402
from runner.speech.heard import RATE  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import Audio


def tone(hertz: float, size: float = 1.0, frames: int = 1) -> Audio:
    made: Audio = size * np.sin(2 * np.pi * hertz * np.arange(frames * FRAME) / RATE)
    return made.astype(np.float32)


def noise(size: float, frames: int, seed: int = 3) -> Audio:
    made: Audio = np.random.default_rng(seed).normal(0, size, frames * FRAME).astype(np.float32)
    return made


def cut(samples: Audio) -> list[Audio]:
    return [samples[i : i + FRAME] for i in range(0, len(samples) - FRAME + 1, FRAME)]


def test_a_full_sine_is_three_decibels_under_full_scale() -> None:
    found = level(tone(1000))
    assert found.whole == pytest.approx(-3.01, abs=0.02)
    assert found.peak == pytest.approx(0, abs=0.01)
    assert found.band == pytest.approx(-3.01, abs=0.05)


@pytest.mark.parametrize("hertz", [60, 120, 4000, 7000])
def test_what_lies_outside_the_band_is_not_in_it(hertz: int) -> None:
    assert level(tone(hertz)).whole > -4
    assert level(tone(hertz)).band < -30


def test_silence_has_a_floor() -> None:
    assert level(np.zeros(FRAME, np.float32)) == (-120, -120, -120)


def test_white_noise_has_its_share_in_the_band() -> None:
    """3100 Hz of 8000."""
    frames = cut(noise(0.1, 400))
    mean = sum(band_power(frame) for frame in frames) / len(frames)
    assert 10 * math.log10(mean / (0.01 * 3100 / 8000)) == pytest.approx(0, abs=0.3)


@pytest.mark.parametrize("length", [0, FRAME - 1, FRAME + 1])
def test_another_length_is_refused(length: int) -> None:
    with pytest.raises(ValueError, match="allowed: 512"):
        band_power(np.zeros(length, np.float32))


def test_before_there_was_noise_there_is_no_figure() -> None:
    known = Noise()
    for frame in cut(noise(0.1, 7)):
        known.hear(frame, speech=False)
    assert known.db() is None
    assert known.ratio(tone(1000, frames=4)) is None
    known.hear(noise(0.1, 1), speech=False)
    assert known.db() is not None


def test_speech_is_not_learnt_as_noise() -> None:
    known = Noise()
    for frame in cut(noise(0.01, 50)):
        known.hear(frame, speech=False)
    before = known.db()
    for frame in cut(tone(700, 0.9, 50)):
        known.hear(frame, speech=True)
    assert known.db() == before


def test_an_engine_that_comes_up_is_followed_within_seconds() -> None:
    known = Noise()
    for frame in cut(noise(0.001, 300)):
        known.hear(frame, speech=False)
    for frame in cut(noise(0.1, 6 * RATE // FRAME)):
        known.hear(frame, speech=False)
    found = known.db()
    assert found is not None
    assert found == pytest.approx(10 * math.log10(0.01 * 3100 / 8000), abs=1.0)


@pytest.mark.parametrize("ratio", [20.0, 10.0, 5.0])
def test_the_ratio_is_that_of_the_speech_without_the_noise_around_it(ratio: float) -> None:
    around = noise(0.02, 200)
    known = Noise()
    for frame in cut(around):
        known.hear(frame, speech=False)
    size = math.sqrt(2 * 0.0004 * 3100 / 8000 * 10 ** (ratio / 10))
    spoken = tone(1000, size, 40) + noise(0.02, 40, seed=8)
    assert known.ratio(spoken) == pytest.approx(ratio, abs=0.7)


@given(st.floats(0.001, 1.0))
def test_half_as_loud_is_six_decibels_less(size: float) -> None:
    loud, soft = level(tone(900, size)), level(tone(900, size / 2))
    assert loud.whole - soft.whole == pytest.approx(6.02, abs=0.01)
    assert loud.band - soft.band == pytest.approx(6.02, abs=0.01)
