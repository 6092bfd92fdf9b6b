"""Files are opened where they are files: a pipe in the place of one is told, never waited for."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from audit import countersign, receipt, together
from audit.errors import AuditError, FolderError
from audit.fleet import checkpoint, index
from audit.folder import DEVICE_FILE, LogFolder
from audit.reader import opened
from tests.audit.helpers import Clock, Person, check, simple_log

NONE = "it is no ordinary file"
needs_pipes = pytest.mark.skipif(sys.platform == "win32", reason="no named pipes lie in a folder")


@pytest.fixture
def log(folder: LogFolder, crew: list[Person], clock: Clock) -> Path:
    name = folder.store_document(b"title: Before start\n")
    document = {"approval": None, "name": "before start", "sha256": name}
    return simple_log(folder, crew, clock, documents=[document])


@pytest.fixture
def awake() -> Iterator[None]:
    """Whoever waits for the pipe after all is woken by nobody else: the test must fail, not hang"""
    if sys.platform != "win32":
        import signal

        def late(*_: object) -> None:
            raise AssertionError("it waited for a pipe")

        before = signal.signal(signal.SIGALRM, late)
        signal.alarm(20)
        yield
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def pipe_at(path: Path) -> Path:
    path.parent.mkdir(exist_ok=True)
    path.unlink(missing_ok=True)
    if sys.platform != "win32":
        os.mkfifo(path)
    return path


def test_a_file_is_read_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"one\r\ntwo\n")
    with opened(path) as stream:
        assert stream.read() == b"one\r\ntwo\n"
    with opened(path, 1 << 16) as stream:
        assert stream.readline() == b"one\r\n"
    with pytest.raises(FileNotFoundError):
        opened(tmp_path / "none")
    with pytest.raises(OSError, match=r"directory|Permission"):
        opened(tmp_path)


@needs_pipes
@pytest.mark.usefixtures("awake")
def test_a_pipe_in_the_place_of_a_log(folder: LogFolder, log: Path) -> None:
    other = pipe_at(log.with_name("another-run.jsonl"))
    for ask in (
        lambda: check(other, []),
        lambda: receipt.receipt_of(other),
        lambda: together.look([folder.path], []),
        folder.runs,
    ):
        with pytest.raises(FolderError, match=NONE):
            ask()


@needs_pipes
@pytest.mark.usefixtures("awake")
def test_a_pipe_beside_a_log(folder: LogFolder, log: Path, crew: list[Person]) -> None:
    (document,) = folder.documents.iterdir()
    pipe_at(document)
    found = check(log, crew)
    assert (found.result, found.notes[-1]) == ("closed", "1 of 1 documents are not beside the log")
    with pytest.raises(FolderError, match=NONE):
        folder.read_document(document.name)
    pipe_at(countersign.file_of(log))
    found = check(log, crew)
    assert (found.result, found.code) == ("rejected", "countersign")
    assert NONE in found.why


@needs_pipes
@pytest.mark.usefixtures("awake")
def test_a_pipe_in_the_place_of_what_a_folder_has(folder: LogFolder, log: Path) -> None:
    asks: list[tuple[Path, object]] = [
        (folder.path / checkpoint.FOLDER / "leaves", lambda: index.indexed([folder.path])),
        (
            folder.path / checkpoint.FOLDER / f"x{checkpoint.SUFFIX}",
            lambda: list(checkpoint.beside(folder.path)),
        ),
        (folder.path / DEVICE_FILE, lambda: together.look([folder.path], [])),
    ]
    for path, ask in asks:
        pipe_at(path)
        with pytest.raises(AuditError, match=NONE):
            ask()  # type: ignore[operator]
        path.unlink()
