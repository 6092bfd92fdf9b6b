"""Spoken answers kept beside the log: each a file of its own, named by an `attach` line.

Rules: the file stands whole and durable before a line names it, under a name that begins with the
run's, counted up; nothing is written over; what cannot be kept is a sentence and costs no answer.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Final

from audit.durable import write_new
from audit.errors import AuditError
from runner.host.recording import Recorder

LOST: Final = "the recording was lost"
_MARK: Final = "attached-voice-"


class Clips:
    """The clips of one run."""

    def __init__(self, recorder: Recorder, attach: Callable[[str, int, str], None]) -> None:
        """`attach` names a file in the log: its name, its bytes, their SHA-256 in hex."""
        self._recorder = recorder
        self._attach = attach
        self._number = 0

    def keep(self, content: bytes) -> str:
        """Keeps one clip (the bytes of a FLAC file); empty, or a sentence on why it was not."""
        if self._recorder.lost:
            return LOST
        writer = self._recorder.writer
        if writer.phase != "running":
            return "the log is closed"
        folder = writer.folder.path
        while True:
            self._number += 1
            path = folder / f"{writer.run}.{_MARK}{self._number:05}.flac"
            if not path.exists():
                break
        try:
            write_new(path, content, 0o644)
            digest = hashlib.sha256(content).hexdigest()
            self._attach(path.name, len(content), digest)
        except (OSError, AuditError) as fault:
            return f"{path.name}: {fault}"
        return LOST if self._recorder.lost else ""
