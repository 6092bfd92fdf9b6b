"""The noise that the ears would hold a trial for: estimated once, and near what was mixed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("soundfile")

from runner.speech.ears.detector import Detector  # noqa: E402
from runner.speech.ears.levels import FRAME  # noqa: E402
from runner.speech.heard import RATE  # noqa: E402
from tests.bench.speech import ratios  # noqa: E402
from tests.bench.speech.made import case  # noqa: E402
from tests.bench.speech.ratios import Ratios, heard_ratio, quietest  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import Audio


class Loud:
    """A detector's net of this test: what is loud is speech."""

    def process(self, data: memoryview) -> float:
        return float(np.abs(np.frombuffer(data, np.float32)).max() > 0.2)

    def reset(self) -> None:
        """There is nothing to forget."""


def tone(seconds: float, level: float, hertz: float = 1000) -> Audio:
    t = np.arange(int(seconds * RATE)) / RATE
    found: Audio = (level * np.sin(2 * np.pi * hertz * t)).astype(np.float32)
    return found


def test_the_ratio_is_that_of_what_was_heard_as_speech() -> None:
    """A tone at ten times the level is 20 dB above the other; before and behind it is none."""
    quiet = tone(0.5, 0.04)
    clip = np.concatenate([quiet, tone(1.0, 0.4), quiet])
    found = heard_ratio(tone(1.0, 0.04), clip, Detector(Loud()))
    # The noise's own part is taken off first, and the frames at the edges hold both.
    assert found == pytest.approx(20, abs=0.4)
    # What the detector takes for noise is learnt as noise, as in a run: the ratio is too low then.
    missed = heard_ratio(tone(1.0, 0.04), tone(1.0, 0.08), Detector(Loud()))
    assert missed is not None
    assert missed < 10 * np.log10(3)
    assert heard_ratio(tone(1.0, 0.04), tone(0.01, 0.4), Detector(Loud())) is None


def test_the_quietest_part_stands_for_the_noise_of_a_recording() -> None:
    clip = np.concatenate([tone(0.4, 0.3), tone(0.4, 0.01), tone(0.4, 0.3)])
    found = quietest(clip)
    assert len(found) == RATE
    assert np.abs(found).max() < 0.011
    assert len(found) > 8 * FRAME
    short = tone(0.1, 0.3)
    assert np.abs(quietest(short)).max() == np.abs(short).max()


def test_an_estimate_is_made_once_and_found_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[str] = []

    def estimate(trial: object, data: Path, model: object) -> float | None:
        made.append(str(trial))
        return None if len(made) == 2 else 7.25

    monkeypatch.setattr(ratios, "estimate", estimate)
    monkeypatch.setattr(ratios, "load", Loud)
    trials = [case("parked", "parked", text=text).trial for text in ("a", "b", "c")]
    kept = Ratios(tmp_path, "s1")
    stops = iter([False, False, True])
    assert kept.make(trials, tmp_path, lambda: next(stops)) == 2
    with kept.path.open("ab") as file:
        file.write(b'["torn')
    again = Ratios(tmp_path, "s1")
    assert [again[trial] for trial in trials[:2]] == [7.25, None]
    assert trials[2] not in again
    assert again.make(trials, tmp_path) == 1
    assert again[trials[2]] == 7.25
    assert len(made) == 3
    assert trials[0] not in Ratios(tmp_path, "s2")
