"""A disk that fills, fails or hangs: the list goes on, says so, and the log is honest."""

from __future__ import annotations

import errno
import os
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from audit import durable
from audit.folder import LogFolder
from audit.stamps import Stamp
from audit.verify import verify
from audit.writer import Entry, LogWriter
from runner.engine.effects import Prompt
from runner.host import recording
from runner.host.opening import resume
from runner.host.replay import replayed
from runner.host.run import LOST, Run
from tests.audit.helpers import Person, trust_in
from tests.runner.host.support import Ear, FakeClock, begin, lines_of, people, say, work_day


class Disk:
    """A disk whose n-th write or sync from now on fails, once or for good."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self._write, self._sync = durable.write_all, durable.sync
        self.fail_write = self.fail_sync = -1
        self.cut = 0
        self.calls = 0
        monkeypatch.setattr(durable, "write_all", self.write_all)
        monkeypatch.setattr(durable, "sync", self.sync)

    def write_all(self, fd: int, data: bytes) -> None:
        self.fail_write -= 1
        if self.fail_write == 0:
            os.write(fd, data[: self.cut])
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        self.calls += 1
        self._write(fd, data)

    def sync(self, fd: int) -> None:
        self.fail_sync -= 1
        if self.fail_sync == 0:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        self._sync(fd)


def goes_on(run: Run, clock: FakeClock, ear: Ear) -> None:
    """Once lost, the list is worked to its end, the band stands, and it was said once."""
    assert run.bands() == (LOST,)
    work_day(run, clock)
    assert run.state.question.prompt is Prompt.CLOSED
    assert ear.texts.count(LOST) == 1
    assert run.bands() == (LOST,)


def unclosed(path: Path, crew: tuple[tuple[str, Person], ...], lines: int) -> None:
    verdict = verify(
        path, level="replayed", trust=trust_in([p for _, p in crew]), replay=replayed()
    )
    assert (verdict.result, verdict.level, verdict.lines) == ("unclosed", "replayed", lines)
    assert not verdict.counts(frozenset())


@pytest.mark.parametrize("patient", [True, False])
@pytest.mark.parametrize(("write", "sync", "cut"), [(5, -1, 0), (5, -1, 60), (-1, 5, 0)])
def test_a_disk_that_fails_in_mid_run(
    write: int, sync: int, cut: int, patient: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock, crew = FakeClock(), people()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew, patient=patient)
        ear = Ear(run)
        name = run.recorder.writer.run
        disk = Disk(monkeypatch)
        disk.fail_write, disk.fail_sync, disk.cut = write, sync, cut
        outcomes = say(
            run, clock, "commander: page read", "copilot: page read", "tick hook", "tick tie-downs",
            "tick nose cowl latches",
        )  # fmt: skip
        assert all(o[0][0] != "refused" for o in outcomes)
        assert run.recorder.lost
        calls = disk.calls
        goes_on(run, clock, ear)
        assert disk.calls == calls
        assert "stays unclosed" in run.close([p for _, p in crew])
        code = run.head_code
        run.stop()
        # The last durable line is the fourth event after the signatures; a line whose sync failed
        # may stand there, but was never told of.
        kept = len(list(lines_of(folder.path_of(name))))
        assert kept in ((3 + 1 + 4,) if sync < 0 else (3 + 1 + 4, 3 + 1 + 5))
        told = list(lines_of(folder.path_of(name)))[3 + 4].head
        assert code == f"{told[:4]} {told[4:8]}".upper()
    unclosed(folder.path_of(name), crew, kept)


class Hanging:
    """Stands in for a writer whose sync hangs until it is let go."""

    def __init__(self, writer: LogWriter) -> None:
        self._writer = writer
        self.hangs = threading.Event()
        self.go = threading.Event()
        self.calls = 0

    def event(self, data: Mapping[str, Any], stamp: Stamp) -> Entry:
        self.calls += 1
        if self.hangs.is_set():
            self.go.wait(30)
        return self._writer.event(data, stamp)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._writer, name)


def test_a_second_is_the_longest_write() -> None:
    assert recording.LONGEST_WRITE_S == 1.0


def test_a_sync_that_hangs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recording, "LONGEST_WRITE_S", 0.05)
    clock, crew = FakeClock(), people()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew, patient=False)
        ear = Ear(run)
        writer = run.recorder.writer
        hanging = Hanging(writer)
        run.recorder.writer = hanging  # type: ignore[assignment]
        say(run, clock, "commander: page read")
        code = run.head_code
        hanging.hangs.set()
        say(run, clock, "copilot: page read")
        assert run.recorder.lost == "no durable write within one second"
        assert run.head_code == code
        calls = hanging.calls
        goes_on(run, clock, ear)
        assert hanging.calls == calls
        hanging.go.set()
        run.stop()
        # The line that hung may still have come onto the disk; nothing came behind it.
        kept = list(lines_of(folder.path_of(writer.run)))
        assert len(kept) in (5, 6)
        assert writer.lost
    unclosed(folder.path_of(writer.run), crew, len(kept))


def test_a_drill_is_shown_before_its_line_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = FakeClock()
    seen: list[str] = []
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        say(run, clock, "commander: page read", "copilot: page read")
        record = run.recorder.record

        def recorded(data: Mapping[str, Any], stamp: Stamp) -> Entry | None:
            seen.append("written")
            return record(data, stamp)

        monkeypatch.setattr(run.recorder, "record", recorded)
        run.subscribe(lambda _: seen.append("shown"))
        say(run, clock, "drill fire in start")
        assert seen == ["shown", "written"]
        seen.clear()
        say(run, clock, "memory items done")
        assert seen == ["written", "shown"]
        run.stop()


def test_after_a_loss_the_run_is_taken_up_from_its_last_durable_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock, crew = FakeClock(), people()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew)
        say(run, clock, "commander: page read", "copilot: page read")
        durable_state = run.state
        disk = Disk(monkeypatch)
        disk.fail_write, disk.cut = 1, 25
        say(run, clock, "tick hook", "tick tie-downs")
        run.stop()
        again = resume(folder, run.recorder.writer.run, clock, "TV-T1", patient=True)
        assert again.state.archive == durable_state.archive
        assert again.state.choosing is not None
        say(again, clock, "engine stopped", "rotor stopped", "on the ground")
        work_day(again, clock)
        assert again.close([p for _, p in crew]) == ""
        again.stop()
        path = folder.path_of(again.recorder.writer.run)
    verdict = verify(
        path, level="replayed", trust=trust_in([p for _, p in crew]), replay=replayed()
    )
    assert (verdict.result, verdict.level) == ("closed", "replayed"), verdict.text(str(path))


def test_what_the_log_does_not_take_costs_the_recording_never_the_list(tmp_path: Path) -> None:
    clock = FakeClock()
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        ear = Ear(run)
        say(run, clock, "commander: page read", "copilot: page read")
        clock.wall_ms = -5_000
        say(run, clock, "tick hook")
        assert "wall time" in run.recorder.lost
        goes_on(run, clock, ear)
        run.stop()


def test_somebody_who_cannot_stand_on_the_roster_takes_over_nothing(tmp_path: Path) -> None:
    clock, crew = FakeClock(), people()
    same = crew[0][1].public_line
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew, key_of=lambda name: same)
        ear = Ear(run)
        say(run, clock, "commander: page read", "copilot: page read")
        before = run.state
        say(run, clock, "crew copilot: Tor Brand")
        assert run.state is before
        assert not run.recorder.lost
        assert "not taken" in ear.texts[-1]
        work_day(run, clock)
        assert run.close([p for _, p in crew]) == ""
        run.stop()
