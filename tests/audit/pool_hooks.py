"""What the tests of the pool have its processes do: functions of a module, to import."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path

from audit.line import Line
from audit.verify import Replay

Finding = tuple[int, str, str]


def dies() -> Replay:
    """A hook in which the process ends at once, as one does that the system ends."""

    def hook(lines: Iterator[Line], documents: Path) -> Finding | None:
        os.kill(os.getpid(), signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)
        return None

    return hook


def breaks() -> Replay:
    """A hook with a fault of its own."""

    def hook(lines: Iterator[Line], documents: Path) -> Finding | None:
        raise ZeroDivisionError("of its own")

    return hook


def objects() -> Replay:
    """A hook that parts from the log at its third line."""

    def hook(lines: Iterator[Line], documents: Path) -> Finding | None:
        for line in lines:
            if line.seq == 3:
                return 3, "replay-outcome", "the lists say otherwise"
        return None

    return hook
