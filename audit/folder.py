"""A log folder: the device's identity, its runs, the documents they used, the room kept to close.

Rules: one writer at a time, by lock; a folder opened for reading is changed in nothing; a document
is stored under the SHA-256 of its exact bytes and never written over; `device.json` is made once
and its SHA-256 is the device (the enrolment hash); beside logs of another one nothing is written.
"""

import hashlib
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, NamedTuple, Self

from audit import FORMAT, canonical, durable
from audit.errors import Fault, FolderError
from audit.line import LONGEST, Line, head_of, parse
from audit.lock import Lock
from audit.reader import opened, pieces
from audit.shapes import RUN_ID, opening

SUFFIX = ".jsonl"
BALLAST_BYTES = 256 * 1024
DEVICE_FILE = "device.json"
_DOCUMENTS = "documents"
_BALLAST = "ballast"
_LOCK = "lock"


class RunInfo(NamedTuple):
    """One run, from its first and its last whole line (nothing is verified).

    `run` is what line 0 says, `device` its enrolment hash, `prev` the head it begins at; `wall_ms`
    is when it was opened; `head` is the SHA-256 of its last whole line.
    """

    run: str
    run_seq: int
    prev_run: str | None
    device: str
    prev: str
    path: Path
    modes: tuple[str, ...]
    wall_ms: int
    head: str
    closed: bool


@contextmanager
def _told(path: Path, doing: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise FolderError(f"{path}: cannot be {doing}: {error.strerror or error}") from None


class LogFolder:
    """Made by `open`; a context manager that lets the lock go at its end."""

    def __init__(self, path: Path, device: str, lock: Lock | None) -> None:
        self.path = path
        self.device = device
        self._lock = lock

    @classmethod
    def open(cls, path: Path, *, write: bool = True) -> "LogFolder":
        """The log folder at `path`.

        With `write` it is made if missing, and held until `close`; raises `FolderBusy` if another
        process holds it. Without, it must exist. Raises `FolderError` for anything unusable, and
        for writing also where logs of another device lie in it.
        """
        if not write:
            with _told(path, "read"):
                return cls(path, device_of(path), None)
        with _told(path, "made"):
            (path / _DOCUMENTS).mkdir(parents=True, exist_ok=True)
        with _told(path / _LOCK, "opened for writing"):
            lock = Lock(path / _LOCK)
        try:
            with _told(path, "written"):
                if not (path / DEVICE_FILE).exists():
                    if any(path.glob(f"*{SUFFIX}")):
                        raise FolderError(
                            f"{path} holds logs but no {DEVICE_FILE}: bring that file back, or "
                            "name another folder; a new identity would break the chain of its runs"
                        )
                    text = canonical.spell({"device": secrets.token_hex(16), "format": FORMAT})
                    durable.write_new(path / DEVICE_FILE, text + b"\n", 0o644)
                folder = cls(path, device_of(path), lock)
                folder._refuse_others()
                folder.keep_room()
        except BaseException:
            lock.release()
            raise
        return folder

    def _refuse_others(self) -> None:
        own = f'"device":"{self.device}"'.encode("ascii")
        for path in sorted(self.path.glob(f"*{SUFFIX}")):
            with opened(path) as stream:
                # a folder may hold a thousand runs, and a crew waits: only a stranger is parsed
                if own in stream.readline(LONGEST + 1):
                    continue
            info = read_info(path)
            if info is not None and info.device != self.device:
                raise FolderError(
                    f"{self.path} is the log folder of device {self.device[:16]}…, but "
                    f"{info.path.name} in it is of device {info.device[:16]}…: bring back the "
                    f"{DEVICE_FILE} that belongs to the logs, or move that log out, or name "
                    "another folder; nothing was written"
                )

    def close(self) -> None:
        """Let the lock go."""
        if self._lock is not None:
            self._lock.release()
            self._lock = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def writable(self) -> bool:
        """True while this object holds the folder's lock."""
        return self._lock is not None

    @property
    def documents(self) -> Path:
        """The folder of stored documents."""
        return self.path / _DOCUMENTS

    def need_lock(self) -> None:
        """Raise `FolderError` unless the folder was opened for writing and is still held."""
        if not self.writable:
            raise FolderError(f"{self.path} was opened for reading only")

    def keep_room(self) -> None:
        """Make the ballast: room that closing gets back when the disk is full meanwhile."""
        path = self.path / _BALLAST
        if path.exists() and path.stat().st_size == BALLAST_BYTES:
            return
        path.unlink(missing_ok=True)
        # random bytes: a file system that packs or skips zeros would keep no room
        durable.write_new(path, secrets.token_bytes(BALLAST_BYTES))

    def release_room(self) -> None:
        """Give the ballast's room back to the disk; made again when the folder is next opened."""
        with _told(self.path / _BALLAST, "removed"):
            (self.path / _BALLAST).unlink(missing_ok=True)

    def store_document(self, content: bytes) -> str:
        """Keep the exact bytes of a document; their SHA-256. Durable when this returns."""
        self.need_lock()
        name = hashlib.sha256(content).hexdigest()
        path = self.documents / name
        with _told(path, "stored"):
            if not path.exists():
                durable.write_new(path, content, 0o644)
        self.read_document(name)
        return name

    def read_document(self, sha256: str) -> bytes:
        """The bytes stored under a hash; raises `FolderError` if missing or changed."""
        if not canonical.is_hex64(sha256):
            raise FolderError(f"{sha256!r} is not 64 hexadecimal digits")
        path = self.documents / sha256
        with _told(path, "read"), opened(path) as stream:
            content = stream.read()
        if hashlib.sha256(content).hexdigest() != sha256:
            raise FolderError(f"{path}: its content is not what its name says; it was changed")
        return content

    def path_of(self, run: str) -> Path:
        """The log of a run; raises `FolderError` for what cannot name one."""
        if not RUN_ID.fullmatch(run):
            raise FolderError(f"{run!r} names no run: 2 to 64 of a-z, 0-9 and hyphens")
        return self.path / f"{run}{SUFFIX}"

    def runs(self) -> list[RunInfo]:
        """The runs of this folder by `run_seq`; files that do not begin as a log are left out."""
        found = []
        with _told(self.path, "read"):
            for path in self.path.glob(f"*{SUFFIX}"):
                info = read_info(path)
                if info is not None:
                    found.append(info)
        return sorted(found, key=lambda info: (info.run_seq, info.run))

    def last_head(self) -> str:
        """What the next run's line 0 takes as `prev`: the last run's head, or the device."""
        runs = self.runs()
        return runs[-1].head if runs else self.device

    def open_run(self) -> str | None:
        """The newest run, if it was left open; `None` if it closed or there is none."""
        runs = self.runs()
        return runs[-1].run if runs and not runs[-1].closed else None


def device_of(path: Path) -> str:
    """The device of a log folder: the SHA-256 of its `device.json`. Raises `OSError`."""
    with opened(path / DEVICE_FILE) as stream:
        text = stream.read()
    try:
        if not text.endswith(b"\n"):
            raise Fault("shape", "it does not end with a line feed")
        value = canonical.read(text[:-1])
        if type(value) is not dict or value.get("format") != FORMAT:
            raise Fault("format", f"it is not of format {FORMAT}")
    except Fault as fault:
        raise FolderError(f"{path / DEVICE_FILE}: {fault.why}") from None
    return hashlib.sha256(text).hexdigest()


def read_info(path: Path) -> RunInfo | None:
    """What a log says of itself; `None` if it does not begin as one. Raises `OSError`."""
    with opened(path) as stream:
        try:
            first = parse(stream.readline(LONGEST + 1))
            if first.type != "open":
                return None
            opening(first.data)
        except Fault:
            return None
        last = _last_line(stream) or first
    return RunInfo(
        run=first.data["run"],
        run_seq=first.data["run_seq"],
        prev_run=first.data["prev_run"],
        device=first.data["device"],
        prev=first.prev,
        path=path,
        modes=tuple(first.data["modes"]),
        wall_ms=first.stamp.wall_ms,
        head=last.head,
        closed=last.type == "close-sig" and last.next == "",
    )


def line_with(log: Path, head: str) -> int | None:
    """The number of the line of a log whose SHA-256 is `head`; `None` if there is none."""
    with opened(log) as stream:
        for number, piece in enumerate(pieces(stream)):
            if head_of(piece.raw) == head:
                return number
    return None


def _last_line(stream: BinaryIO) -> Line | None:
    # from the end backwards, because a torn write may have left anything after the last whole line
    end = stream.seek(0, os.SEEK_END)
    block = 1 << 14
    while True:
        start = max(0, end - block)
        stream.seek(start)
        rows = stream.read(end - start).split(b"\n")[:-1]
        for row in reversed(rows if start == 0 else rows[1:]):
            try:
                return parse(row + b"\n")
            except Fault:
                continue
        if start == 0:
            return None
        block *= 4
