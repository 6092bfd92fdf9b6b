"""What a desk tells of its log: the receipt as it stands, and whose signatures are to come."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from audit.errors import LogLost
from audit.folder import LogFolder
from audit.receipt import parse, receipt_of, receipt_written
from runner.commands.slip import shown, slip
from runner.host.opening import resume
from runner.host.run import Run
from runner.terminal.shell import Owed
from tests.runner.host.support import FakeClock, begin, lines_of, people, say

BOTH = ("Maren Holt", "Åsa Lind")


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[LogFolder]:
    with LogFolder.open(tmp_path / "logs") as opened:
        yield opened


def receipts(run: Run) -> Run:
    """The run with receipts of its own log, as a command gives them to it."""
    run.make_receipt = partial(slip, run.recorder.writer)
    return run


def test_the_receipt_grows_with_the_log(folder: LogFolder) -> None:
    clock = FakeClock()
    run = receipts(begin(folder, clock, people()))
    first = run.receipt()
    assert first is run.receipt()
    assert "".join(first.head).lower() == run.recorder.head == parse(first.code).head
    assert len(first.head) == 16
    assert "still open, last line" in first.state
    assert len(first.dark) == len(first.light) > 20
    say(run, clock, "commander: page read")
    grown = run.receipt()
    assert parse(grown.code).line == parse(first.code).line + 1
    run.stop()
    log = folder.path_of(run.recorder.writer.run)
    assert len(list(lines_of(log))) == parse(grown.code).line + 1
    assert receipt_written(run.recorder.writer) == receipt_of(log)


def test_a_receipt_reads_nothing_and_is_the_one_of_the_file(folder: LogFolder) -> None:
    clock = FakeClock()
    run = receipts(begin(folder, clock, people()))
    say(run, clock, "commander: page read")
    log = folder.path_of(run.recorder.writer.run)
    whole = receipt_of(log)
    assert shown(whole) == run.receipt()
    log.unlink()
    assert receipt_written(run.recorder.writer) == whole
    run.stop()


def test_a_line_that_is_not_on_the_disk_is_in_no_receipt(
    folder: LogFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = FakeClock()
    run = receipts(begin(folder, clock, people()))
    writer = run.recorder.writer
    before, at_write = receipt_written(writer), []

    def full(fd: int, raw: bytes) -> None:
        at_write.append((writer.head, receipt_written(writer)))
        raise OSError(28, "no space left")

    monkeypatch.setattr("audit.writer.durable.write_all", full)
    with pytest.raises(LogLost):
        writer.attach("a.jpg", 1, "0" * 64, clock.stamp())
    assert [made for _, made in at_write] == [before]
    assert at_write[0][0] != before.head
    assert receipt_written(writer) == before
    run.stop()


def test_there_is_none_of_a_log_that_is_not_written(folder: LogFolder) -> None:
    run = begin(folder, FakeClock(), people())
    assert "no receipt" in run.receipt().why
    receipts(run).recorder.lose("no space left")
    assert run.receipt().code == ""
    assert run.owed() == ()
    run.stop()


def test_everybody_owes_the_closing_and_a_resumed_run_the_resume_too(folder: LogFolder) -> None:
    clock = FakeClock()
    run = begin(folder, clock, people())
    closing = Owed(BOTH, "for closing the log")
    assert run.owed() == (closing,)
    run.stop()
    clock.go(60_000)
    again = resume(folder, run.recorder.writer.run, clock, "TV-T1", patient=True)
    assert again.owed() == (Owed(BOTH, "for taking the run up again"), closing)
    again.stop()
