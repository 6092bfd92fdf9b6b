"""How far a long verification has come: one line on a terminal, written over and over.

Rules: on standard error, and only where that is a terminal that can go back to a line's beginning;
not for work of about a second; written again only when it says something else, so no clock is
needed; the line is gone before anything else is written, and leaves nothing behind.
"""

import os
import sys
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Self, TextIO

# Bytes of log a second on one core, measured, rounded down.
PACE = {"boundary": 120_000_000, "full": 4_000_000, "replayed": 3_000_000}


class Progress:
    """The line. Call it with how many logs are judged and how many bytes are read."""

    def __init__(
        self, logs: Iterable[Path], level: str, *, wanted: bool, stream: TextIO | None = None
    ) -> None:
        self._stream = stream or sys.stderr
        sizes = [size_of(log) for log in logs]
        self._logs = len(sizes)
        self._size = sum(sizes)
        self._on = (
            wanted
            and self._size >= PACE[level]
            and self._stream.isatty()
            and os.environ.get("TERM") != "dumb"
        )
        self._shown = ""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.clear()

    def __call__(self, judged: int, read: int) -> None:
        text = f"verifying: {judged} of {self._logs} logs, {_share(read, self._size)} %"
        if self._on and text != self._shown:
            self._write("\r" + text.ljust(len(self._shown)))
            self._shown = text

    def clear(self) -> None:
        """Take the line away."""
        if self._shown:
            self._write("\r" + " " * len(self._shown) + "\r")
            self._shown = ""

    def _write(self, text: str) -> None:
        try:
            self._stream.write(text)
            self._stream.flush()
        except OSError:
            self._on = False  # whoever looked has gone; the verdicts have their own reader


def _share(read: int, size: int) -> int:
    return min(100, read * 100 // size) if size else 100


def size_of(log: Path) -> int:
    """The bytes of a log; none if it cannot be looked at: what is wrong with it, `verify` says."""
    with suppress(OSError):
        return log.stat().st_size
    return 0
