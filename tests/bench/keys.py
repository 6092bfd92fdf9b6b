"""From a key to what it brings, on a real terminal and a durable log, quiet and under load.

Rules: a time goes from the key to the arrival of the output that made the text visible; beside
every key a bare write and sync of a line of the same length, in the same minute and on the same
file system; the load is a process for each core that does nothing but count.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from audit import durable
from tests.bench import desk
from tests.bench.figures import PROJECT, Figure, at, environment
from tests.bench.terminal import Terminal

MARGIN_S = 1.5  # the guards after a new challenge, with room
ENTRIES = 5000
LINE = b"x" * 600 + b"\n"


class Desk:
    """The measured run on its terminal, and the file beside its log."""

    def __init__(self, folder: Path, entries: int) -> None:
        program = str(PROJECT / "tests/bench/desk.py")
        self.child = Terminal(
            [sys.executable, program, str(folder), str(entries)], environment(folder), str(PROJECT)
        )
        self.bare: list[float] = []
        self._beside = durable.create(folder / "bare")
        self._shown = 0

    def begin(self) -> None:
        """Waits for the first challenge."""
        self.child.until(desk.challenge(0).upper())

    def settle(self) -> None:
        """Lets the guards of the question pass."""
        self.child.drain(MARGIN_S / desk.PACE)

    def key(self, key: str, text: str) -> float:
        """Presses a key; ms until the text stands there."""
        self.settle()
        if self.child.shows(text):
            raise RuntimeError(f"{text!r} stood there before its key:\n{self.child.text}")
        sent = self.child.press(key)
        return (self.child.until(text) - sent) * 1000

    def challenges(self, count: int) -> list[float]:
        """From the key of one challenge to the next one, and each time a bare write."""
        took: list[float] = []
        while len(took) < count:
            self._shown += 1
            if self._shown % desk.STEPS == 0:  # the closing call of a list is a challenge too
                took.append(self.key(" ", f"PART {self._shown // desk.STEPS} LIST"))
            took.append(self.key(" ", desk.challenge(self._shown).upper()))
            began = time.perf_counter()
            durable.write_all(self._beside, LINE)
            durable.sync(self._beside)
            self.bare.append((time.perf_counter() - began) * 1000)
        return took

    def end(self) -> None:
        """Ends the program."""
        self.child.end()
        os.close(self._beside)


def key_to_challenge(folder: Path, count: int) -> list[Figure]:
    """Space on one challenge until the next one stands on the screen."""
    run = Desk(folder, 0)
    try:
        run.begin()
        took = run.challenges(count)
    finally:
        run.end()
    return _challenges(took, run.bare, 10)


def drill(folder: Path, count: int) -> list[Figure]:
    """The drills page, a drill's memory items and the next challenge, in a long run under load."""
    run = Desk(folder, ENTRIES)
    page: list[float] = []
    opened: list[float] = []
    try:
        run.child.until(desk.challenge(0).upper(), patience_s=300)
        with every_core_busy():
            took = run.challenges(count)
            for number in range(count):
                # A drill opened inside a drill takes its place, so that each is new; the one before
                # is still named as left, and the third is not on the screen.
                one = number % len(desk.DRILLS)
                page.append(run.key("*", desk.DRILLS[one]))
                opened.append(run.key(str(one + 1), desk.memory_item(one, desk.ITEMS - 1)))
    finally:
        run.end()
    entries = sum(1 for path in (folder / "logs").glob("*.jsonl") for _ in path.open("rb"))
    figures = [
        Figure("entries in the log", entries, "entries", "at least 5,000", entries >= ENTRIES),
        Figure("processes that keep the cores busy", os.cpu_count() or 1, "of them"),
        *_challenges(took, run.bare, 16),
    ]
    for name, values in (("key to the drills page", page), ("key to the memory items", opened)):
        p99 = at(values, 0.99)
        figures.append(Figure(f"{name}, p50", at(values, 0.5), "ms"))
        figures.append(Figure(f"{name}, p99", p99, "ms", "at most 300", p99 <= 300))
    return figures


@contextlib.contextmanager
def every_core_busy() -> Iterator[None]:
    """A process for each core that counts for as long as this lasts."""
    words = [sys.executable, "-c", "while True: pass"]
    burning = [subprocess.Popen(words) for _ in range(os.cpu_count() or 1)]
    try:
        yield
    finally:
        for one in burning:
            one.kill()
            one.wait()


def _challenges(took: list[float], bare: list[float], most: int) -> list[Figure]:
    p99 = at(took, 0.99)
    return [
        Figure("bare write and sync, p50", at(bare, 0.5), "ms"),
        Figure("bare write and sync, p99", at(bare, 0.99), "ms"),
        Figure("key to next challenge, p50", at(took, 0.5), "ms"),
        Figure("key to next challenge, p99", p99, "ms", f"at most {most}", p99 <= most),
    ]
