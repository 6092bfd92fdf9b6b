"""A program on a pseudo-terminal, and the moment at which a text stands on its screen.

Rules: a time is taken when output arrives, before it is read through the terminal emulator, so
that the emulator's own work is in no figure.
"""

from __future__ import annotations

import os
import time
from collections.abc import Mapping, Sequence

import pexpect
import pyte

ROWS, COLUMNS = 24, 80
PATIENCE_S = 20.0
QUIET_S = 0.03


class NeverSeen(RuntimeError):
    """The screen never showed what was waited for; the text is the screen."""


class Terminal:
    """A child on a pseudo-terminal of 80 x 24."""

    def __init__(self, command: Sequence[str], env: Mapping[str, str], cwd: str) -> None:
        self.began = time.perf_counter()
        self._child = pexpect.spawn(
            command[0],
            list(command[1:]),
            dimensions=(ROWS, COLUMNS),
            env={**env, "TERM": "xterm-256color"},
            cwd=cwd,
        )
        # The library sleeps before it sends and before it closes; a figure must not hold that.
        self._child.delaybeforesend = None
        self._child.delayafterclose = 0
        self._screen = pyte.Screen(COLUMNS, ROWS)
        self._stream = pyte.ByteStream(self._screen)

    def press(self, keys: str) -> float:
        """Sends keys; the time at which they were sent, in seconds."""
        now = time.perf_counter()
        os.write(self._child.child_fd, keys.encode())
        return now

    def until(self, text: str, patience_s: float = PATIENCE_S) -> float:
        """The time at which the output that made `text` visible arrived. Raises NeverSeen.

        Output is taken, with its times, until there is none for a moment, and read only then: the
        emulator is slow, and what waits for it would be counted. A text that stands already counts
        as of now.
        """
        began = time.perf_counter()
        if self.shows(text):
            return began
        while time.perf_counter() < began + patience_s:
            seen = 0.0
            for arrived, got in self._until_quiet():
                self._stream.feed(got)
                if not seen and self.shows(text):
                    seen = arrived
            if seen:
                return seen
        raise NeverSeen(f"{text!r} never stood on\n{self.text}")

    def _until_quiet(self) -> list[tuple[float, bytes]]:
        chunks: list[tuple[float, bytes]] = []
        while True:
            try:
                got = self._child.read_nonblocking(65_536, QUIET_S if chunks else 0.5)
            except pexpect.TIMEOUT:
                return chunks
            except pexpect.EOF:
                if chunks:
                    return chunks
                raise NeverSeen(f"the program ended on\n{self.text}") from None
            chunks.append((time.perf_counter(), got))

    @property
    def text(self) -> str:
        """What stands on the screen."""
        return "\n".join(self._screen.display)

    def shows(self, text: str) -> bool:
        """Whether `text` stands on the screen, letter by letter."""
        return text in self.text

    def drain(self, seconds: float) -> None:
        """Reads what comes for a while, so that the next figure starts from a quiet screen."""
        end = time.perf_counter() + seconds
        while (left := end - time.perf_counter()) > 0:
            try:
                self._stream.feed(self._child.read_nonblocking(65_536, left))
            except pexpect.TIMEOUT:
                return
            except pexpect.EOF:
                return

    def end(self) -> None:
        """Ends the child for good."""
        self._child.close(force=True)
