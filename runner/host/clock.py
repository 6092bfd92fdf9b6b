"""The only reader of time: wall, boot time, and which start of the machine this is.

Rules: run time never comes from the wall clock, which may jump; boot time counts on while the
machine sleeps where the system can tell; where the system names no start of its own, every
process counts as one, so that nothing is taken for measured that was not. The simulated clock
of scripted runs goes only where it is told.
"""

from __future__ import annotations

import secrets
import sys
import time
from pathlib import Path
from typing import Protocol

from audit.stamps import Stamp

_BOOT_FILE = Path("/proc/sys/kernel/random/boot_id")
SIMULATED = "simulated"


class Clock(Protocol):
    """What a run asks of time."""

    def stamp(self) -> Stamp:
        """Wall time, boot time in ms, and the name of this start of the machine."""


def since(then: Stamp, now: Stamp) -> int | None:
    """Milliseconds between two moments: by boot time within one start of the machine, by the wall
    clock if it went forward, else None: nobody can tell."""
    if now.boot == then.boot and now.mono_ms >= then.mono_ms:
        return now.mono_ms - then.mono_ms
    return now.wall_ms - then.wall_ms if now.wall_ms > then.wall_ms else None


class SystemClock:
    """The machine's own clocks."""

    def __init__(self) -> None:
        self._boot = _boot_name()

    def stamp(self) -> Stamp:
        """Now."""
        return Stamp(time.time_ns() // 1_000_000, _boot_time_ns() // 1_000_000, self._boot)


class SimulatedClock:
    """Time of a scripted run: `pass_ms` moves it, nothing else does."""

    def __init__(self, wall_ms: int, mono_ms: int = 0) -> None:
        self.wall_ms = wall_ms
        self.mono_ms = mono_ms

    def pass_ms(self, ms: int) -> None:
        """Lets time pass."""
        self.wall_ms += ms
        self.mono_ms += ms

    def stamp(self) -> Stamp:
        """The simulated moment."""
        return Stamp(self.wall_ms, self.mono_ms, SIMULATED)


if sys.platform == "linux":

    def _boot_time_ns() -> int:
        return time.clock_gettime_ns(time.CLOCK_BOOTTIME)

else:

    def _boot_time_ns() -> int:
        return time.monotonic_ns()


def _boot_name() -> str:
    try:
        name = _BOOT_FILE.read_text("ascii").strip()
    except (OSError, UnicodeDecodeError):
        name = ""
    plain = "".join(c for c in name if c.isascii() and (c.isalnum() or c == "-"))[:64]
    return plain or f"process-{secrets.token_hex(8)}"
