"""The noise is what it says: seeded, at its ratio, with its lines where they belong."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

np = pytest.importorskip("numpy")

from runner.speech.heard import RATE  # noqa: E402
from tests.bench.speech import noise, recordings, sound  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import Audio

DATA = recordings.folder()
needs_data = pytest.mark.skipif(bool(recordings.missing()), reason=recordings.missing())


def tone(hertz: float, seconds: float, level: float = 0.5) -> Audio:
    t = np.arange(int(seconds * RATE)) / RATE
    found: Audio = (level * np.sin(2 * np.pi * hertz * t)).astype(np.float32)
    return found


def test_the_power_of_a_tone_is_half_its_square_in_the_band_and_none_outside() -> None:
    assert sound.power(tone(1000, 1)) == pytest.approx(0.125, rel=1e-3)
    assert sound.power(tone(100, 1)) == pytest.approx(0, abs=1e-9)
    assert sound.power(tone(5000, 1)) == pytest.approx(0, abs=1e-9)


def test_the_level_of_speech_is_that_of_the_frames_that_speak() -> None:
    word = tone(1000, 0.5)
    padded = np.concatenate([np.zeros(RATE, np.float32), word, np.zeros(RATE, np.float32)])
    assert sound.speech_power(padded) == pytest.approx(0.125, rel=0.05)
    assert sound.power(padded) == pytest.approx(0.025, rel=0.05)
    assert sound.speech_power(np.zeros(RATE, np.float32)) == 0


@pytest.mark.parametrize("rate", [8000, 22050, 44100, 48000])
def test_resampling_keeps_a_tone(rate: int) -> None:
    t = np.arange(rate) / rate
    found = sound.resampled(np.sin(2 * np.pi * 1000 * t).astype(np.float32), rate)
    expected = np.sin(2 * np.pi * 1000 * np.arange(RATE) / RATE)
    assert len(found) == RATE
    assert np.abs(found - expected).max() < 1e-3


def test_resampling_folds_nothing_back() -> None:
    t = np.arange(44100) / 44100
    found = sound.resampled(np.sin(2 * np.pi * 9000 * t).astype(np.float32), 44100)
    assert np.abs(found).max() < 1e-3


@pytest.mark.parametrize("ratio", [10.0, 5.0, -3.0])
def test_a_mixture_has_its_ratio_in_the_band(ratio: float) -> None:
    word = np.concatenate([np.zeros(4000, np.float32), tone(700, 0.6), np.zeros(4000, np.float32)])
    around = noise.cockpit(2, len(word), 7)
    found = noise.mixed(word, around, ratio, 8000)
    scale = float(np.dot(found, word) / np.dot(word, word))
    rest = found / scale - word
    measured = sound.decibels(sound.power(tone(700, 0.6)) / sound.power(rest))
    assert measured == pytest.approx(ratio, abs=0.3)
    assert np.abs(found).max() <= 0.99


def test_a_ratio_to_silence_is_refused() -> None:
    silence = np.zeros(RATE, np.float32)
    with pytest.raises(ValueError, match="silence"):
        noise.mixed(silence, noise.cockpit(0, RATE, 1), 5)
    with pytest.raises(ValueError, match="samples"):
        noise.mixed(tone(700, 1), noise.cockpit(0, 100, 1), 5)


def test_the_same_seed_is_the_same_noise_and_another_is_another() -> None:
    assert np.array_equal(noise.cockpit(1, 4000, 5), noise.cockpit(1, 4000, 5))
    assert not np.array_equal(noise.cockpit(1, 4000, 5), noise.cockpit(1, 4000, 6))
    assert not np.array_equal(noise.cockpit(1, 4000, 5), noise.cockpit(2, 4000, 5))
    assert noise.seed_of("a", 1) == noise.seed_of("a", 1) != noise.seed_of("a1")


@pytest.mark.parametrize("group", range(noise.GROUPS))
def test_the_band_lies_about_10_db_under_the_whole_cockpit(group: int) -> None:
    whole = noise.cockpit(group, 8 * RATE, group)
    total = float(np.mean(whole.astype(np.float64) ** 2))
    assert -13 < sound.decibels(sound.power(whole) / total) < -7


def test_the_firing_frequency_stands_out_and_blades_modulate_the_wash() -> None:
    whole = noise.cockpit(2, 8 * RATE, 3).astype(np.float64)
    spectrum = np.abs(np.fft.rfft(whole * np.hanning(len(whole))))
    places = np.fft.rfftfreq(len(whole), 1 / RATE)
    # Group 2 turns at 2020 to 2280 a minute: three firings a turn are 101 to 114 a second.
    near = spectrum[(places > 99) & (places < 116)].max()
    assert near > 5 * np.median(spectrum[(places > 60) & (places < 300)])
    wash = sound.in_band(whole.astype(np.float32)).astype(np.float64) ** 2
    beat = np.abs(np.fft.rfft(wash - wash.mean()))
    slow = (places > 8) & (places < 30)
    assert 15 < places[slow][np.argmax(beat[slow])] < 19.5


@needs_data
def test_no_field_recording_is_in_two_groups_and_none_is_left_out() -> None:
    found = [path for group in range(noise.GROUPS) for path in noise.clips(DATA, group)]
    assert len(found) == len(set(found)) == len(list((DATA / "helicopter_noise").glob("*.ogg")))


@needs_data
def test_both_kinds_of_noise_come() -> None:
    kinds = set()
    for seed in range(12):
        piece = noise.around(DATA, 1, 2000, seed)
        assert len(piece) == 2000
        kinds.add(np.array_equal(piece, noise.cockpit(1, 2000, seed)))
    assert kinds == {True, False}


def test_a_folder_without_clips_is_said(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match="group 3"):
        noise.helicopter(tmp_path, 3, 100, 1)
