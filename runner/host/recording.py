"""Durable first, and what happens when that fails: the list goes on, the recording is lost.

Rules: an event is shown only when its line is durable, except a drill, which is shown first; a
write that fails, or that takes longer than one second, ends the recording for good: nothing more
is appended, the log stays honestly unclosed, and the crew reads it on every screen.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Mapping
from typing import Any

from audit.errors import AuditError, LogLost
from audit.stamps import Stamp
from audit.writer import Entry, LogWriter

LONGEST_WRITE_S = 1.0
Job = Callable[[], None]


class Recorder:
    """Writes the events of one run. `patient` waits as long as it takes (scripted runs)."""

    def __init__(self, writer: LogWriter, *, patient: bool = False) -> None:
        self.writer = writer
        self.acceptances: list[int] = []
        self._patient = patient
        self._lost = ""
        self._durable = writer.head
        self._jobs: queue.SimpleQueue[Job | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None

    @property
    def lost(self) -> str:
        """Why the recording was lost; empty while it is kept."""
        return self._lost

    @property
    def durable_head(self) -> str:
        """The head of the last line that is on the disk; a line being written is not it yet."""
        return self.writer.written.line.head

    @property
    def head(self) -> str:
        """The SHA-256 of the last durable line, also once the recording is lost."""
        return self._durable if self._lost else self.writer.head

    def owed(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Who has still to sign for having taken the run up again, and who for its closing."""
        return self.writer.owed(), self.writer.signs_close()

    def record(self, data: Mapping[str, Any], stamp: Stamp) -> Entry | None:
        """Appends an event and waits until it is durable; None once the recording is lost.

        Raises another `AuditError` for what the log does not take: nothing was written.
        """
        return self._written(lambda: self.writer.event(data, stamp))

    def attach(self, name: str, length: int, sha256: str, stamp: Stamp) -> Entry | None:
        """Names a file that lies beside the log as evidence; None once the recording is lost."""
        return self._written(lambda: self.writer.attach(name, length, sha256, stamp))

    def _written(self, append: Callable[[], Entry]) -> Entry | None:
        """What one append gave, once it is durable; None once the recording is lost."""
        if self._lost:
            return None
        self._durable = self.writer.head
        try:
            return append() if self._patient else self._timed(append)
        except (LogLost, OSError) as error:
            self.lose(str(error))
            return None

    def lose(self, why: str) -> None:
        """Ends the recording."""
        if not self._lost:
            self._lost = why or "the log cannot be written"

    def _timed(self, append: Callable[[], Entry]) -> Entry | None:
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="log", daemon=True)
            self._thread.start()
        answer: queue.SimpleQueue[Entry | Exception] = queue.SimpleQueue()

        def write() -> None:
            try:
                answer.put(append())
            except (AuditError, OSError) as error:
                answer.put(error)

        self._jobs.put(write)
        try:
            result = answer.get(timeout=LONGEST_WRITE_S)
        except queue.Empty:
            # The writer still hangs in its call; it must never append again once it comes back.
            self.lose("no durable write within one second")
            self._jobs.put(lambda: self.writer.give_up("a write came too late"))
            return None
        if isinstance(result, Exception):
            raise result
        return result

    def _work(self) -> None:
        while True:
            job = self._jobs.get()
            if job is None:
                return
            job()

    def stop(self) -> None:
        """Lets the writing thread and the file go; an open run stays open."""
        self._jobs.put(None)
        if self._thread is not None:
            self._thread.join(timeout=LONGEST_WRITE_S)
        if not self._lost:
            self.writer.stop()
