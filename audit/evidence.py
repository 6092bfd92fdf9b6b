"""A file kept as evidence beside a log: a voice clip, a photograph of a defect.

Rules: copied whole and durable beside the log before a line names it, under a name that begins with
the run's; what stands there already is never written over; the line says length and SHA-256, and
verification looks at both.
"""

import hashlib
import re
import unicodedata
from pathlib import Path
from typing import NamedTuple

from audit import durable
from audit.errors import FolderError
from audit.folder import LogFolder

LARGEST = 64 * 1024 * 1024
_LONGEST_NAME = 40


class Evidence(NamedTuple):
    """What an `attach` line says of a file: its name beside the log, bytes, SHA-256."""

    name: str
    length: int
    sha256: str


def keep(folder: LogFolder, run: str, file: Path) -> Evidence:
    """Copy a file beside the log of a run; raises `FolderError` if it is missing, empty, larger
    than `LARGEST`, or if another file has its name there."""
    folder.need_lock()
    try:
        with file.open("rb") as stream:
            content = stream.read(LARGEST + 1)
    except OSError as error:
        raise FolderError(f"{file}: cannot be read: {error.strerror or error}") from None
    if not content or len(content) > LARGEST:
        raise FolderError(f"{file}: evidence has 1 to {LARGEST} bytes, this is {_size(content)}")
    path = folder.path / f"{run}.attached-{plain_name(file.name)}"
    try:
        if path.exists():
            if path.read_bytes() != content:
                raise FolderError(
                    f"{path}: another file stands there already; give {file.name} another name"
                )
        else:
            durable.write_new(path, content, 0o644)
    except OSError as error:
        raise FolderError(f"{path}: cannot be written: {error.strerror or error}") from None
    return Evidence(path.name, len(content), hashlib.sha256(content).hexdigest())


def plain_name(name: str) -> str:
    """A file name of a-z, A-Z, 0-9, dots, hyphens and underlines, the ending kept if it is short;
    never one by which a log or a countersignature is known."""
    ascii_name = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii")
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", ascii_name).strip("-.") or "file"
    if len(plain) > _LONGEST_NAME:
        ending = plain[-8:] if "." in plain[-8:] else ""
        plain = plain[: _LONGEST_NAME - len(ending)] + ending
    return f"{plain}.file" if plain.endswith((".jsonl", ".countersign", ".partial")) else plain


def _size(content: bytes) -> str:
    return "empty" if not content else "larger"
