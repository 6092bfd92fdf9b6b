"""Where every case stands before the bars: which bar it must pass to be taken, which to be read
back, and how clear it was.

Rules: the policy itself tells it: `decide` is asked with bars that only note what they were asked
for, so that no rule of it is written a second time here; a margin that is wanted higher because two
answers sound alike is brought to the common scale; what no bar can get taken stands before none.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Final, NamedTuple

from runner.speech.thresholds import Bar, Kind, Thresholds, Who
from tests.bench.speech.deciding import Case, counted, decided
from tests.bench.speech.judging import Result, What

Cell = tuple[str, str, Kind, Who]
"""Recogniser, noise class, kind of answer, who heard it: where one bar stands."""

OPEN: Final = Bar(None, 0.0)


class Point(NamedTuple):
    """A case before the bars. `take` and `ask` are the bars by which it would be taken or read
    back, None where there is none; `found` is what it would be if it were taken."""

    case: Case
    take: Cell | None
    ask: Cell | None
    score: float
    margin: float
    found: Result

    @property
    def right(self) -> bool:
        """Whether the answer is the one that was given."""
        return self.found.right

    @property
    def wrong(self) -> bool:
        """Whether taking it passes what was not said."""
        return not self.found.right and not self.found.control

    @property
    def costs(self) -> bool:
        """Whether taking it does harm: what takes away does so though it passes nothing."""
        steers = self.take is not None and self.take[2] in (Kind.AWAY, Kind.LIGHT)
        return self.wrong or (steers and not self.right)

    def passes(self, bar: Bar | None) -> bool:
        """Whether it is as clear as a bar wants."""
        if bar is None:
            return False
        return (bar.score is None or self.score >= bar.score) and self.margin >= bar.margin


class _Noting(Mapping[Cell, Bar]):
    """Bars that note what they are asked for, and let pass what they are told to."""

    def __init__(self, answer: Callable[[Cell], Bar | None]) -> None:
        self._answer = answer
        self.asked: list[Cell] = []

    def __getitem__(self, cell: Cell) -> Bar:
        self.asked.append(cell)
        bar = self._answer(cell)
        if bar is None:
            raise KeyError(cell)
        return bar

    def __iter__(self) -> Iterator[Cell]:
        return iter(())

    def __len__(self) -> int:
        return 0


def point(case: Case, frame: Thresholds) -> Point:
    """Where a case stands, in the noise classes of `frame`."""
    taking = _Noting(lambda cell: OPEN if cell[3] is not Who.ASK else None)
    made = decided(case, frame._replace(bars=taking))
    found = counted(case.trial, made)
    take = taking.asked[0] if found.what is What.ACCEPTED and taking.asked else None
    asking = _Noting(lambda cell: OPEN if cell[3] is Who.ASK else None)
    read = counted(case.trial, decided(case, frame._replace(bars=asking)))
    noted = [cell for cell in asking.asked if cell[3] is Who.ASK]
    ask = noted[0] if read.what is What.AFFIRM and noted else None
    score = -math.inf if made.score is None else made.score
    margin = math.inf if made.margin is None else made.margin
    if take is not None and 0 < margin < math.inf and _raised(case, frame, margin):
        margin /= frame.confusable
    return Point(case, take, ask, score, margin, found)


def points(cases: Iterable[Case], frame: Thresholds) -> list[Point]:
    """All of them."""
    return [point(case, frame) for case in cases]


def _raised(case: Case, frame: Thresholds, margin: float) -> bool:
    """Whether more margin is wanted here: a bar at just this margin then does not let it pass."""
    at = _Noting(lambda cell: Bar(None, margin) if cell[3] is not Who.ASK else None)
    made = decided(case, frame._replace(bars=at, confusable=2.0))
    return counted(case.trial, made).what is not What.ACCEPTED
