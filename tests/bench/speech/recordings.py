"""The real recordings: who speaks which word, and the groups in which speakers are judged.

Rules: the data folder is named by LATCHWORD_SPEECH_DATA, else it stands beside the project; a
speaker is who the file's name says (in `speech_commands` the hash, in `spoken_digits` the name);
all recordings of one speaker are in one group, and groups are filled from the speaker with most
recordings down, so that they are of one size; nothing depends on the order of a folder.
"""

from __future__ import annotations

import os
import re
from collections import Counter
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Final, NamedTuple

from tests.bench.speech.noise import GROUPS
from tests.bench.speech.sound import read

PROJECT: Final = Path(__file__).resolve().parents[3]
VARIABLE: Final = "LATCHWORD_SPEECH_DATA"
WORDS: Final = ("on", "off", "yes", "no", "stop", "go", "left", "right", "up", "down")
DIGITS: Final = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
)  # fmt: skip
UNKNOWN: Final = "unknown"
SILENT: Final = 0.01
"""A recording whose highest sample stays under this share of full scale holds no word."""

_COMMAND: Final = re.compile(r"(?:([a-z]+)_)?([0-9a-f]{8})_nohash_\d+")
_DIGIT: Final = re.compile(r"(\d)_([a-z]+)_\d+")


class Recording(NamedTuple):
    """One file, the word that is spoken in it, who speaks."""

    path: Path
    word: str
    speaker: str


def folder() -> Path:
    """The data folder, present or not."""
    named = os.environ.get(VARIABLE)
    return Path(named) if named else PROJECT.parent / "shared" / "data"


def missing() -> str:
    """What to say where the folder is absent; empty where it is there."""
    place = folder()
    if (place / "speech_commands").is_dir() and (place / "helicopter_noise").is_dir():
        return ""
    return f"no recordings in {place}: name their folder in {VARIABLE}"


def words(place: Path) -> list[Recording]:
    """The single words that are answers."""
    return [one for word in WORDS for one in _commands(place / "speech_commands" / word)]


def others(place: Path) -> list[Recording]:
    """The single words that are none of them."""
    return _commands(place / "speech_commands" / UNKNOWN)


def digits(place: Path) -> list[Recording]:
    """Digits from both sets; of the first, not those that `others` holds."""
    found = [one for word in DIGITS for one in _commands(place / "speech_commands" / word)]
    for path in sorted((place / "spoken_digits").glob("*.wav")):
        name = _DIGIT.fullmatch(path.stem)
        if name is None:
            raise ValueError(f"{path} is not named DIGIT_SPEAKER_NUMBER")
        found.append(Recording(path, DIGITS[int(name[1])], name[2]))
    return found


@cache
def silent(path: Path) -> bool:
    """Whether nothing is to be heard in a recording: the set has a few that hold no word."""
    return float(abs(read(path)).max(initial=0)) < SILENT


def grouped(recordings: Iterable[Recording], groups: int = GROUPS) -> dict[str, int]:
    """The group of each speaker."""
    counts = Counter(one.speaker for one in recordings)
    sizes = [0] * groups
    found = {}
    for speaker, count in sorted(counts.items(), key=lambda item: (-item[1], item[0])):
        least = sizes.index(min(sizes))
        found[speaker] = least
        sizes[least] += count
    return found


def _commands(place: Path) -> list[Recording]:
    found = []
    for path in sorted(place.glob("*.wav")):
        name = _COMMAND.fullmatch(path.stem)
        if name is None:
            raise ValueError(f"{path} is not named by its speaker")
        found.append(Recording(path, name[1] or place.name, name[2]))
    return found
