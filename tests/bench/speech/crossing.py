"""Fitted on some, judged on others, in turns, so that every trial is judged once.

Rules: a group holds whole speakers and noise of its own, so bars fitted on the other groups have
heard neither the voice nor the noise that they are judged by; a group without a trial is no turn;
with fewer than two groups nothing can be judged.
"""

from __future__ import annotations

from collections.abc import Sequence

from runner.speech.thresholds import Thresholds
from tests.bench.speech.deciding import result
from tests.bench.speech.fitting import Weights, fit
from tests.bench.speech.judging import Result
from tests.bench.speech.points import Point


def turns(points: Sequence[Point], frame: Thresholds, weights: Weights) -> dict[int, Thresholds]:
    """The bars by which each group is judged. ValueError for fewer than two groups."""
    groups = sorted({one.case.trial.group for one in points})
    if len(groups) < 2:
        raise ValueError(f"{len(groups)} groups: what is fitted may not judge itself")
    return {
        group: fit([one for one in points if one.case.trial.group != group], frame, weights)
        for group in groups
    }


def judged(points: Sequence[Point], bars: dict[int, Thresholds]) -> list[Result]:
    """Every trial, decided by the bars of its group's turn, in its order."""
    return [result(one.case, bars[one.case.trial.group]) for one in points]
