"""A person at a real pseudo-terminal: reads the screen, lets time pass, presses keys.

Rules: what is read is what the terminal shows (by `pyte`), never the program's own data; nothing
sleeps: every wait is for something on the screen, and fails with the screen after a deadline; time
passes for the program only where the person lets it, by `passes`.
"""

from __future__ import annotations

import contextlib
import os
import re
import select
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Self

import pyte

from tests.terminal_program import GONE_BEFORE, ORDERS, UNBOUND

PROGRAM = Path(__file__).with_name("terminal_program.py")
ROOT = PROGRAM.parents[1]
PATIENCE_S = 30.0
QUIET_S = 0.004
KEYS = {
    "enter": "\r", "backspace": "\x7f", "escape": "\x1b", "ctrl-c": "\x03", "ctrl-d": "\x04",
    "f1": "\x1bOP", "f2": "\x1bOQ", "f3": "\x1bOR", "f4": "\x1bOS", "f5": "\x1b[15~",
    "f6": "\x1b[17~", "f7": "\x1b[18~", "f8": "\x1b[19~", "f9": "\x1b[20~", "f10": "\x1b[21~",
    "f12": "\x1b[24~",
}  # fmt: skip
_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_TIMES = re.compile(r"\b\d+:\d\d(:\d\d)?\b")


def pseudo_terminal() -> tuple[int, int]:
    """Two ends of a new terminal: the person's, the program's. OSError where there is none."""
    if sys.platform == "win32":
        raise OSError("this system has no pseudo-terminal")
    else:  # noqa: RET506
        return os.openpty()


def waiting(terminal: int) -> int:
    """How many bytes that were typed wait in a terminal."""
    if sys.platform == "win32":
        return 0
    else:  # noqa: RET505
        import fcntl
        import termios

        return int.from_bytes(fcntl.ioctl(terminal, termios.FIONREAD, bytes(4)), sys.byteorder)


class Terminal:
    """A terminal with the program in it. Use as a context: leaving it ends the program."""

    def __init__(
        self, arguments: Sequence[str], columns: int = 80, rows: int = 24, *,
        told: bool = True, gone_ms: int = 0, environment: Mapping[str, str] | None = None,
        bound: bool = True,
    ) -> None:  # fmt: skip
        """`bound`: the program's terminal tells it by a signal that it goes away."""
        self.columns, self.rows = columns, rows
        self.gone_ms = gone_ms
        self.output = b""
        self._screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self._screen)
        self._shown: list[str] | None = None
        self._fd, self._inner = pseudo_terminal()
        self._orders, theirs = socket.socketpair()
        given = {**os.environ, "TERM": "xterm-256color", "PYTHONPATH": str(ROOT)}
        given |= environment or {}
        if not bound:
            given[UNBOUND] = "1"
        if told:
            given |= {ORDERS: str(theirs.fileno()), GONE_BEFORE: str(gone_ms)}
        self._told = self._orders.makefile("rw", encoding="ascii") if told else None
        self._resize_pty(columns, rows)
        self.process = subprocess.Popen(
            [sys.executable, str(PROGRAM), *arguments],
            stdin=self._inner, stdout=self._inner, stderr=self._inner,
            start_new_session=True, pass_fds=(theirs.fileno(),), env=given, cwd=ROOT,
        )  # fmt: skip
        theirs.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        self.hang_up()
        with contextlib.suppress(OSError):  # an order that a program now gone never took
            if self._told is not None:
                self._told.close()
        self._orders.close()

    # what the person sees -------------------------------------------------------------------

    def lines(self) -> list[str]:
        """The rows of the screen, from top to bottom, without blanks at their ends."""
        if self._shown is None:
            self._shown = [row.rstrip() for row in self._screen.display]
        return list(self._shown)

    def text(self) -> str:
        """The words of the screen with one blank between them, whatever the rows."""
        return " ".join(" ".join(self.lines()).split())

    def hint(self) -> str:
        """The last row: what is being typed, or the keys of the moment."""
        return self.lines()[-1]

    def face(self) -> str:
        """The screen without its running times: what changes when something happens."""
        return _TIMES.sub("", "\n".join(self.lines()))

    def modes(self) -> frozenset[int]:
        """The modes that the program asked the terminal for and has not taken back."""
        return frozenset(self._screen.mode)

    def line_settings(self) -> list[object]:
        """How the system treats what is typed: echo, whole lines, signals of keys."""
        if sys.platform == "win32":
            return []
        else:  # noqa: RET505
            import termios

            return list(termios.tcgetattr(self._inner))

    def colours(self) -> set[str]:
        """Every colour that stands on the screen, by name; "default" is none."""
        cells = [cell for row in self._screen.buffer.values() for cell in row.values()]
        return {cell.fg for cell in cells} | {cell.bg for cell in cells}

    def marked(self, row: int) -> bool:
        """Whether a row stands out by weight, by being turned round, or by a line under it."""
        cells = self._screen.buffer[row].values()
        return any(cell.bold or cell.reverse or cell.underscore for cell in cells)

    def see(self, wanted: Callable[[], bool], what: str = "") -> None:
        """Reads until the screen shows it; AssertionError with the screen where it never does."""
        until = time.monotonic() + PATIENCE_S
        while True:
            if not self._read(QUIET_S):
                if wanted():
                    return
                gone = self.process.poll()
                left = until - time.monotonic()
                if left <= 0 or (gone is not None and not self._read(0.05)):
                    shown = "\n".join(self.lines())
                    raise AssertionError(f"never seen: {what} (exit {gone})\n{shown}")
                self._read(min(left, 0.05))

    def see_text(self, words: str) -> None:
        """Reads until these words stand on the screen."""
        self.see(lambda: words in self.text(), words)

    def wait(self) -> int:
        """Reads to the end of the program; its exit code."""
        until = time.monotonic() + PATIENCE_S
        while self.process.poll() is None and time.monotonic() < until:
            self._read(0.05)
        while self._read(0.0):
            pass
        return self.process.wait(timeout=1)

    # what the person does -------------------------------------------------------------------

    def passes(self, ms: int) -> None:
        """Lets time pass for the program; comes back when all that was due has happened."""
        self.gone_ms += ms
        self._order(f"pass {ms}")

    def fail(self, module: str, name: str) -> None:
        """A function of the program fails from now on."""
        self._order(f"fail {module} {name}")

    def _order(self, line: str) -> None:
        if self._told is None:
            raise ValueError("this program goes by the clock of the machine")
        self._told.write(f"{line}\n")
        self._told.flush()
        orders = self._orders.fileno()
        while orders not in select.select([orders, self._fd], [], [], PATIENCE_S)[0]:
            if not self._read(0):
                raise AssertionError("the program went away:\n" + "\n".join(self.lines()))
        if self._told.readline() != "ok\n":
            raise AssertionError("the program did not obey its clock")

    def type(self, text: str) -> None:
        """Sends these characters at once."""
        os.write(self._fd, text.encode())

    def key(self, *names: str, after_ms: int | None = None) -> None:
        """Presses keys one after the other, time passing before each: a second before Enter, as
        after a look at what was typed, else a tenth. The digits of a number are keys of their own,
        and each is seen to be taken before the next."""
        for name in names:
            if name in KEYS or not _NUMBER.fullmatch(name):
                self._press(name, after_ms)
                continue
            for digit in name:
                written = len(self.output)
                self._press(digit, after_ms)
                self.all_read()
                if len(name) > 1:
                    self.see(lambda since=written: len(self.output) > since, f"{digit} of {name}")  # type: ignore[misc]

    def _press(self, name: str, after_ms: int | None) -> None:
        if self._told is not None:
            # A key that is read late, behind the time that passes next, would come too late.
            self.all_read()
            self.passes(after_ms if after_ms is not None else 1000 if name == "enter" else 100)
        self.type(KEYS.get(name, name))

    def all_read(self) -> None:
        """Comes back when no key waits in the terminal any more; for a screen that takes keys one
        by one, not for one that waits for whole lines."""
        until = time.monotonic() + PATIENCE_S
        while waiting(self._inner):
            if self.process.poll() is not None or time.monotonic() > until:
                raise AssertionError("keys never read:\n" + "\n".join(self.lines()))
            self._read(0.001)

    def resize(self, columns: int, rows: int) -> None:
        """Another size of the window; the system tells the program."""
        self.columns, self.rows = columns, rows
        self._screen.resize(rows, columns)
        self._shown = None
        self._resize_pty(columns, rows)

    def hang_up(self) -> None:
        """Closes the terminal as a window that is shut does."""
        if self._fd >= 0:
            os.close(self._fd)
            os.close(self._inner)
            self._fd = -1

    def _resize_pty(self, columns: int, rows: int) -> None:
        if sys.platform != "win32":
            import termios

            termios.tcsetwinsize(self._fd, (rows, columns))

    def _read(self, seconds: float) -> bool:
        ready, _, _ = select.select([self._fd], [], [], seconds)
        if not ready:
            return False
        try:
            got = os.read(self._fd, 65536)
        except OSError:
            # Linux says so when the last program on the terminal has ended.
            got = b""
        self.output += got
        self._shown = None
        self._stream.feed(got)
        return bool(got)
