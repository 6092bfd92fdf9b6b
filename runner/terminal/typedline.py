"""The line that is being typed at a terminal in the plain mode, kept whole whatever is printed.

Rules: the terminal hands over every key and echoes none, so that the line is known before Enter;
what is printed meanwhile begins on a line of its own, and the typed text is given once more behind
it; what was written before stays as it was, backspace alone takes back, and from this line only;
Ctrl-C, Ctrl-Z and the like stay with the terminal; a control character or the report of a key with
no character is no text; the terminal is given back as it was found.
"""

from __future__ import annotations

import codecs
import contextlib
import os
import sys
import threading
from collections.abc import Callable
from typing import Any, NamedTuple

from runner.terminal.rows import cells, clean

if sys.platform != "win32":
    import termios

_ENTER, _END, _ERASE, _WORD, _ALL, _ESCAPE = "\r\n", "\x04", "\x08\x7f", "\x17", "\x15", "\x1b"


class Finished(NamedTuple):
    """A line that Enter has ended, or the end of the input."""

    text: str = ""
    long: bool = False
    gone: bool = False


class TypedLine:
    """One line after another from the terminal `descriptor`; `write` puts text on it at once."""

    def __init__(self, descriptor: int, write: Callable[[str], None], longest: int) -> None:
        self._fd = descriptor
        self._to = write
        self._longest = longest
        self.lock = threading.RLock()
        """Held by whoever writes to the terminal: keys are read in a thread of their own."""
        self._text = ""
        self._long = False
        self._stands = ""
        self._report = ""
        self._decode = codecs.getincrementaldecoder("utf-8")("replace").decode
        self._found: list[Any] | None = None

    def begin(self) -> bool:
        """Takes the terminal over; False where there is none, or the system knows no such way."""
        if sys.platform == "win32":
            return False
        else:  # noqa: RET505
            try:
                self._found = termios.tcgetattr(self._fd)
                self._take_over()
            except (OSError, ValueError, termios.error):
                self._found = None
                return False
            return True

    def keep(self) -> None:
        """Takes the terminal over anew where a shell, after Ctrl-Z and `fg`, has set it its way."""
        if self._found is None:
            return
        if sys.platform != "win32":
            with self.lock, contextlib.suppress(OSError, termios.error):
                lines_whole = termios.tcgetattr(self._fd)[3] & termios.ICANON
                if lines_whole and self._in_front():
                    self._take_over()
                    # Whatever the shell wrote stands behind what was typed.
                    self._stands = ""

    def _take_over(self) -> None:
        if sys.platform != "win32":
            wanted = termios.tcgetattr(self._fd)
            wanted[3] &= ~(termios.ICANON | termios.ECHO | termios.IEXTEN)
            wanted[6][termios.VMIN], wanted[6][termios.VTIME] = 1, 0
            termios.tcsetattr(self._fd, termios.TCSADRAIN, wanted)

    def _in_front(self) -> bool:
        """Whether the terminal may be set: from behind, that stops the program (SIGTTOU)."""
        if sys.platform == "win32":
            return False
        else:  # noqa: RET505
            try:
                return os.tcgetpgrp(self._fd) == os.getpgrp()
            except OSError:
                # It is not the terminal that this program is controlled by.
                return True

    def end(self) -> None:
        """Gives the terminal back."""
        if self._found is None:
            return
        with self.lock:
            self.aside()
            self._text = ""
            if sys.platform != "win32":
                with contextlib.suppress(OSError, termios.error):
                    termios.tcsetattr(self._fd, termios.TCSADRAIN, self._found)
            self._found = None

    def aside(self) -> None:
        """Something is about to be printed: it begins on a line of its own."""
        with self.lock:
            if self._stands:
                self._write("\n")
                self._stands = ""

    def again(self) -> None:
        """What is being typed, once more, where something was printed behind it."""
        with self.lock:
            if self._text and not self._stands:
                self._write(self._text)
                self._stands = self._text

    def feed(self, got: bytes) -> list[Finished]:
        """Takes keys; the lines that they end."""
        ended: list[Finished] = []
        with self.lock:
            for char in self._decode(got):
                if self._report or char == _ESCAPE:
                    self._reported(char)
                elif char in _ENTER:
                    ended.append(self._ended())
                elif char == _END:
                    if not self._text and not self._long:
                        return [*ended, Finished(gone=True)]
                elif char in _ERASE:
                    self._take_back(self._text[:-1])
                elif char == _WORD:
                    self._take_back(self._text.rstrip()[: self._text.rstrip().rfind(" ") + 1])
                elif char == _ALL:
                    self._take_back("")
                elif char == "\t" or (char >= " " and clean(char) == char):
                    self._put(" " if char == "\t" else char)
        return ended

    def _put(self, char: str) -> None:
        if self._long or len(self._text.encode()) + len(char.encode()) > self._longest:
            self._long = True
            return
        self.again()
        self._text += char
        self._write(char)
        self._stands = self._text

    def _take_back(self, left: str) -> None:
        gone = self._text[len(left) :]
        # Of a line that was too long a part is lost: only a new one may answer.
        self._long = self._long and bool(left)
        self.again()
        self._text = left
        self._write("\b \b" * cells(gone))
        self._stands = left

    def _ended(self) -> Finished:
        self.again()
        self._write("\n")
        done = Finished("" if self._long else self._text, self._long)
        self._text, self._stands, self._long = "", "", False
        return done

    def _reported(self, char: str) -> None:
        """A key with no character comes as ESC, `[` or `O`, and on to a letter or `~`; ESC alone
        takes the next character with it (ECMA-48, 5.4; XTerm's keys)."""
        self._report += char
        opened = self._report[1:2]
        if len(self._report) > 1 and (opened not in ("[", "O") or len(self._report) > 2):
            last = self._report[-1]
            if opened not in ("[", "O") or opened == "O" or "@" <= last <= "~":
                self._report = ""

    def _write(self, text: str) -> None:
        # A terminal that has gone is told by its end of input, not by what is written to it.
        with contextlib.suppress(OSError, ValueError):
            self._to(text)


def at_terminal(descriptor: int, write: Callable[[str], None], longest: int) -> TypedLine | None:
    """The line of a terminal that was taken over; None where lines come whole."""
    if os.name == "nt" or not os.isatty(descriptor):
        return None
    line = TypedLine(descriptor, write, longest)
    return line if line.begin() else None
