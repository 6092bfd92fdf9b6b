"""Recordings in place of a microphone, and clips that the crew keeps.

Rules: any sound file of the library's formats is read, mixed to one channel and brought to 16 kHz;
a folder is its sound files in the order of their names, numbers by their value; a fault names the
file, what was found and what was allowed. A clip is written whole or not at all, never over another
one, without loss (FLAC, 16 bits), and its hash is that of the bytes on the disk.
"""

from __future__ import annotations

import hashlib
import io
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from audit.durable import write_new
from runner.speech.ears.capture import Piece
from runner.speech.ears.resample import HIGHEST, LOWEST, resampled
from runner.speech.heard import RATE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from runner.speech.heard import Audio

KINDS: Final = (".wav", ".flac", ".ogg")
LONGEST_SECONDS: Final = 3600
_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,119}")
"""Of a clip: as the log names what lies beside it."""


class SoundFileFault(Exception):
    """A sound file that cannot be used: which, what was found, what to do."""


def _library() -> Any:
    try:
        import soundfile
    except (ImportError, OSError) as fault:
        raise SoundFileFault(
            f"sound files cannot be read ({fault}): python -m pip install 'latchword[voice]'"
        ) from None
    return soundfile


def recordings(path: Path, also: Sequence[str] = ()) -> list[Path]:
    """A sound file, or those of a folder in their order; `also` are endings of other files."""
    if path.is_dir():
        found = sorted(
            (
                one
                for one in path.iterdir()
                if one.suffix.lower() in (*KINDS, *also) and one.is_file()
            ),
            key=lambda one: _in_order(one.name),
        )
        if not found:
            raise SoundFileFault(f"{path}: no sound file in it; allowed: {', '.join(KINDS)}")
        return found
    if not path.exists():
        raise SoundFileFault(f"{path}: there is no such file or folder")
    return [path]


def _in_order(name: str) -> list[tuple[int, str]]:
    return [(int(part), "") if part.isdigit() else (-1, part) for part in re.split(r"(\d+)", name)]


def read_sound(path: Path) -> Audio:
    """The sound of a file at 16 kHz."""
    library = _library()
    try:
        with library.SoundFile(path) as file:
            rate, length = file.samplerate, file.frames
            if not LOWEST <= rate <= HIGHEST:
                raise SoundFileFault(
                    f"{path}: a rate of {rate} a second; allowed: {LOWEST} to {HIGHEST}"
                )
            if length > LONGEST_SECONDS * rate:
                raise SoundFileFault(
                    f"{path}: {length / rate / 60:.0f} minutes long; allowed: "
                    f"{LONGEST_SECONDS // 60} minutes"
                )
            samples = file.read(dtype="float32", always_2d=True)
    except (library.SoundFileError, OSError) as fault:
        raise SoundFileFault(
            f"{path}: no sound that can be read ({fault}); allowed: {', '.join(KINDS)}"
        ) from None
    if not np.isfinite(samples).all():
        raise SoundFileFault(f"{path}: samples that are no numbers")
    mixed: Audio = samples.mean(axis=1).astype(np.float32)
    return np.clip(resampled(mixed, rate), -1, 1)


class Recording:
    """Sound files one after another, read like a microphone; None at their end."""

    def __init__(self, paths: Iterable[Path], seconds: float = 0.1) -> None:
        self._sounds = iter([read_sound(path) for path in paths])
        self._size = round(seconds * RATE)
        self._rest = np.zeros(0, np.float32)
        self.position = 0
        self.fault = ""

    def read(self, timeout: float) -> Piece | None:
        """The next piece, at once."""
        while not len(self._rest):
            following = next(self._sounds, None)
            if following is None:
                return None
            self._rest = following
        piece, self._rest = self._rest[: self._size], self._rest[self._size :]
        self.position += len(piece)
        return Piece(piece)


class Kept(NamedTuple):
    """A clip on the disk: its file name, its length in bytes, the SHA-256 of its bytes in hex."""

    name: str
    length: int
    sha256: str


def flac(samples: Audio) -> bytes:
    """A clip as the bytes of a FLAC file, without loss at 16 bits."""
    content = io.BytesIO()
    _library().write(content, np.clip(samples, -1, 1), RATE, format="FLAC", subtype="PCM_16")
    return content.getvalue()


def keep_clip(folder: Path, name: str, samples: Audio) -> Kept:
    """Writes a clip as FLAC under `name` in `folder`. ValueError for a name of another form."""
    if not _NAME.fullmatch(name) or not name.endswith(".flac"):
        raise ValueError(f"the name {name!r}; allowed: letters, digits, '._-', ending in .flac")
    written = flac(samples)
    if (folder / name).exists():
        raise SoundFileFault(f"{folder / name}: is there already; a clip is never replaced")
    try:
        write_new(folder / name, written)
    except OSError as fault:
        raise SoundFileFault(f"{folder / name}: cannot be written ({fault.strerror})") from None
    return Kept(name, len(written), hashlib.sha256(written).hexdigest())
