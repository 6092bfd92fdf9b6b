"""What is tried: an utterance, a question, the answer that it is, and the noise around it.

Rules: a trial is data and is named by a hash of all that decides its sound and its question, so a
decoding kept under that name is never taken for another; the group of a trial is that of its
speaker, and its noise is of the same group; `truth` is the line that was said, None where what was
said answers nothing; the same seed gives the same trials in the same order.
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from runner.speech.heard import RATE, AnswerSet
from tests.bench.speech import noise, sound, voices
from tests.bench.speech.noise import seed_of
from tests.bench.speech.voices import Voice

if TYPE_CHECKING:
    from runner.speech.heard import Audio

_FORM = 2
"""Raised when the same trial would sound otherwise."""

_PAD_S = 0.25
"""Before and after what is trimmed: ears pad what they find."""


class Speech(NamedTuple):
    """An utterance: what a voice says, or recordings of one speaker one after the other."""

    speaker: str
    text: str
    voice: Voice | None = None
    paths: tuple[Path, ...] = ()
    trimmed: bool = True

    @property
    def key(self) -> str:
        """All that decides its sound, apart from where the files lie."""
        names = [f"{path.parent.name}/{path.name}" for path in self.paths]
        voice = f"{self.voice.label} {self.voice.speed}" if self.voice else ""
        return "\x1f".join((voice, self.text if self.voice else "", *names, str(self.trimmed)))


class Trial(NamedTuple):
    """One utterance at one question in one noise."""

    part: str
    group: int
    speech: Speech
    answers: AnswerSet
    truth: str | None
    level: float | None
    step: str = ""
    sort: str = ""
    """What it is within its part, for the report."""

    @property
    def utterance(self) -> str:
        """The trial without its noise: the same at every level."""
        return _digest(self.speech.key, _canonical(self.answers), str(self.group))

    @property
    def name(self) -> str:
        """What its decodings are kept under."""
        return _digest(str(_FORM), self.utterance, str(self.level))


def _canonical(answers: AnswerSet) -> str:
    """The same text for equal sets, in any process: what stands in a set is put in order."""
    sorts = sorted(sort.value for sort in answers.read_back)
    lines = ", ".join(map(repr, sorted(answers.critical_lines)))
    bare = repr(answers._replace(read_back=frozenset(), critical_lines=frozenset()))
    if lines:
        bare = bare.replace("critical_lines=frozenset()", f"critical_lines=frozenset({{{lines}}})")
    return f"{bare}{sorts}"


def _digest(*words: str) -> str:
    return hashlib.sha256("\x1e".join(words).encode()).hexdigest()[:24]


def spoken(speech: Speech) -> Audio:
    """The utterance alone. Joined recordings stand a tenth of a second apart, at one level."""
    if speech.voice is not None:
        pieces = [sound.read(voices.rendered(speech.voice, speech.text))]
    else:
        pieces = [sound.read_kept(path) for path in speech.paths]
    if len(pieces) > 1:
        pieces = [piece / max(1e-4, sound.speech_power(piece) ** 0.5) * 0.08 for piece in pieces]
    gap = np.zeros(RATE // 10, np.float32)
    pad = np.zeros(int(_PAD_S * RATE) if speech.trimmed else 0, np.float32)
    joined = [part for piece in pieces for part in (gap, piece)][1:]
    found: Audio = np.concatenate([pad, *joined, pad]).astype(np.float32)
    return found * min(1.0, 0.98 / max(1e-6, float(np.abs(found).max())))


def audio(trial: Trial, data: Path) -> Audio:
    """What the recognisers are given."""
    clean = spoken(trial.speech)
    if trial.level is None:
        return clean
    around = noise.around(data, trial.group, len(clean), seed_of(trial.speech.key, trial.group))
    return noise.mixed(clean, around, trial.level, padding(trial.speech))


def padding(speech: Speech) -> int:
    """Samples of silence that were added to it."""
    return 2 * int(_PAD_S * RATE) if speech.trimmed else 0


def at_levels(trials: list[Trial]) -> list[Trial]:
    """Each of them at every level, one after the other, so that any beginning is a fair part."""
    return [trial._replace(level=level) for trial in trials for level in noise.LEVELS]
