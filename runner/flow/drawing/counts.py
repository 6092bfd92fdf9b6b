"""How often each step, list or drill came to what in a set of runs.

Rules: a step is named `list.step`, a list or drill of a whole day `aircraft.list`; a count is of
what became of it, correction by correction; only what happened is there. Whoever reads logs fills
this in: nothing here knows of one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NamedTuple

SHOWN: Final = (
    "answered", "unmet", "accepted", "not required", "put off", "on paper",
    "opened", "closed", "ended", "left", "opened by mistake",
)  # fmt: skip
PASSED: Final = frozenset({"answered", "accepted", "on paper", "closed", "ended"})
"""What is behind the crew once it has come to this."""


class Counts(NamedTuple):
    """Coverage: the number of runs, by name what it came to, how often, and in how many runs it was
    passed. Of a list or drill, `inner` says how many of its steps some run passed, and of how many.
    """

    runs: int
    steps: dict[str, Counter[str]]
    passed: dict[str, int]
    inner: Mapping[str, tuple[int, int]] = MappingProxyType({})

    @property
    def said(self) -> str:
        """`1 run`, `12 runs`."""
        return "1 run" if self.runs == 1 else f"{self.runs} runs"

    def text(self, name: str) -> str:
        """`answered 12, unmet 1`, `closed 3, 12 of 14 steps passed`, or `never reached`."""
        found = self.steps.get(name, Counter())
        said = [f"{word} {found[word]}" for word in SHOWN if found[word]]
        some, every = self.inner.get(name, (0, 0))
        if some:
            said.append(f"{some} of {every} steps passed")
        return ", ".join(said) or "never reached"

    def weight(self, name: str) -> int:
        """How heavy its line is drawn, from 0 (never passed) to 3 (in every run)."""
        passed = self.passed.get(name, 0)
        if not passed or not self.runs:
            return 0
        return 1 if passed * 3 < self.runs else 2 if passed < self.runs else 3
