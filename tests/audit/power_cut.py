"""A disk whose power can be cut: what had not reached it at that moment is gone.

A file system lies in an image, the image on a second file system of its own. Freezing the second
one (Linux `FIFREEZE`) holds back every write to the image, while whoever writes to the first goes
on; so the copy made then is the disk of exactly one moment. What was written but not synced is in
the memory of the machine, not in the copy. Nothing reaches the disk by lapse of time: the first
file system commits every 300 seconds, a test takes a few. The disk is one without a cache that
forgets: a write that it was given counts as kept before the flush that follows it.
"""

from __future__ import annotations

import functools
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

TOOLS = {
    "mkfs.ext4": "e2fsprogs", "e2fsck": "e2fsprogs", "mount": "mount", "umount": "mount",
}  # fmt: skip
# ext4's smallest journal at the block size that machines have is 4 MiB
SIZE = 48 * 1024 * 1024
_FREEZE, _THAW = 0xC0045877, 0xC0045878


def tool(name: str) -> str:
    # those of the administrator are not in everybody's path
    found = shutil.which(name) or shutil.which(name, path="/usr/sbin:/sbin")
    return found or name


def run(name: str, *words: str | Path) -> None:
    """Run a tool; `OSError` with its own words if it fails."""
    done = subprocess.run(
        [tool(name), *map(str, words)], capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise OSError(None, f"{name}: {done.stderr.strip() or done.returncode}")


@functools.cache
def missing() -> str:
    """What is missing here for cutting the power; empty if nothing is."""
    if sys.platform != "linux":
        return "a loop mount and FIFREEZE are of Linux"
    if os.geteuid() != 0:
        return "only root may mount a file system"
    for name, package in TOOLS.items():
        if not os.access(tool(name), os.X_OK):
            return f"{name} is not installed (package {package})"
    with tempfile.TemporaryDirectory() as place:
        try:
            with Disk.made(Path(place)) as disk:
                disk.cut(Path(place) / "copy")
        except OSError as error:
            return f"a file system in a file cannot be mounted and frozen: {error.strerror}"
    return ""


class Disk:
    """The file system at `path`, and `cut`."""

    def __init__(self, ground: Path, path: Path) -> None:
        self.path = path
        self._ground = ground

    @classmethod
    @contextmanager
    def made(cls, place: Path, options: str = "data=ordered") -> Iterator[Disk]:
        """A disk made under `place` and taken away at the end."""
        outer, ground, path = place / "ground.img", place / "ground", place / "disk"
        _make(outer, 2 * SIZE)
        with mounted(outer, ground, "noatime"):
            _make(ground / "disk.img", SIZE)
            with mounted(ground / "disk.img", path, f"noatime,commit=300,{options}"):
                yield cls(ground, path)
        outer.unlink()

    def cut(self, image: Path) -> None:
        """The disk as it is now into the file `image`; who writes to it goes on."""
        import fcntl

        fd = os.open(self._ground, os.O_RDONLY)
        try:
            fcntl.ioctl(fd, _FREEZE, 0)
            try:
                shutil.copyfile(self._ground / "disk.img", image)
            finally:
                fcntl.ioctl(fd, _THAW, 0)
        finally:
            os.close(fd)


def _make(image: Path, size: int) -> None:
    with image.open("xb") as stream:
        stream.truncate(size)
    features = "lazy_itable_init=0,lazy_journal_init=0"
    run("mkfs.ext4", "-q", "-F", "-b", "4096", "-J", "size=4", "-E", features, image)


@contextmanager
def mounted(image: Path, at: Path, options: str) -> Iterator[Path]:
    """The file system in a file, as long as this lasts."""
    at.mkdir()
    run("mount", "-t", "ext4", "-o", f"loop,{options}", image, at)
    try:
        yield at
    finally:
        run("umount", at)


@contextmanager
def after_power_returned(image: Path, at: Path) -> Iterator[Path]:
    """The copy as a machine starts with it: its journal replayed, checked, then mounted."""
    done = subprocess.run(
        [tool("e2fsck"), "-p", str(image)], capture_output=True, text=True, check=False
    )
    # e2fsck(8): 0 no errors, 1 errors corrected; a preened journal is one of these
    if done.returncode not in (0, 1):
        raise OSError(None, f"e2fsck: {done.returncode}: {done.stdout}{done.stderr}")
    with mounted(image, at, "noatime") as place:
        yield place
