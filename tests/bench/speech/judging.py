"""What the decisions are worth: the table of goals, each figure with its count, bounds and goal.

Rules: a result is a trial and what was made of it; a control word that was heard where none was
said passes nothing and is counted apart; numbers are the same if their values are; the wrong side
is held against an exact upper bound, the right side is an aim and shown as it is; every figure is
shown, also a bad one, and a goal for which nothing was tried is not met.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from decimal import Decimal, InvalidOperation
from enum import Enum
from typing import Final, NamedTuple

from tests.bench.speech import intervals
from tests.bench.speech.noise import LEVELS
from tests.bench.speech.trials import Trial


class What(Enum):
    """What was made of an utterance."""

    ACCEPTED = "accepted"
    AFFIRM = "affirm"
    AGAIN = "say again"


class Result(NamedTuple):
    """A trial, and the decision on it; `control`: the line is a word that steers the list."""

    trial: Trial
    what: What
    line: str = ""
    control: bool = False

    @property
    def right(self) -> bool:
        """Whether the line is what was said."""
        return self.trial.truth is not None and same(self.line, self.trial.truth)

    @property
    def accepted_right(self) -> bool:
        """Taken, and as it was said."""
        return self.what is What.ACCEPTED and self.right

    @property
    def accepted_wrong(self) -> bool:
        """An answer taken that was not given: the worst there is."""
        return self.what is What.ACCEPTED and not self.right and not self.control


class Bound(Enum):
    """What of a count is held against the goal."""

    UPPER = "upper bound"
    SHARE = "share"
    NONE = "none at all"
    AIM = "aim"


class Goal(NamedTuple):
    """One row of the table: among which results, which of them count, what must hold by level."""

    name: str
    among: Callable[[Result], bool]
    counts: Callable[[Result], bool]
    bound: Bound
    by_level: tuple[float, ...]


class Figure(NamedTuple):
    """One cell of the table."""

    goal: Goal
    level: float | None
    wanted: float
    hits: int
    trials: int

    @property
    def share(self) -> float:
        """0 where nothing was tried."""
        return self.hits / self.trials if self.trials else 0.0

    @property
    def held(self) -> float:
        """What is held against the goal."""
        if self.goal.bound is Bound.UPPER:
            return intervals.upper(self.hits, self.trials)
        return float(self.hits) if self.goal.bound is Bound.NONE else self.share

    @property
    def met(self) -> bool:
        """Whether the goal is met."""
        if not self.trials:
            return False
        if self.goal.bound is Bound.AIM:
            return self.held >= self.wanted
        return self.held <= self.wanted

    @property
    def firm(self) -> bool:
        """Whether missing it fails the bench."""
        return self.goal.bound is not Bound.AIM


def same(line: str, other: str) -> bool:
    """Whether two lines are one answer."""
    if line == other:
        return True
    one, two = line.split(" "), other.split(" ")
    if one[:-1] != two[:-1]:
        return False
    try:
        return Decimal(one[-1]) == Decimal(two[-1])
    except InvalidOperation:
        return False


def _of(part: str, *sorts: str) -> Callable[[Result], bool]:
    return lambda result: result.trial.part == part and (not sorts or result.trial.sort in sorts)


SAID: Final = ("words", "item", "control")
"""The sorts of phrases that answer; the others are strays."""

GOALS: Final = (
    Goal("real single words accepted wrong", _of("words", "answer"),
         lambda r: r.accepted_wrong, Bound.UPPER, (0.010, 0.012, 0.015)),
    Goal("other real words accepted", _of("words", "other"),
         lambda r: r.accepted_wrong, Bound.SHARE, (0.02, 0.02, 0.02)),
    Goal("numbers accepted without affirm and wrong", _of("numbers"),
         lambda r: r.accepted_wrong, Bound.UPPER, (0.001, 0.002, 0.003)),
    Goal("critical steps accepted wrong", _of("critical"),
         lambda r: r.accepted_wrong, Bound.NONE, (0, 0, 0)),
    Goal("real single words accepted and right", _of("words", "answer"),
         lambda r: r.accepted_right, Bound.AIM, (0.82, 0.78, 0.74)),
    Goal("phrases accepted and right", _of("phrases", *SAID),
         lambda r: r.accepted_right, Bound.AIM, (0.98, 0.95, 0.92)),
    Goal("numbers right before read-back", _of("numbers"),
         lambda r: r.what is not What.AGAIN and r.right, Bound.AIM, (0.95, 0.90, 0.85)),
)  # fmt: skip


def figures(results: Iterable[Result], goals: Iterable[Goal] = GOALS) -> list[Figure]:
    """The table, goal by goal and level by level; levels at which nothing was tried too."""
    kept = list(results)
    found = []
    for goal in goals:
        among = [result for result in kept if goal.among(result)]
        for level, wanted in zip(LEVELS, goal.by_level, strict=True):
            here = [result for result in among if result.trial.level == level]
            count = sum(goal.counts(result) for result in here)
            found.append(Figure(goal, level, wanted, count, len(here)))
    return found


def level_name(level: float | None) -> str:
    """How a level is called."""
    return "clean" if level is None else f"{level:g} dB"


def table(found: Iterable[Figure]) -> list[str]:
    """The rows as text: each figure with its goal beside it."""
    rows = []
    before = ""
    for one in found:
        if one.goal.name != before:
            before = one.goal.name
            rows.append(f"{before} ({one.goal.bound.value})")
        sign = "≥" if one.goal.bound is Bound.AIM else "≤"
        verdict = "met" if one.met else ("MISSED" if one.firm else "not reached")
        if not one.trials:
            verdict = "NOT TRIED"
        low, high = intervals.lower(one.hits, one.trials), intervals.upper(one.hits, one.trials)
        rows.append(
            f"  {level_name(one.level):<6} {one.hits:>6} of {one.trials:<6}"
            f" {one.share:7.4f}  [{low:.4f}, {high:.4f}]  {sign} {one.wanted:<6g} {verdict}"
        )
    return rows


def breakdown(results: Iterable[Result]) -> list[str]:
    """By part, sort and level: right, wrong, read back right and wrong, say again."""
    counts: dict[tuple[str, str, float | None], list[int]] = {}
    for one in results:
        cell = counts.setdefault((one.trial.part, one.trial.sort, one.trial.level), [0] * 7)
        affirm = one.what is What.AFFIRM
        control = one.what is What.ACCEPTED and one.control and not one.right
        flags = (one.accepted_right, one.accepted_wrong, control, affirm and one.right,
                 affirm and not one.right, one.what is What.AGAIN, True)  # fmt: skip
        for place, flag in enumerate(flags):
            cell[place] += flag
    head = ("right", "WRONG", "control", "affirm", "affirm?", "again", "of")
    rows = [f"{'part':<9} {'sort':<13} {'level':<6}" + "".join(f"{name:>9}" for name in head)]
    for (part, sort, level), cell in sorted(
        counts.items(), key=lambda item: (item[0][:2], LEVELS.index(item[0][2]))
    ):
        rows.append(
            f"{part:<9} {sort:<13} {level_name(level):<6}" + "".join(f"{n:>9}" for n in cell)
        )
    return rows
