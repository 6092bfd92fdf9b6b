"""Typed lines of the plain mode, each with the question that it answers.

Rules: a line answers the question that had stood for 0.4 s when the line was read, else the one
before it; when a new question comes, what still waits in the terminal is read first and belongs to
the question before; a line that was not ended, or is too long, answers nothing. Reading is a thread
of its own; where the system cannot wait on standard input, the 0.4 s alone tell lines apart.
"""

from __future__ import annotations

import os
import select
import threading
from collections.abc import Callable
from dataclasses import dataclass

from runner.terminal.keystate import GUARD_MS
from runner.terminal.typedline import TypedLine

LONGEST_LINE = 4096
"""Bytes kept of one line; a longer one is reported as too long and dropped."""


@dataclass(frozen=True, slots=True)
class Typed:
    """One line and its question; `gone` when the input has ended, `long` when it was too long."""

    text: str = ""
    ask: int = -1
    gone: bool = False
    long: bool = False


class Intake:
    """Lines from a file descriptor; `put` gets each from the reading thread. With a `line`, keys
    come one by one and it makes lines of them."""

    def __init__(
        self, descriptor: int, now: Callable[[], int], put: Callable[[Typed], None],
        line: TypedLine | None = None,
    ) -> None:  # fmt: skip
        self._fd = descriptor
        self._line_typed = line
        self._now = now
        self._put = put
        self._lock = threading.Lock()
        self._kept = b""
        self._long = False
        self._gone = False
        self._before = -1
        self._ask = -1
        self._at = 0
        self._waits = os.name != "nt"
        self._stop_read, self._stop_write = os.pipe()
        self._thread = threading.Thread(target=self._work, name="typed lines", daemon=True)

    def start(self) -> None:
        """Begins to read."""
        self._thread.start()

    def stop(self) -> None:
        """Ends the reading where the system lets it be ended."""
        os.write(self._stop_write, b".")
        if self._waits:
            self._thread.join(timeout=1)

    def new_ask(self, ask: int) -> None:
        """A new question is about to be shown: what waits is bound to the one before it."""
        with self._lock:
            while self._waits and not self._gone and self._ready(0):
                self._read()
            self._before, self._ask, self._at = self._ask, ask, self._now()

    def _ready(self, timeout: float | None) -> bool:
        try:
            ready, _, _ = select.select([self._fd, self._stop_read], [], [], timeout)
        except (OSError, ValueError):
            return True
        return self._fd in ready

    def _work(self) -> None:
        while not self._gone:
            if self._waits:
                if not self._ready(None):
                    return
                with self._lock:
                    if self._ready(0) and not self._gone:
                        self._read()
            else:
                self._read()

    def _read(self) -> None:
        try:
            got = os.read(self._fd, 65536)
        except OSError:
            got = b""
        if not got:
            self._gone = True
            self._put(Typed(gone=True))
            return
        settled = self._now() - self._at >= GUARD_MS
        ask = self._ask if settled else self._before
        if self._line_typed is not None:
            for text, long, gone in self._line_typed.feed(got):
                self._gone = self._gone or gone
                self._put(Typed(gone=True) if gone else Typed(text, ask, long=long))
            return
        *lines, rest = (self._kept + got).split(b"\n")
        for line in lines:
            self._line(line, ask)
        self._kept = rest
        if len(rest) > LONGEST_LINE:
            self._kept, self._long = b"", True

    def _line(self, line: bytes, ask: int) -> None:
        long = self._long or len(line) > LONGEST_LINE
        self._long = False
        text = "" if long else line.decode("utf-8", "replace").rstrip("\r")
        self._put(Typed(text, ask, long=long))
