"""What the tests of the recognisers hear: recordings of people, and espeak-ng saying a text."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from runner.speech.heard import AnswerSet, Phrase
from tests.bench.speech import recordings, sound

if TYPE_CHECKING:
    from runner.speech.heard import Audio, Recogniser

WORDS = AnswerSet(1, tuple(Phrase(word, (word,)) for word in recordings.WORDS))

needs_voice = pytest.mark.skipif(
    shutil.which("espeak-ng") is None, reason="espeak-ng, which speaks here, is not installed"
)
needs_data = pytest.mark.skipif(bool(recordings.missing()), reason=recordings.missing())


def said(text: str, place: Path, voice: str = "en-us", speed: int = 150) -> Audio:
    """`text` as espeak-ng says it."""
    path = place / "said.wav"
    command = ["espeak-ng", "-v", voice, "-s", str(speed), "-w", str(path), text]
    subprocess.run(command, check=True, timeout=30)
    return sound.read(path)


def clip(word: str, number: int) -> Audio:
    """The recording of a person saying `word`, counted in the order of names."""
    place = recordings.folder() / "speech_commands" / word
    return sound.read(sorted(place.glob("*.wav"))[number])


def words_heard(recogniser: Recogniser) -> int:
    """Of ten words of four people each, how many are the best guess."""
    right = 0
    for word in recordings.WORDS:
        for number in (0, 20, 40, 60):
            ranked = recogniser.decode(clip(word, number), WORDS).ranked
            right += bool(ranked) and ranked[0].line == word
    return right
