"""Repeats of a call: once at 10 s, once at 30 s, then the screen waits visibly and says nothing.

Rules: pure; by the desk's clock; nothing is repeated in flight, in standby, during memory items,
on the first page, or when the run is closed: there the crew has the word; to a call that has waited
for two minutes standing by is offered.
"""

from __future__ import annotations

from runner.engine.effects import Prompt, View

REPEATS_MS = (10_000, 30_000)
LONG_MS = 120_000
"""After so long it is no hesitation: the crew is at something else, and to stand by is offered."""
STAND_BY_KEY = "f3"
_SILENT = (Prompt.STANDBY, Prompt.MEMORY_ITEMS, Prompt.FIRST_PAGE, Prompt.CLOSED, Prompt.WAITING)


def calls_due(view: View, asked_at: int, now: int) -> int:
    """How often the current call should have been made by `now` (run time, ms): 1, 2 or 3."""
    if view.airborne or view.prompt in _SILENT:
        return 1
    return 1 + sum(now - asked_at >= after for after in REPEATS_MS)


def waits_long(waited: int, calls: int) -> bool:
    """Whether a call that was made as often as it is made has waited so long that to stand by is
    offered; `waited` in ms."""
    return calls > len(REPEATS_MS) and waited >= LONG_MS
