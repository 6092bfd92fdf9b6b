"""How far a verification has come: on a terminal only, one line, and nothing of it stays."""

from __future__ import annotations

import io
from pathlib import Path

import pyte
import pytest

from audit import progress
from audit.progress import PACE, Progress, size_of


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def logs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setitem(progress.PACE, "full", 1000)
    for name in "ab":
        (tmp_path / name).write_bytes(bytes(500))
    return [tmp_path / "a", tmp_path / "b", tmp_path / "gone"]


def shown(text: str) -> list[str]:
    screen = pyte.Screen(80, 5)
    pyte.Stream(screen).feed(text)
    return [row.rstrip() for row in screen.display]


def test_one_line_is_written_over_and_taken_away(logs: list[Path]) -> None:
    stream = Terminal()
    with Progress(logs, "full", wanted=True, stream=stream) as line:
        line(0, 10)
        assert shown(stream.getvalue()) == ["verifying: 0 of 3 logs, 1 %", "", "", "", ""]
        line(2, 999)
        assert shown(stream.getvalue())[0] == "verifying: 2 of 3 logs, 99 %"
        line.clear()
        assert shown(stream.getvalue()) == [""] * 5
        line(3, 5000)
        assert shown(stream.getvalue())[0] == "verifying: 3 of 3 logs, 100 %"
    assert shown(stream.getvalue()) == [""] * 5
    assert "\n" not in stream.getvalue()


def test_it_is_written_again_only_when_it_says_something_else(logs: list[Path]) -> None:
    stream = Terminal()
    line = Progress(logs, "full", wanted=True, stream=stream)
    for read in range(1000):
        line(0, read)
    assert stream.getvalue().count("\r") == 100


@pytest.mark.parametrize("reason", ["no terminal", "not wanted", "a dumb terminal", "little work"])
def test_nothing_is_written(logs: list[Path], monkeypatch: pytest.MonkeyPatch, reason: str) -> None:
    stream: io.StringIO = io.StringIO() if reason == "no terminal" else Terminal()
    if reason == "a dumb terminal":
        monkeypatch.setenv("TERM", "dumb")
    if reason == "little work":
        logs = logs[1:]
    with Progress(logs, "full", wanted=reason != "not wanted", stream=stream) as line:
        line(1, 500)
    assert stream.getvalue() == ""


def test_a_terminal_that_goes_away_changes_nothing(logs: list[Path]) -> None:
    class Gone(Terminal):
        tries = 0

        def write(self, text: str) -> int:
            self.tries += 1
            raise OSError("gone")

    stream = Gone()
    with Progress(logs, "full", wanted=True, stream=stream) as line:
        line(0, 10)
        line(1, 500)
    assert 1 <= stream.tries <= 2


def test_sizes_and_paces(logs: list[Path]) -> None:
    assert [size_of(log) for log in logs] == [500, 500, 0]
    assert set(PACE) == {"boundary", "full", "replayed"}
