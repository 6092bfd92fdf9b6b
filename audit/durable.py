"""Bytes onto the disk: one portable way to append and to wait until they are there.

Rules: a write that took fewer bytes than it was given is a failure, never continued; a sync that
failed is never tried again (the system may have dropped the pages and would then report success).
"""

import errno
import os
import sys
from pathlib import Path

if sys.platform != "win32":
    import fcntl

    _FULL_SYNC: int | None = getattr(fcntl, "F_FULLFSYNC", None)
else:
    _FULL_SYNC = None

_BINARY = getattr(os, "O_BINARY", 0)
_NO_FULL_SYNC_HERE = (errno.ENOTSUP, errno.EINVAL, errno.ENOTTY)


def open_append(path: Path) -> int:
    """A descriptor that only appends to an existing file."""
    return os.open(path, os.O_WRONLY | os.O_APPEND | _BINARY)


def create(path: Path, mode: int = 0o600) -> int:
    """A descriptor on a new file; `FileExistsError` if there is one already."""
    return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, mode)


def write_all(fd: int, data: bytes) -> None:
    """Write `data` in one call; `OSError` also when fewer bytes were taken."""
    written = os.write(fd, data)
    if written != len(data):
        raise OSError(errno.ENOSPC, f"only {written} of {len(data)} bytes were written")


def sync(fd: int) -> None:
    """Return when everything written to `fd` is on the disk; `OSError` if that is not certain."""
    if sys.platform != "win32" and _FULL_SYNC is not None:
        try:
            fcntl.fcntl(fd, _FULL_SYNC)
        except OSError as error:
            # a file system without the stronger call has not tried it: this is no second attempt
            if error.errno not in _NO_FULL_SYNC_HERE:
                raise
        else:
            return
    if hasattr(os, "fdatasync"):
        os.fdatasync(fd)
    else:
        os.fsync(fd)


def sync_folder(path: Path) -> None:
    """Make the names in a folder durable, where the system can (Windows cannot, and need not)."""
    if os.name == "nt":
        return
    fd = os.open(path, os.O_RDONLY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def write_new(path: Path, data: bytes, mode: int = 0o600) -> None:
    """A new file with `data`, durable with its name. It stands there whole or not at all."""
    partial = path.with_name(f".{path.name}.partial")
    partial.unlink(missing_ok=True)
    fd = create(partial, mode)
    try:
        write_all(fd, data)
        sync(fd)
    except OSError:
        os.close(fd)
        partial.unlink(missing_ok=True)
        raise
    os.close(fd)
    partial.rename(path)
    sync_folder(path.parent)


def extend(path: Path, data: bytes, mode: int = 0o644) -> None:
    """Put `data` behind what a file holds, durably; the file is made if there is none."""
    if not path.exists():
        write_new(path, data, mode)
        return
    fd = open_append(path)
    try:
        write_all(fd, data)
        sync(fd)
    finally:
        os.close(fd)
