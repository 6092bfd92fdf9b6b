"""A disk that fails, fills up, or is changed by others: recording is lost at once, never mixed."""

import errno
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from audit import durable
from audit.errors import LogLost
from audit.folder import BALLAST_BYTES, LogFolder
from audit.recovery import recover
from audit.writer import LogWriter
from tests.audit.helpers import Clock, Person, check, event, opening, simple_log


class Failing:
    """Fails the nth call of a durable function, in the given way."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, name: str, error: OSError | int) -> None:
        self.calls = 0
        self.armed = False
        real = getattr(durable, name)

        def replaced(fd: int, *data: bytes) -> None:
            self.calls += 1
            if not self.armed:
                real(fd, *data)
            elif isinstance(error, OSError):
                raise error
            else:
                os.write(fd, data[0][:error])
                raise OSError(errno.ENOSPC, "short")

        monkeypatch.setattr(durable, name, replaced)


def test_a_disk_that_refuses_the_first_line_leaves_no_run(
    folder: LogFolder, crew: list[Person], clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    failing = Failing(monkeypatch, "sync", OSError(errno.EIO, "Input/output error"))
    failing.armed = True
    with pytest.raises(LogLost, match="could not be started: Input/output error"):
        LogWriter.create(folder, opening(crew), crew, clock())
    failing.armed = False
    assert folder.runs() == []
    assert list(folder.path.glob("*.jsonl*")) == []
    assert check(simple_log(folder, crew, clock), crew).counts()


@pytest.mark.parametrize(
    ("name", "error", "kept"),
    [
        ("sync", OSError(errno.EIO, "no"), 1),
        ("write_all", OSError(errno.ENOSPC, "no"), 0),
        ("write_all", 100, 0),
    ],
    ids=["sync fails", "disk full", "short write"],
)
def test_after_a_failure_nothing_more_is_appended(
    folder: LogFolder,
    crew: list[Person],
    clock: Clock,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    error: OSError | int,
    kept: int,
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    failing = Failing(monkeypatch, name, error)
    durable_entry = writer.event(event(1), clock())
    failing.armed = True
    with pytest.raises(LogLost, match="recording lost at line 4"):
        writer.event(event(2), clock())
    calls = failing.calls
    failing.armed = False
    size = folder.path_of(writer.run).stat().st_size
    with pytest.raises(LogLost):
        writer.event(event(3), clock())
    with pytest.raises(LogLost):
        writer.close([], crew, clock())
    with pytest.raises(LogLost):
        writer.attach("x", 1, "1" * 64, clock())
    assert failing.calls == calls, "a sync or write was tried again"
    assert folder.path_of(writer.run).stat().st_size == size
    verdict = check(folder.path_of(writer.run), crew)
    assert verdict.result == "unclosed"
    assert verdict.lines - 1 == durable_entry.seq + kept
    # the disk is well again: the run goes on from its last whole line
    resumed = LogWriter.resume(recover(folder, writer.run), clock(), None)
    for person in crew:
        resumed.sign_resume(person, clock())
    resumed.close([], crew, clock())
    assert check(folder.path_of(writer.run), crew).counts()


@pytest.mark.skipif(sys.platform == "win32", reason="no file size limit on this system")
def test_a_real_short_write_is_counted(folder: LogFolder, crew: list[Person], clock: Clock) -> None:
    import resource

    writer = LogWriter.create(folder, opening(crew), crew, clock())
    kept = writer.event(event(1), clock())
    size = folder.path_of(writer.run).stat().st_size
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        # the system then takes a part of the line, and says so by the count only
        resource.setrlimit(resource.RLIMIT_FSIZE, (size + 100, hard))
        with pytest.raises(LogLost, match="only 100 of"):
            writer.event(event(2), clock())
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, before)
    verdict = check(folder.path_of(writer.run), crew)
    assert (verdict.result, verdict.lines) == ("unclosed", kept.seq + 1)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of one megabyte."""
    mount, umount = shutil.which("mount"), shutil.which("umount")
    path = tmp_path / "small"
    path.mkdir()
    if mount is None or umount is None:
        pytest.skip("there is no mount command")
    made = subprocess.run(
        [mount, "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(path)],
        capture_output=True,
        check=False,
    )
    if made.returncode:
        pytest.skip("a small file system cannot be mounted here")
    yield path
    subprocess.run([umount, str(path)], check=True)


def test_a_full_disk_leaves_the_log_whole(
    small_disk: Path, crew: list[Person], clock: Clock
) -> None:
    with LogFolder.open(small_disk / "logs") as folder:
        writer = LogWriter.create(folder, opening(crew), crew, clock())
        last = writer.seq
        try:
            while writer.lost is None:
                last = writer.event(event(last), clock()).seq
        except LogLost as lost:
            why = str(lost)
        assert re.search(r"No space left|only \d+ of", why)
        verdict = check(folder.path_of(writer.run), crew)
        assert (verdict.result, verdict.lines) == ("unclosed", last + 1)


def test_a_disk_filled_by_others_still_leaves_room_to_close(
    small_disk: Path, crew: list[Person], clock: Clock
) -> None:
    with LogFolder.open(small_disk / "logs") as folder:
        writer = LogWriter.create(folder, opening(crew), crew, clock())
        writer.event(event(), clock())
        with (small_disk / "other").open("wb", buffering=0) as stream:
            for size in (4096, 1):
                try:
                    while stream.write(b"x" * size) == size:
                        pass
                except OSError as error:
                    full = error.errno == errno.ENOSPC
        assert full
        writer.close([], crew, clock())
        assert check(folder.path_of(writer.run), crew).result == "closed"


def test_the_ballast_is_made_released_and_made_again(
    tmp_path: Path, crew: list[Person], clock: Clock
) -> None:
    with LogFolder.open(tmp_path) as folder:
        assert (tmp_path / "ballast").stat().st_size == BALLAST_BYTES
        simple_log(folder, crew, clock)
        assert not (tmp_path / "ballast").exists()
    with LogFolder.open(tmp_path):
        assert (tmp_path / "ballast").stat().st_size == BALLAST_BYTES


def test_a_log_changed_under_the_writer_is_lost_not_mixed(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    with folder.path_of(writer.run).open("ab") as stream:
        stream.write(b"x")
    with pytest.raises(LogLost, match="changed or removed"):
        writer.event(event(), clock())


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be removed there")
def test_a_log_removed_under_the_writer_is_lost(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    folder.path_of(writer.run).unlink()
    with pytest.raises(LogLost, match="changed or removed"):
        writer.event(event(), clock())


def test_a_writer_that_gave_up_says_why(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.give_up("a write took more than one second")
    with pytest.raises(LogLost, match="more than one second"):
        writer.event(event(), clock())
    assert writer.lost == "a write took more than one second"
