"""How often each step was answered, unmet, accepted, not required or put off in a set of runs.

Rules: a step is named `list.step`; a count is of what became of it, correction by correction; only
what happened is there. Whoever reads logs fills this in: nothing here knows of one.
"""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

SHOWN = ("answered", "unmet", "accepted", "not required", "put off", "on paper")


class Counts(NamedTuple):
    """Coverage: the number of runs, and by step what it came to, how often."""

    runs: int
    steps: dict[str, Counter[str]]

    @property
    def said(self) -> str:
        """`1 run`, `12 runs`."""
        return "1 run" if self.runs == 1 else f"{self.runs} runs"

    def text(self, step: str) -> str:
        """`answered 12, unmet 1`, or `never reached`."""
        found = self.steps.get(step, Counter())
        said = [f"{word} {found[word]}" for word in SHOWN if found[word]]
        return ", ".join(said) or "never reached"

    def weight(self, step: str) -> int:
        """How heavy its line is drawn, from 0 (never passed) to 3 (in every run)."""
        found = self.steps.get(step, Counter())
        passed = found["answered"] + found["accepted"] + found["on paper"]
        if not passed or not self.runs:
            return 0
        return 1 if passed * 3 < self.runs else 2 if passed < self.runs else 3
