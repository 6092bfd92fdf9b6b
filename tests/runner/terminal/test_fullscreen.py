"""The full screen in a real pseudo-terminal, read back through a terminal emulator."""

from __future__ import annotations

import contextlib
import os
import re
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from runner.terminal.keystate import HELD_MS

pexpect = pytest.importorskip("pexpect")
pyte = pytest.importorskip("pyte")

FAKES = Path(__file__).with_name("fakes.py")
ROOT = Path(__file__).parents[3]
DEADLINE_S = 30
PACE = 10
COLOUR = re.compile(rb"\x1b\[[0-9;]*(?:3[0-9]|4[0-9]|9[0-7]|10[0-7])[0-9;]*m")


class Terminal:
    """A program on a pseudo-terminal and the screen that a person sees."""

    def __init__(
        self, kind: str, log: Path, rows: int = 24, columns: int = 80, pace: int = PACE
    ) -> None:
        self.pace = pace
        self.log = log
        log.touch()
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm-256color"}
        environment.pop("NO_COLOR", None)
        self.child = pexpect.spawn(
            sys.executable,
            [str(FAKES), kind, str(log), str(pace)],
            dimensions=(rows, columns),
            env=environment,
            cwd=str(ROOT),
        )
        self.screen = pyte.Screen(columns, rows)
        self.stream = pyte.ByteStream(self.screen)
        self.raw = b""

    def pump(self, timeout: float) -> bool:
        """Reads what has come; False at the end of the output."""
        try:
            got = self.child.read_nonblocking(65_536, timeout)
        except pexpect.TIMEOUT:
            return True
        except pexpect.EOF:
            return False
        self.raw += got
        self.stream.feed(got)
        return True

    @property
    def text(self) -> str:
        return " ".join("\n".join(self.screen.display).split())

    def until(self, seen: Callable[[str], bool] | str, seconds: float = DEADLINE_S) -> str:
        """The screen's words once they hold a text, or fail at the deadline."""
        wanted = seen if callable(seen) else lambda text: seen in text
        end = time.monotonic() + seconds
        while not wanted(self.text):
            if time.monotonic() > end or not self.pump(0.05):
                raise AssertionError(f"never seen: {seen}\n" + "\n".join(self.screen.display))
        return self.text

    def press(self, keys: str, until: str) -> str:
        """Keys, sent once the guard after a call is certainly over."""
        over = time.monotonic() + 1.5 * HELD_MS / 1000 / self.pace
        while time.monotonic() < over:
            self.pump(0.01)
        self.child.send(keys)
        return self.until(until)

    def type_value(self, digits: str, stands: str = "") -> None:
        """Digits, each once the one before it stands there; `stands` was typed before."""
        for digit in digits:
            stands += digit
            self.press(digit, f"TYPED {stands}")

    def resize(self, rows: int, columns: int) -> None:
        self.screen.resize(rows, columns)
        self.child.setwinsize(rows, columns)

    def ended(self) -> list[str]:
        end = time.monotonic() + DEADLINE_S
        while "ENDED" not in self.log.read_text():
            assert time.monotonic() < end, self.log.read_text()
            self.pump(0.05)
        return self.log.read_text().splitlines()


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Any]:
    running: list[Terminal] = []

    def make(kind: str = "full", **size: int) -> Terminal:
        running.append(Terminal(kind, tmp_path / "log", **size))
        running[-1].until("34 ROTOR BRAKE")
        return running[-1]

    yield make
    for one in running:
        with contextlib.suppress(OSError):
            one.child.close(force=True)


def test_a_run_by_keys_in_one_bit_colour(start: Any) -> None:
    terminal = start("onebit")
    terminal.until("DEMONSTRATION")
    terminal.until("HANDLING (COMMANDER): RELEASED")
    terminal.press(" ", "35 ENGINE RPM")
    terminal.until("LIMIT 1550 TO 1650 RPM")
    terminal.type_value("1500")
    terminal.press("\r", "REFUSED: 1500 does not answer Engine RPM")
    terminal.type_value("1600")
    terminal.press("\r", "36 WHEEL BRAKES")
    terminal.press("+", "LISTS CLOSED")
    terminal.until("LOG SO FAR 7K2M-QX4D")
    terminal.press(" ", "END OF DAY?")
    terminal.press("+", "")
    lines = terminal.ended()
    assert lines[-1] == "ENDED closed"
    assert [line for line in lines if "|" in line] == [
        "1|RELEASED", "2|1500", "2|1600", "3|PARKED", "4|end of day",
    ]  # fmt: skip
    assert not COLOUR.search(terminal.raw)


def test_the_day_theme_paints_black_on_white_from_the_first_cell(start: Any) -> None:
    terminal = start("full")
    terminal.until(lambda _: {c.bg for c in terminal.screen.buffer[20].values()} == {"ffffff"})
    terminal.press("\x1b[21~", "NIGHT THEME: DIM")
    terminal.until(lambda _: {c.bg for c in terminal.screen.buffer[20].values()} == {"000000"})


def test_resize_in_the_middle_of_an_answer(start: Any) -> None:
    terminal = start("full")
    terminal.press(" ", "35 ENGINE RPM")
    terminal.press("16", "TYPED 16")
    for rows, columns in ((12, 40), (40, 120), (24, 80), (12, 40)):
        terminal.resize(rows, columns)
        terminal.until("TYPED 16")
        terminal.until("LIMIT 1550 TO 1650 RPM")
    terminal.type_value("00", "16")
    terminal.press("\r", "36 WHEEL BRAKES")


def test_control_keys_and_paste_end_and_answer_nothing(start: Any) -> None:
    terminal = start("full")
    for key in ("\x03", "\x04", "\x1a", "\x1c"):
        terminal.child.send(key)
        terminal.until("NO KEY ENDS A RUN")
        terminal.press("s", "WORDS s")
        terminal.press("\x7f", "AS SHOWN +")
    terminal.child.send("\x1b[200~released\rreleased\r\x1b[201~")
    terminal.until("PASTED TEXT ANSWERS NOTHING")
    assert terminal.log.read_text() == ""
    terminal.press(" ", "35 ENGINE RPM")


def test_unbracketed_paste_of_a_value_answers_nothing(start: Any) -> None:
    """No single key answers a value, so no burst of keys does."""
    terminal = start("full", pace=1)
    terminal.press(" ", "35 ENGINE RPM")
    terminal.press("1605\r1605\r   +1605\r", "TYPED 1605")
    terminal.until("TYPED TOO QUICKLY")
    terminal.press("s", "WORDS s")
    answers = [line for line in terminal.log.read_text().splitlines() if line[1:2] == "|"]
    assert answers == ["1|RELEASED"]


def test_a_drill_from_two_keys(start: Any) -> None:
    terminal = start("full", rows=12, columns=40)
    terminal.press("*", "DRILLS: NUMBER OPENS")
    terminal.press("1", "DRILL: FIRE IN START")
    for item in ("1 Starter KEEP ENGAGED", "7 Rotor brake ON if turning"):
        terminal.until(item)
    terminal.press("+", "34 ROTOR BRAKE")
    assert "1|drill Fire in start" in terminal.log.read_text()


def test_function_keys_reach_the_program(start: Any) -> None:
    terminal = start("full")
    terminal.press("\x1bOP", "DRILLS: NUMBER OPENS")
    terminal.press("\x7f", "AS SHOWN +")
    terminal.press("\x1b[20~", "DISCONTINUE?")
    terminal.press("+", "DISCONTINUED")
    assert terminal.log.read_text() == "1|discontinue\n"


def test_a_vanished_terminal_ends_the_shell_with_its_reason(start: Any) -> None:
    terminal = start("full")
    terminal.child.ptyproc.fileobj.close()
    end = time.monotonic() + DEADLINE_S
    while "ENDED" not in terminal.log.read_text():
        assert time.monotonic() < end
    assert terminal.log.read_text() == "ENDED terminal gone\n"


def test_leaving_open_takes_its_keys(start: Any) -> None:
    terminal = start("full")
    terminal.press("/", "BY NUMBER, OR TYPE WORDS")
    terminal.press("0", "9 LEAVE OPEN")
    terminal.press("9", "LEAVE THE RUN OPEN?")
    terminal.press("+", "")
    assert terminal.ended() == ["ENDED left open"]


def test_plain_mode_on_a_terminal_and_ctrl_c(tmp_path: Path) -> None:
    terminal = Terminal("plain", tmp_path / "log", columns=120)
    try:
        terminal.until("CALL 34")
        terminal.child.send("\x03")
        terminal.until("KEYS: Ctrl-C does not end a run")
        terminal.child.send("leave run open\r")
        assert terminal.ended() == ["ENDED left open"]
    finally:
        terminal.child.close(force=True)
