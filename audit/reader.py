"""Whole lines out of a file, one at a time, in constant memory.

Rules: a line ends with LF and is at most `line.LONGEST` bytes; what is longer comes out cut, as a
piece that no line can be; nothing is interpreted here. Only an ordinary file is opened: for a pipe
that somebody put in a file's place one would wait without end.
"""

import errno
import os
import stat
from collections.abc import Callable, Iterator
from io import DEFAULT_BUFFER_SIZE, BufferedReader, FileIO
from pathlib import Path
from typing import BinaryIO, NamedTuple

from audit.line import LONGEST

LIMIT = LONGEST + 1
"""One byte more than a line may have: what comes out with it is none."""

Beat = Callable[[int], None]
"""Told, now and then, up to which byte a file has been read."""
_BEAT_EVERY = 1 << 18


class Piece(NamedTuple):
    """A line, or the rest of the file without LF."""

    offset: int
    raw: bytes


def opened(path: Path, buffer: int = DEFAULT_BUFFER_SIZE) -> BufferedReader:
    """A file, opened for reading bytes; raises `OSError`, also for what is no ordinary file."""
    raw = FileIO(path, opener=_at_once)
    if not stat.S_ISREG(os.fstat(raw.fileno()).st_mode):
        raw.close()
        raise OSError(errno.EINVAL, "it is no ordinary file", str(path))
    return BufferedReader(raw, buffer)


def _at_once(path: str, flags: int) -> int:
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def pieces(stream: BinaryIO, offset: int = 0, beat: Beat | None = None) -> Iterator[Piece]:
    """The pieces of a binary file from `offset` on."""
    stream.seek(offset)
    due = offset + _BEAT_EVERY
    while raw := stream.readline(LIMIT):
        yield Piece(offset, raw)
        offset += len(raw)
        if beat is not None and offset >= due:
            beat(offset)
            due = offset + _BEAT_EVERY


def ends_without_line_feed(stream: BinaryIO, offset: int) -> bool:
    """True when no LF stands at or after `offset`: what is there is one incomplete line."""
    stream.seek(offset)
    while block := stream.read(1 << 16):
        if b"\n" in block:
            return False
    return True
