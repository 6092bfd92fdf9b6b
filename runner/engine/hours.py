"""Minutes of engine, rotor and flight, landings and starts, from the marks of a run.

Rules: time in service runs from leaving the surface to touching it (14 CFR 1.1); engine, rotor and
flight are counters of their own; minutes are stored and added, each flight's whole minutes by
themselves, and hours are only shown (ten flights of 8 minutes are 80 minutes, 1.3 h); a counter
that still runs counts up to the moment asked for.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from runner.engine.state import Marked

PAIRS = {
    "engine": ("engine start", "engine stop"),
    "rotor": ("rotor start", "rotor stop"),
    "flight": ("take-off", "landing"),
}


@dataclass(frozen=True, slots=True)
class Times:
    """Minutes by counter, and how often: `landings` and `starts` are counted by their marks."""

    engine: int
    rotor: int
    flight: int
    landings: int
    starts: int


def periods(marks: Iterable[Marked], begin: str, end: str) -> list[tuple[int, int | None]]:
    """Every period from a `begin` mark to the next `end` mark, in order of time; the last one has
    no end while it runs."""
    found: list[tuple[int, int | None]] = []
    since: int | None = None
    for mark in sorted(marks, key=lambda m: m.when):
        if mark.what == begin and since is None:
            since = mark.when
        elif mark.what == end and since is not None:
            found.append((since, mark.when))
            since = None
    if since is not None:
        found.append((since, None))
    return found


def spans(marks: Iterable[Marked], begin: str, end: str, now: int) -> list[int]:
    """Milliseconds of every period, the one that runs counted up to `now`."""
    return [
        until - since if until is not None else max(0, now - since)
        for since, until in periods(marks, begin, end)
    ]


def minutes(span: int) -> int:
    """Whole minutes of milliseconds, the half minute counted up."""
    return (span + 30_000) // 60_000


def times(marks: tuple[Marked, ...], now: int) -> Times:
    """The counters of a run, or of the marks of one flight."""
    whole = {
        name: sum(minutes(ms) for ms in spans(marks, begin, end, now))
        for name, (begin, end) in PAIRS.items()
    }
    return Times(
        whole["engine"], whole["rotor"], whole["flight"],
        sum(mark.what == "landing" for mark in marks),
        sum(mark.what == "engine start" for mark in marks),
    )  # fmt: skip
