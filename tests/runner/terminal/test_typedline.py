"""The line that is being typed in the plain mode: nothing printed tears it."""

from __future__ import annotations

import io
import os
import queue
import threading
from collections.abc import Iterator
from types import ModuleType

import pytest

from runner.terminal.intake import LONGEST_LINE
from runner.terminal.plain import Plain
from runner.terminal.shell import Ended, How
from runner.terminal.typedline import Finished, TypedLine

DEADLINE_S = 20


def typed(*chunks: str | bytes, longest: int = LONGEST_LINE) -> tuple[list[Finished], str]:
    """The lines that keys make, and what they put on the terminal."""
    written: list[str] = []
    line = TypedLine(-1, written.append, longest)
    ended = []
    for chunk in chunks:
        ended += line.feed(chunk if isinstance(chunk, bytes) else chunk.encode())
    return ended, "".join(written)


def test_keys_are_echoed_and_enter_ends_the_line() -> None:
    assert typed("rel", "eased\nx") == ([Finished("released")], "released\nx")
    assert typed("a\rb\n")[0] == [Finished("a"), Finished("b")]


def test_backspace_takes_back_from_this_line_only() -> None:
    assert typed("\x7f\x7fab\x7fc\n") == ([Finished("ac")], "ab\b \bc\n")
    assert typed("put off\x17on\n")[0] == [Finished("put on")]
    assert typed("put off  \x17\x17snag\n")[0] == [Finished("snag")]
    assert typed("put off\x15snag\n")[0] == [Finished("snag")]
    assert typed("日\x7f\n") == ([Finished("")], "日\b \b\b \b\n")


def test_a_character_may_come_in_pieces() -> None:
    assert typed(b"\xc3", b"\xa5\n")[0] == [Finished("å")]
    assert typed(b"\xff\n")[0] == [Finished("\ufffd")]


@pytest.mark.parametrize(
    "key", ["\x1b[A", "\x1b[3~", "\x1bOP", "\x1b[1;5C", "\x1bx", "\x01", "\x00"]
)
def test_a_key_with_no_character_is_no_text(key: str) -> None:
    assert typed(f"re{key}leased\n") == ([Finished("released")], "released\n")
    assert typed("re", *key, "leased\n")[0] == [Finished("released")]


def test_only_an_empty_line_ends_the_input() -> None:
    assert typed("half\x04\n")[0] == [Finished("half")]
    assert typed("\x04released\n")[0] == [Finished(gone=True)]


def test_a_line_that_is_too_long_is_told_and_not_cut() -> None:
    ended, shown = typed("abcdef\nab\n", longest=4)
    assert ended == [Finished(long=True), Finished("ab")]
    assert shown == "abcd\nab\n"
    # What is left of it is another answer than was typed.
    assert typed("abcdef\x7f\n", longest=4)[0] == [Finished(long=True)]
    assert typed("abcdef\x15ab\n", longest=4)[0] == [Finished("ab")]


def test_what_is_printed_has_a_line_of_its_own_and_the_typed_text_comes_again() -> None:
    written: list[str] = []
    line = TypedLine(-1, written.append, LONGEST_LINE)
    line.aside()
    line.again()
    assert written == []
    line.feed(b"passen")
    line.aside()
    line.aside()
    written.append("AGAIN, CALL 12\n")
    line.again()
    line.again()
    assert "".join(written) == "passen\nAGAIN, CALL 12\npassen"
    # A key that comes before the text was given again gives it.
    line.aside()
    written.append("TIME: ten\n")
    assert line.feed(b"gers\n") == [Finished("passengers")]
    assert "".join(written).endswith("passen\nTIME: ten\npassengers\n")


class Tape(io.StringIO):
    """What was written, and a way to wait for a text in it."""

    def __init__(self) -> None:
        super().__init__()
        self.parts: queue.Queue[str] = queue.Queue()
        self.seen = ""

    def write(self, text: str) -> int:
        self.parts.put(text)
        return len(text)

    def until(self, text: str) -> str:
        """All that was written up to `text`, which is taken; fails after the deadline."""
        while text not in self.seen:
            try:
                self.seen += self.parts.get(timeout=DEADLINE_S)
            except queue.Empty:
                raise AssertionError(f"no {text!r} in {self.seen!r}") from None
        before, self.seen = self.seen.split(text, 1)
        return before


class Terminal:
    """A plain shell at a pseudo-terminal, its clock set by hand."""

    def __init__(self, fakes: ModuleType) -> None:
        import termios

        self.now = 0
        self.texts: list[str] = []
        self.desk = fakes.FakeDesk(lambda: self.now, self.texts.append)
        self.keys, self.end = os.openpty()
        self.found = termios.tcgetattr(self.end)
        self.source = os.fdopen(self.end, encoding="utf-8")
        self.tape = Tape()
        self.ended: list[Ended] = []
        shell = Plain(self.source, self.tape)
        self.thread = threading.Thread(target=lambda: self.ended.append(shell.run(self.desk)))
        self.thread.start()

    def press(self, keys: str) -> None:
        os.write(self.keys, keys.encode())


@pytest.fixture
def terminal(fakes: ModuleType) -> Iterator[Terminal]:
    if os.name == "nt":
        pytest.skip("there are no pseudo-terminals there")
    one = Terminal(fakes)
    yield one
    one.press("\x15leave run open\n")
    one.thread.join(DEADLINE_S)
    one.source.close()
    os.close(one.keys)


def test_a_call_that_comes_again_does_not_tear_the_line_that_is_typed(terminal: Terminal) -> None:
    terminal.tape.until("Rotor brake; answer RELEASED (0 of 3 in this list)\n")
    terminal.now = 1_000
    terminal.press("relea")
    terminal.tape.until("relea")
    terminal.now = 10_000
    # The call begins a line, and the typed text stands behind it once more.
    assert terminal.tape.until("AGAIN, CALL 34").endswith("\n")
    assert terminal.tape.until("relea").endswith("in this list)\n")
    terminal.press("sed\n")
    assert terminal.tape.until("\n") == "sed"
    terminal.tape.until("CALL 35")
    assert terminal.texts == ["1|released"]


def test_the_terminal_is_given_back_as_it_was(terminal: Terminal) -> None:
    import termios

    terminal.tape.until("CALL 34")
    assert termios.tcgetattr(terminal.end)[3] != terminal.found[3]
    terminal.press("leave run open\n")
    terminal.thread.join(DEADLINE_S)
    assert [one.how for one in terminal.ended] == [How.LEFT]
    assert termios.tcgetattr(terminal.end) == terminal.found


def test_a_terminal_that_a_shell_has_set_its_way_is_taken_over_anew() -> None:
    termios = pytest.importorskip("termios")
    keys, end = os.openpty()
    line = TypedLine(end, lambda text: None, LONGEST_LINE)
    found = termios.tcgetattr(end)
    assert line.begin()
    ours = termios.tcgetattr(end)
    termios.tcsetattr(end, termios.TCSANOW, found)
    line.keep()
    assert termios.tcgetattr(end) == ours != found
    line.end()
    line.keep()
    assert termios.tcgetattr(end) == found
    os.close(keys)
    os.close(end)
