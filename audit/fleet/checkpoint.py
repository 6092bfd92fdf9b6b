"""Checkpoints (C2SP tlog-checkpoint): origin, size and root of a tree, as a signed note.

Rules: exactly the three lines, no extensions; the size without leading zeros, never 0 (a checkpoint
of nothing proves nothing); the key's name is the origin.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from audit import canonical
from audit.errors import Fault, FleetError, FolderError
from audit.fleet import note
from audit.fleet.note import Verifier
from audit.fleet.tree import HASH_BYTES
from audit.reader import opened

FOLDER = "fleet"
SUFFIX = ".checkpoint"
_SIZE = re.compile(r"0|[1-9][0-9]{0,15}")
LARGEST_FILE = 1 << 20


class Checkpoint(NamedTuple):
    """The head of a tree: `root` is 32 bytes."""

    origin: str
    size: int
    root: bytes

    @property
    def text(self) -> str:
        """What is signed."""
        return f"{self.origin}\n{self.size}\n{canonical.base64_text(self.root)}\n"

    def as_opening(self) -> dict[str, object]:
        """The field `checkpoint` of an opening."""
        root = canonical.base64_text(self.root)
        return {"origin": self.origin, "root": root, "size": self.size}


def parse_text(text: str) -> Checkpoint:
    """The checkpoint in the text of a note; raises `FleetError`."""
    rows = text.split("\n")
    if len(rows) != 4 or rows[3] != "" or not rows[0] or not _SIZE.fullmatch(rows[1]):
        raise FleetError("a checkpoint is three lines: origin, size, root")
    if rows[1] == "0":
        raise FleetError("a checkpoint of size 0 proves nothing and is refused")
    try:
        root = canonical.base64_bytes(rows[2], HASH_BYTES)
    except Fault as fault:
        raise FleetError(f"the root of a checkpoint: {fault.why}") from None
    return Checkpoint(rows[0], int(rows[1]), root)


def sign(checkpoint: Checkpoint, verifier: Verifier, signature: Callable[[bytes], bytes]) -> str:
    """The signed note of a checkpoint."""
    return note.sign(checkpoint.text, verifier, signature)


def peek(text: str) -> Checkpoint:
    """The checkpoint in a note whose signatures are not looked at."""
    return parse_text(note.split(text)[0])


def verified(text: str, known: Iterable[Verifier]) -> Checkpoint:
    """The checkpoint in a note that a known key of its origin signed; raises `FleetError`."""
    body, names = note.open_note(text, known)
    checkpoint = parse_text(body)
    if checkpoint.origin not in names:
        raise FleetError(
            f"a checkpoint of {checkpoint.origin} must be signed by its own key, "
            f"not only by {', '.join(names)}"
        )
    return checkpoint


def read_text(path: Path) -> str:
    """The text of a small file, exactly; raises `FolderError` where it cannot be read."""
    try:
        with opened(path) as stream:
            content = stream.read(LARGEST_FILE + 1)
    except OSError as error:
        raise FolderError(f"{path}: cannot be read: {error.strerror or error}") from None
    if len(content) > LARGEST_FILE:
        raise FolderError(f"{path}: is larger than {LARGEST_FILE} bytes")
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        raise FolderError(f"{path}: is not UTF-8 text") from None


def key_given(text: str) -> Verifier:
    """The key of notes that somebody gives, `NAME+ID+KEY` or a file that holds it."""
    if "+" in text:
        return note.parse_verifier(text)
    try:
        return note.parse_verifier(read_text(Path(text)))
    except FolderError as error:
        raise FolderError(f"{error}; a key of notes is NAME+ID+KEY, or a file of that") from None


def beside(folder: Path) -> Iterator[tuple[Path, Checkpoint, str]]:
    """The checkpoints in a log folder, with their notes; no signature is looked at."""
    for path in sorted((folder / FOLDER).glob(f"*{SUFFIX}")):
        text = read_text(path)
        try:
            yield path, peek(text), text
        except FleetError as error:
            raise FleetError(f"{path}: {error}") from None


def newest(folder: Path) -> Checkpoint | None:
    """The largest checkpoint in a log folder; `None` if there is none."""
    found = [checkpoint for _, checkpoint, _ in beside(folder)]
    return max(found, key=lambda one: one.size, default=None)
