"""Terminals, repeats, and standard error while the screen stands."""

from __future__ import annotations

import io
import os
import signal
from types import ModuleType

import pytest

from runner.engine.effects import Prompt
from runner.terminal.attention import calls_due
from runner.terminal.ending import signals
from runner.terminal.shell import is_terminal
from runner.terminal.strays import errors_aside


class Tty(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_without_a_terminal_nothing_interactive_starts() -> None:
    closed = Tty()
    closed.close()
    assert is_terminal(Tty(), Tty())
    assert not is_terminal(Tty(), io.StringIO())
    with open(os.devnull) as nothing:
        assert not is_terminal(nothing)


def test_a_closed_stream_is_no_terminal() -> None:
    stream = io.StringIO()
    stream.close()
    assert not is_terminal(stream)


@pytest.mark.parametrize(
    ("now", "calls"),
    [(0, 1), (9_999, 1), (10_000, 2), (29_999, 2), (30_000, 3), (10**7, 3)],
)
def test_calls_at_ten_and_thirty_seconds(fakes: ModuleType, now: int, calls: int) -> None:
    assert calls_due(fakes.view(), 0, now) == calls


def test_nothing_nags_in_flight_or_in_standby(fakes: ModuleType) -> None:
    assert calls_due(fakes.view(airborne=True), 0, 60_000) == 1
    for prompt in (Prompt.STANDBY, Prompt.MEMORY_ITEMS, Prompt.FIRST_PAGE, Prompt.CLOSED):
        assert calls_due(fakes.view(prompt=prompt), 0, 60_000) == 1


def test_standard_error_waits_until_the_screen_is_gone(capfd: pytest.CaptureFixture[str]) -> None:
    with errors_aside():
        os.write(2, b"from a library\n")
        assert capfd.readouterr().err == ""
    assert capfd.readouterr().err == "from a library\n"


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="no hang-up signal on this system")
def test_signals_are_told_apart_and_put_back() -> None:
    before = signal.getsignal(signal.SIGINT)
    heard: list[bool] = []
    with signals(heard.append):
        signal.raise_signal(signal.SIGINT)
        signal.raise_signal(signal.SIGHUP)
        signal.raise_signal(signal.SIGTERM)
    assert heard == [False, True, True]
    assert signal.getsignal(signal.SIGINT) is before
