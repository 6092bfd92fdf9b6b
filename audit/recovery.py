"""Reading a run that was left open, so that it can go on.

Rules: reading changes nothing; a log is resumed only if everything in it holds, signatures too;
what a torn write left after the last whole line is moved to a file of its own when the run is
resumed, never deleted, and a whole well-formed line among it is tampering, not tearing.
"""

import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from audit import durable
from audit.checker import Checker
from audit.course import Course
from audit.errors import FolderError, LogLost, RecoveryError, Tampered
from audit.folder import LogFolder
from audit.line import Line, looks_whole, parse
from audit.reader import pieces
from audit.stamps import Stamp

LARGEST_RESIDUE = 64 * 1024 * 1024


@dataclass(frozen=True)
class Recovered:
    """A run that can be resumed.

    `course` is where it stands; `length` is the file's size up to the last whole line; `residue`
    is what a torn write left after that (usually empty); `last_stamp` is the last line's time.
    """

    folder: LogFolder
    run: str
    path: Path
    course: Course
    length: int
    residue: bytes
    last_stamp: Stamp

    @property
    def opening(self) -> dict[str, Any]:
        """The data of the `open` line."""
        return self.course.opening

    @property
    def last_seq(self) -> int:
        """The number of the last whole line."""
        return self.course.seq

    @property
    def head(self) -> str:
        """The SHA-256 of the last whole line."""
        return self.course.head

    @property
    def phase(self) -> str:
        """`running`, or `closing` when only signatures are missing."""
        return self.course.phase

    def lines(self) -> Iterator[Line]:
        """Every whole line again, from the file."""
        with self.path.open("rb") as stream:
            for piece in pieces(stream):
                if piece.offset >= self.length:
                    return
                yield parse(piece.raw)

    def entries(self) -> Iterator[tuple[int, str, dict[str, Any]]]:
        """`(seq, type, data)` of every whole line."""
        for line in self.lines():
            yield line.seq, line.type, line.data

    def move_residue_aside(self) -> list[dict[str, Any]]:
        """Move what was torn to files beside the log; what the `resume` line says of them.

        First copied and durable there, then cut off here. A file left by a resume that was itself
        cut short is named again.
        """
        stem = f"{self.run}.residue-{self.course.seq + 1}"
        try:
            beside = sorted(self.folder.path.glob(f"{stem}-*"))
            if self.residue:
                path = self.folder.path / f"{stem}-{len(beside) + 1}"
                durable.write_new(path, self.residue)
                beside.append(path)
                fd = os.open(self.path, os.O_RDWR | getattr(os, "O_BINARY", 0))
                try:
                    os.ftruncate(fd, self.length)
                    os.fsync(fd)
                finally:
                    os.close(fd)
            return [_file_entry(path) for path in beside]
        except OSError as error:
            why = os.strerror(error.errno) if error.errno else str(error)
            raise LogLost(f"{self.path}: what was torn cannot be moved aside: {why}") from None


def _file_entry(path: Path) -> dict[str, Any]:
    content = path.read_bytes()
    return {
        "length": len(content),
        "name": path.name,
        "sha256": hashlib.sha256(content).hexdigest(),
    }


def recover(folder: LogFolder, run: str) -> Recovered:
    """Read the run so that it can be replayed and resumed; nothing is written yet.

    Raises `Tampered` if it does not hold, `RecoveryError` if it cannot go on (closed, followed by
    another run, never fully opened), `FolderError` if it is not there.
    """
    folder.need_lock()
    path = folder.path_of(run)
    if not path.exists():
        raise FolderError(f"{path}: there is no such run")
    checker = Checker(signatures=True)
    length = 0
    stamp = Stamp(0, 0, "")
    residue = b""
    with path.open("rb") as stream:
        for piece in pieces(stream):
            line = checker.feed(piece.raw, piece.offset)
            if line is None:
                stream.seek(piece.offset)
                residue = stream.read(LARGEST_RESIDUE + 1)
                break
            length = piece.offset + len(piece.raw)
            stamp = line.stamp
    if residue:
        _must_be_torn(checker, residue, length)
    course = checker.course
    number = course.opening.get("run_seq", 0)
    later = next((info for info in folder.runs() if info.run_seq > number), None)
    if later is not None:
        raise RecoveryError(f"run {run} was left for good: run {later.run} follows it")
    if course.phase == "closed":
        raise RecoveryError(f"run {run} is closed")
    if course.phase in ("empty", "opening"):
        raise RecoveryError(
            f"run {run} ends before its opening was signed: leave it, and start another"
        )
    return Recovered(folder, run, path, course, length, residue, stamp)


def _must_be_torn(checker: Checker, residue: bytes, length: int) -> None:
    fault = checker.fault
    if fault is None:
        raise RecoveryError("the log could not be read to its end")
    torn = fault.code in _TORN and not looks_whole(residue) and len(residue) <= LARGEST_RESIDUE
    if not torn or checker.course.phase == "closed":
        raise Tampered(checker.lines, length, fault.code, fault.why)


# what a piece of a line, or NUL bytes, can look like; anything else was written whole
_TORN = ("frame", "json", "length", "canonical", "base64", "shape", "stamp", "profile", "type")
