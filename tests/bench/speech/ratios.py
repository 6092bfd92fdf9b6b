"""How far each utterance stands above the noise, as the program itself would hold it.

Rules: the estimate is the ears' own, by their detector and their measure of noise, on a second of
the trial's noise before the utterance and on the utterance; where there is no noise but what was
recorded, the second is the quietest quarter second of the recording, wound round; what the detector
finds no speech in is measured as a whole, as a clip is that a key opened; each estimate is made
once and kept, under the name of its trial and a hash of the ears' code.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from runner.speech.ears.detector import Detector, Model, load
from runner.speech.heard import RATE
from tests.bench.speech import noise, sound
from tests.bench.speech.decodings import state_of_code
from tests.bench.speech.noise import seed_of
from tests.bench.speech.trials import Speech, Trial, padding, spoken
from tests.bench.speech.voices import cache

if TYPE_CHECKING:
    from runner.speech.heard import Audio

CODE: Final = ("runner/speech/ears/detector.py", "runner/speech/ears/levels.py")
_BEFORE: Final = RATE
_QUARTER: Final = RATE // 4


class Ratios:
    """The estimates that were made, None where there is none to be had."""

    def __init__(self, place: Path | None = None, state: str | None = None) -> None:
        folder = (place or cache()) / "ratios"
        folder.mkdir(parents=True, exist_ok=True)
        self.path = folder / f"{state or state_of_code(parts=CODE)}.jsonl"
        self._found: dict[str, float | None] = {}
        for line in self.path.read_bytes().splitlines(keepends=True) if self.path.exists() else ():
            if line.endswith(b"\n"):
                name, ratio = json.loads(line)
                self._found[name] = ratio

    def __contains__(self, trial: Trial) -> bool:
        return trial.name in self._found

    def __getitem__(self, trial: Trial) -> float | None:
        """KeyError where none was made."""
        return self._found[trial.name]

    def add(self, trial: Trial, ratio: float | None) -> None:
        """Keeps one."""
        self._found[trial.name] = ratio
        with self.path.open("ab") as file:
            file.write(json.dumps([trial.name, ratio]).encode() + b"\n")

    def make(
        self, trials: Iterable[Trial], data: Path, until: Callable[[], bool] = lambda: False
    ) -> int:
        """Makes what is missing, until told to stop; how many were made."""
        count = 0
        model: Model | None = None
        for trial in trials:
            if trial in self:
                continue
            if until():
                break
            model = model or load()
            self.add(trial, estimate(trial, data, model))
            count += 1
        return count


def estimate(trial: Trial, data: Path, model: Model) -> float | None:
    """The ratio in dB that the ears give for a trial."""
    model.reset()
    detector = Detector(model)
    clean, around, before = _sounds(trial.speech, trial.group, data)
    if trial.level is None:
        return heard_ratio(quietest(clean), clean, detector)
    mixed = noise.mixed(clean, around, trial.level, padding(trial.speech))
    return heard_ratio(before * _scale(mixed, clean, around), mixed, detector)


@lru_cache(maxsize=4)
def _sounds(speech: Speech, group: int, data: Path) -> tuple[Audio, Audio, Audio]:
    """Speech, noise around it and before it: the same at every level."""
    clean, seed = spoken(speech), seed_of(speech.key, group)
    return (
        clean, noise.around(data, group, len(clean), seed), noise.around(data, group, _BEFORE, seed)
    )  # fmt: skip


def heard_ratio(before: Audio, spoken: Audio, detector: Detector) -> float | None:
    """What the ears hold the ratio to be, rounded to a hundredth."""
    detector.feed(before)
    start = detector.heard
    frames = [frame for frame in detector.feed(spoken) if frame.at + len(frame.samples) > start]
    of_speech = [frame.samples for frame in frames if frame.speech]
    first = next((n for n, frame in enumerate(frames) if frame.speech), 0)
    last = next((n for n in reversed(range(len(frames))) if frames[n].speech), len(frames) - 1)
    clip = [frame.samples for frame in frames[first : last + 1]] if of_speech else [spoken]
    ratio = detector.noise.ratio(np.concatenate(clip))
    return None if ratio is None else round(ratio, 2)


def quietest(samples: Audio) -> Audio:
    """The quietest quarter second, wound round to a second; a shorter clip as a whole."""
    starts = range(0, max(1, len(samples) - _QUARTER + 1), RATE // 20)
    start = min(starts, key=lambda at: sound.power(samples[at : at + _QUARTER]))
    return np.resize(samples[start : start + _QUARTER], _BEFORE)


def _scale(mixed: Audio, clean: Audio, around: Audio) -> float:
    """By how much the noise was turned to be mixed: the mixture is a sum of the two, so the least
    squares are exact."""
    parts = np.stack([clean, around]).astype(np.float64)
    found = np.linalg.solve(parts @ parts.T, parts @ mixed.astype(np.float64))
    return float(found[1])
