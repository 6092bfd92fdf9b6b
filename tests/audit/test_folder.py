"""A log folder: one writer, one identity, documents that stay what they were."""

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from audit.errors import FolderBusy, FolderError
from audit.folder import LogFolder
from tests.audit.helpers import Clock, Person, simple_log

ROOT = Path(__file__).parents[2]

HOLDING = """
import sys
from pathlib import Path
from audit.folder import LogFolder
with LogFolder.open(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.readline()
"""


def test_two_processes_on_one_folder(tmp_path: Path) -> None:
    holding = subprocess.Popen(
        [sys.executable, "-c", HOLDING, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert holding.stdin is not None
    assert holding.stdout is not None
    try:
        assert holding.stdout.readline() == "held\n"
        with pytest.raises(FolderBusy, match=f"number {holding.pid}.*one active run a log folder"):
            LogFolder.open(tmp_path)
        LogFolder.open(tmp_path, write=False)
    finally:
        holding.kill()
        holding.communicate()
    # the holder is dead, and its lock with it
    LogFolder.open(tmp_path).close()


def test_one_process_twice_on_one_folder(tmp_path: Path) -> None:
    with LogFolder.open(tmp_path), pytest.raises(FolderBusy):
        LogFolder.open(tmp_path)
    first = LogFolder.open(tmp_path)
    first.close()
    first.close()
    assert not first.writable


def test_a_folder_keeps_its_identity(tmp_path: Path) -> None:
    with LogFolder.open(tmp_path / "deep" / "logs") as folder:
        device = folder.device
        text = (folder.path / "device.json").read_bytes()
    assert device == hashlib.sha256(text).hexdigest()
    assert LogFolder.open(tmp_path / "deep" / "logs", write=False).device == device
    with LogFolder.open(tmp_path / "other") as other:
        assert other.device != device


def test_a_lost_identity_is_not_replaced(tmp_path: Path, crew: list[Person], clock: Clock) -> None:
    with LogFolder.open(tmp_path) as folder:
        simple_log(folder, crew, clock)
    own = (tmp_path / "device.json").read_bytes()
    (tmp_path / "device.json").unlink()
    with pytest.raises(FolderError, match=r"no device\.json"):
        LogFolder.open(tmp_path)
    assert not (tmp_path / "device.json").exists()
    # the lock was let go again
    (tmp_path / "device.json").write_bytes(own)
    LogFolder.open(tmp_path).close()


def test_nothing_is_written_beside_the_logs_of_another_device(
    tmp_path: Path, crew: list[Person], clock: Clock
) -> None:
    with LogFolder.open(tmp_path / "mine") as folder:
        mine = simple_log(folder, crew, clock)
    with LogFolder.open(tmp_path / "theirs") as folder:
        theirs = simple_log(folder, crew, clock)
        device = folder.device
    # the identity was exchanged
    (mine.parent / "device.json").write_bytes((theirs.parent / "device.json").read_bytes())
    ballast = mine.parent / "ballast"  # given back at the close, made again at the next open
    with pytest.raises(FolderError) as caught:
        LogFolder.open(mine.parent)
    assert f"is the log folder of device {device[:16]}…, but {mine.name} in it is of" in str(
        caught.value
    )
    assert not ballast.exists()
    # whoever only reads may: it is what is to be looked at
    assert LogFolder.open(mine.parent, write=False).runs()[0].path == mine
    # a log of another device was brought in
    theirs.rename(theirs.with_name("moved-run.jsonl"))
    (theirs.parent / mine.name).write_bytes(mine.read_bytes())
    with pytest.raises(FolderError, match="move that log out"):
        LogFolder.open(theirs.parent)
    (theirs.parent / mine.name).unlink()
    LogFolder.open(theirs.parent).close()


@pytest.mark.parametrize(
    "text", [b"", b"{}\n", b'{"device":"x","format":1}', b'{"format":2}\n', b"[]\n", b"\xff\n"]
)
def test_an_identity_that_is_none_is_named(tmp_path: Path, text: bytes) -> None:
    (tmp_path / "device.json").write_bytes(text)
    with pytest.raises(FolderError, match=r"device\.json"):
        LogFolder.open(tmp_path)


def test_documents_are_kept_by_their_bytes(folder: LogFolder) -> None:
    content = b"title: R\xc3\xa9sum\xc3\xa9\r\n"
    name = folder.store_document(content)
    assert name == hashlib.sha256(content).hexdigest()
    assert folder.store_document(content) == name
    assert folder.read_document(name) == content
    assert (folder.documents / name).read_bytes() == content
    (folder.documents / name).write_bytes(b"other")
    with pytest.raises(FolderError, match="was changed"):
        folder.read_document(name)
    with pytest.raises(FolderError, match="was changed"):
        folder.store_document(content)
    with pytest.raises(FolderError, match="cannot be read"):
        folder.read_document("0" * 64)
    with pytest.raises(FolderError, match="hexadecimal"):
        folder.read_document("../device.json")


def test_files_that_are_no_logs_are_left_out(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    log = simple_log(folder, crew, clock)
    rows = log.read_bytes().splitlines(keepends=True)
    (folder.path / "junk.jsonl").write_bytes(b"junk\n")
    (folder.path / "empty.jsonl").write_bytes(b"")
    (folder.path / "middle.jsonl").write_bytes(rows[2])
    (folder.path / "note.txt").write_bytes(rows[0])
    assert [info.run for info in folder.runs()] == [log.stem]
    assert folder.runs()[0].modes == ("crew",)
    assert folder.runs()[0].wall_ms == clock.wall - 4 * 250  # opened, three events, closed


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(FolderError, match="cannot be read"):
        LogFolder.open(tmp_path / "missing", write=False)
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(FolderError, match="file"):
        LogFolder.open(tmp_path / "file")


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0 or shutil.which("chmod") is None,
    reason="permissions do not bind this user",
)
def test_a_read_only_folder_is_named(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(FolderError, match="Permission denied"):
            LogFolder.open(tmp_path)
    finally:
        tmp_path.chmod(0o700)
