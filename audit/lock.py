"""One writer a log folder: a lock that the system drops when its holder dies.

Rules: portable (flock, or a locked byte on Windows); the lock is the open file, never its
existence; its text, the holder's process number, is for the message only.
"""

import os
import sys
from pathlib import Path

from audit.errors import FolderBusy

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

# far beyond the text, so that the others can still read who holds it
_LOCKED_BYTE = 1 << 20


class Lock:
    """Holds the lock file of a folder from its making until `release`."""

    def __init__(self, path: Path) -> None:
        """Take the lock at `path`; raises `FolderBusy` when another process has it."""
        self._fd = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            if sys.platform == "win32":
                os.lseek(self._fd, _LOCKED_BYTE, os.SEEK_SET)
                msvcrt.locking(self._fd, msvcrt.LK_NBLCK, 1)
            else:
                fcntl.flock(self._fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.lseek(self._fd, 0, os.SEEK_SET)
            holder = os.read(self._fd, 32).decode("ascii", "replace").strip()
            os.close(self._fd)
            raise FolderBusy(
                f"{path.parent} is in use by another process"
                + (f" (number {holder})" if holder else "")
                + ": one active run a log folder; end that one first, or name another folder"
            ) from None
        os.lseek(self._fd, 0, os.SEEK_SET)
        os.ftruncate(self._fd, 0)
        os.write(self._fd, f"{os.getpid()}\n".encode("ascii"))

    def release(self) -> None:
        """Let the folder go; doing it twice does nothing."""
        if self._fd < 0:
            return
        if sys.platform == "win32":
            os.lseek(self._fd, _LOCKED_BYTE, os.SEEK_SET)
            msvcrt.locking(self._fd, msvcrt.LK_UNLCK, 1)
        os.close(self._fd)
        self._fd = -1
