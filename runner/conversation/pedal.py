"""A pedal or a button that the system knows as an input device, read for its press and its release.

Rules: a terminal reports no release, an input device does: while the pedal is down the microphone
is open, and what was being said when it comes up is an answer that the key cut short. Every key of
the device is the pedal; a repeat is no press; a device that goes away is said, with the key up, and
looked for no more. Linux only: events as the kernel's input interface gives them.
"""

from __future__ import annotations

import os
import select
import struct
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Final, NamedTuple

EVENT: Final = struct.Struct("llHHi")
"""Seconds, microseconds, type, code, value: `struct input_event` (Linux kernel, "Linux Input
Subsystem userspace API", input.rst, 1.4 Event interface)."""
_KEY: Final = 1
"""EV_KEY (the same, input-event-codes)."""
_UP, _DOWN = 0, 1
_MOST: Final = 64 * EVENT.size


class NoPedal(Exception):
    """The device cannot be read; says why and what to do."""


class Told(NamedTuple):
    """What the bytes told: presses and releases in their order, and the bytes of a begun event."""

    downs: tuple[bool, ...]
    rest: bytes


def told(content: bytes) -> Told:
    """Reads events; what is no key, and repeats, are left out."""
    whole = len(content) - len(content) % EVENT.size
    downs = [
        value == _DOWN
        for _, _, kind, _, value in EVENT.iter_unpack(content[:whole])
        if kind == _KEY and value in (_UP, _DOWN)
    ]
    return Told(tuple(downs), content[whole:])


class Pedal:
    """One device, read by one thread. `pressed(True)` when it goes down, `pressed(False)` when it
    comes up or is gone; `gone` gets a sentence then."""

    def __init__(
        self, path: Path, pressed: Callable[[bool], None], gone: Callable[[str], None]
    ) -> None:
        """Opens it. NoPedal where that fails."""
        self._path, self._pressed, self._gone = path, pressed, gone
        try:
            self._fd = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
        except OSError as fault:
            raise NoPedal(
                f"the pedal {path} cannot be read ({fault.strerror}): is it plugged in, and may "
                "this user read it (Debian and Ubuntu: group input)? TAB talks all the same"
            ) from None
        self._stop_read, self._stop_write = os.pipe()
        self._down = False
        self._thread = threading.Thread(target=self._work, name="pedal", daemon=True)

    def start(self) -> None:
        """Begins to read."""
        self._thread.start()

    def stop(self) -> None:
        """Reads no more; a pedal that is down comes up."""
        os.write(self._stop_write, b".")
        if self._thread.is_alive():
            self._thread.join(timeout=1)

    def _work(self) -> None:
        rest = b""
        try:
            while True:
                ready, _, _ = select.select([self._fd, self._stop_read], [], [])
                if self._stop_read in ready:
                    break
                content = os.read(self._fd, _MOST)
                if not content:
                    raise OSError("it is gone")
                found = told(rest + content)
                rest = found.rest
                for down in found.downs:
                    self._to(down)
        except (OSError, ValueError) as fault:
            self._gone(f"NO PEDAL: {self._path}: {fault}; TAB talks all the same")
        finally:
            self._to(False)
            os.close(self._fd)

    def _to(self, down: bool) -> None:
        if down != self._down:
            self._down = down
            self._pressed(down)
