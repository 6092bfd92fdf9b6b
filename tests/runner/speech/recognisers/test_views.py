"""Two hearings of a number are one, and the second is the first, slower."""

from __future__ import annotations

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("onnxruntime")

from runner.speech.heard import RATE, Sort  # noqa: E402
from runner.speech.recognisers.answer_tree import Answer  # noqa: E402
from runner.speech.recognisers.beam import Found  # noqa: E402
from runner.speech.recognisers.views import at_tempo, together  # noqa: E402


def number(line: str) -> Answer:
    return Answer(line, Sort.NUMBER)


@pytest.mark.parametrize("tempo", [0.88, 0.5, 1.25])
def test_a_tone_lasts_longer_and_is_lower_by_the_tempo(tempo: float) -> None:
    t = np.arange(RATE) / RATE
    tone = (0.5 * np.sin(2 * np.pi * 1000 * t)).astype(np.float32)
    played = at_tempo(tone, tempo)
    assert played.dtype == np.float32
    assert len(played) == round(RATE / tempo)
    spectrum = np.abs(np.fft.rfft(played))
    assert spectrum.argmax() * RATE / len(played) == pytest.approx(1000 * tempo, abs=2)
    assert np.abs(played).max() == pytest.approx(0.5, abs=0.02)


def test_what_is_played_stays_within_full_scale() -> None:
    square = np.sign(np.sin(2 * np.pi * 200 * np.arange(RATE) / RATE)).astype(np.float32)
    assert np.abs(at_tempo(square, 0.88)).max() <= 1


def test_scores_are_means_and_no_hearing_has_a_veto() -> None:
    first = Found({number("25"): -2.0, number("29"): -3.0, number("80"): -9.0}, (7, 8), -1.0)
    second = Found({number("29"): -1.0, number("20"): -4.0}, (9,), -2.0)
    found = together((first, second))
    assert found.answers == {
        number("25"): (-2.0 - 7.0) / 2,
        number("29"): -2.0,
        number("80"): (-8.0 - 7.0) / 2,
        number("20"): (-8.0 - 4.0) / 2,
    }
    assert (found.free, found.free_score) == ((7, 8), -1.5)


def test_a_hearing_that_reached_nothing_is_no_vote() -> None:
    found = together((Found({number("25"): -2.0}, (5,), -1.0), Found({}, (), -3.0)))
    assert found.answers == {number("25"): -2.0}
    assert (found.free, found.free_score) == ((5,), -2.0)
