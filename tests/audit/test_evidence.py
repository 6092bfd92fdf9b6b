"""A file kept as evidence: copied whole, under a plain name, never over another."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from audit import evidence, shapes
from audit.errors import FolderError
from audit.folder import LogFolder
from audit.writer import LogWriter
from tests.audit.helpers import Clock, Person, check, opening

RUN = "20261124-215003-ab12cd"


@pytest.mark.parametrize(
    ("name", "plain"),
    [
        ("clip.wav", "clip.wav"), ("Späne am Stopfen.jpg", "Spane-am-Stopfen.jpg"),
        ("../../x", "x"), ("写真.png", "png"), ("写真", "file"), (".hidden", "hidden"),
        ("a" * 60 + ".jpeg", "a" * 32 + "aaa.jpeg"), ("a" * 60, "a" * 40),
        ("run.jsonl", "run.jsonl.file"), ("run.countersign", "run.countersign.file"),
        ("half.partial", "half.partial.file"),
    ],
)  # fmt: skip
def test_a_plain_name(name: str, plain: str) -> None:
    assert evidence.plain_name(name) == plain
    entry = {"length": 1, "name": f"{RUN}.attached-{plain}", "sha256": "0" * 64}
    assert shapes.file_entry(entry, "attach") == entry


def test_a_file_is_kept_and_named_in_the_log(
    folder: LogFolder, crew: list[Person], clock: Clock, tmp_path: Path
) -> None:
    file = tmp_path / "clip.wav"
    file.write_bytes(b"RIFF" * 1000)
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    kept = evidence.keep(folder, writer.run, file)
    assert kept.length == 4000
    assert kept.sha256 == hashlib.sha256(file.read_bytes()).hexdigest()
    assert (folder.path / kept.name).read_bytes() == file.read_bytes()
    writer.attach(*kept, clock())
    writer.close([], crew, clock())
    log = folder.path_of(writer.run)
    assert check(log, crew).counts()
    (folder.path / kept.name).write_bytes(b"RIFF" * 999 + b"RIFX")
    found = check(log, crew)
    assert (found.result, found.code, found.line) == ("rejected", "attachment", 3)
    (folder.path / kept.name).unlink()
    found = check(log, crew)
    assert found.notes == (f"attachment {kept.name} is not beside the log",)


def test_a_file_that_is_there_already(folder: LogFolder, tmp_path: Path) -> None:
    file = tmp_path / "clip.wav"
    file.write_bytes(b"RIFF")
    kept = evidence.keep(folder, RUN, file)
    assert evidence.keep(folder, RUN, file) == kept
    file.write_bytes(b"WAVE")
    with pytest.raises(FolderError, match="another file stands there already"):
        evidence.keep(folder, RUN, file)
    assert (folder.path / kept.name).read_bytes() == b"RIFF"


def test_what_cannot_be_kept(
    folder: LogFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "clip.wav"
    with pytest.raises(FolderError, match="cannot be read"):
        evidence.keep(folder, RUN, file)
    file.write_bytes(b"")
    with pytest.raises(FolderError, match="this is empty"):
        evidence.keep(folder, RUN, file)
    monkeypatch.setattr(evidence, "LARGEST", 3)
    file.write_bytes(b"abc")
    evidence.keep(folder, RUN, file)
    file.write_bytes(b"abcd")
    with pytest.raises(FolderError, match="1 to 3 bytes, this is larger"):
        evidence.keep(folder, RUN, file)
    reading = LogFolder.open(folder.path, write=False)
    with pytest.raises(FolderError, match="reading only"):
        evidence.keep(reading, RUN, file)


def test_a_full_disk_is_said(
    folder: LogFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(fd: int, data: bytes) -> None:
        raise OSError(28, "No space left on device")

    file = tmp_path / "clip.wav"
    file.write_bytes(b"RIFF")
    monkeypatch.setattr("audit.durable.write_all", full)
    with pytest.raises(FolderError, match="cannot be written: No space left"):
        evidence.keep(folder, RUN, file)
    assert not list(folder.path.glob(f"{RUN}*"))
