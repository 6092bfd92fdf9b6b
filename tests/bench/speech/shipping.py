"""The bars that the program comes with: fitted on everything, with the report of that fit.

Rules: the file says by what data its bars were fitted, with which weights, how many right and wrong
ones each bar had before it and lets pass of its own data, and that no figure of its own data judges
it: the figures that stand in it are those of the cross-judging, where bars fitted in the same way
met speakers and noise that they had not heard.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from runner.speech.opposites import CLEAR
from runner.speech.thresholds import Thresholds, as_data
from tests.bench.speech import intervals, parts
from tests.bench.speech.fitting import (
    BY_HAND,
    LEAST,
    LEAST_MARGIN,
    LEAST_MARGIN_ASK,
    LOWEST,
    LOWEST_ASK,
    LOWEST_CRITICAL,
    Weights,
    by_cell,
)
from tests.bench.speech.judging import Figure, level_name
from tests.bench.speech.points import Point
from tests.bench.speech.recordings import PROJECT

FILE: Final = PROJECT / "runner" / "speech" / "thresholds.json"

NOTE: Final = (
    "The bars were fitted on all of the data named here, so these data do not judge them. The"
    " figures are from cross-judging: bars fitted in the same way on the other groups of speakers"
    " and noise, judged on the group left out, in turns, every trial once."
)


def report(
    points: Sequence[Point], bars: Thresholds, weights: Weights, figures: Sequence[Figure],
    date: str, state: str,
) -> dict[str, Any]:  # fmt: skip
    """What stands in the file's `fit`."""
    trials = [one.case.trial for one in points]
    return {
        "note": NOTE,
        "date": date,
        "by": "tests/bench/speech/run.py --ship",
        "recognisers": {"code": state, "panel": [one.recogniser for one in points[0].case.heard]},
        "seed": parts.SEED,
        "trials": {part: sum(t.part == part for t in trials)
                   for part in dict.fromkeys(t.part for t in trials)},
        "speakers": len({trial.speech.speaker for trial in trials}),
        "groups": len({trial.group for trial in trials}),
        "weights": weights._asdict(),
        "least right answers of a bar": LEAST,
        "by hand": [kind.value for kind in BY_HAND],
        "floors by hand": {
            "score": LOWEST, "score of critical": LOWEST_CRITICAL, "score read back": LOWEST_ASK,
            "margin": {kind.value: margin for kind, margin in LEAST_MARGIN.items()},
            "margin read back": LEAST_MARGIN_ASK, "before the opposites": CLEAR,
        },
        "cells": cells(points, bars),
        "cross-judged": [row(one) for one in figures],
    }  # fmt: skip


def cells(points: Sequence[Point], bars: Thresholds) -> dict[str, dict[str, int]]:
    """The counts of each cell: right and wrong before its bar, right and wrong that pass it."""
    left = [one for one in points if one.take is None or not one.passes(bars.bars.get(one.take))]
    found = {}
    for cell, here in {**by_cell(points), **by_cell(left, asked=True)}.items():
        bar = bars.bars.get(cell)
        name = "/".join((*cell[:2], cell[2].value, cell[3].value))
        found[name] = {
            "right": sum(one.right for one in here),
            "wrong": sum(one.wrong for one in here),
            "right passing": sum(one.right and one.passes(bar) for one in here),
            "wrong passing": sum(one.wrong and one.passes(bar) for one in here),
        }
    return dict(sorted(found.items()))


def row(one: Figure) -> dict[str, Any]:
    """One cell of the table of goals."""
    return {
        "goal": one.goal.name, "level": level_name(one.level), "held by": one.goal.bound.value,
        "wanted": one.wanted, "count": one.hits, "of": one.trials,
        "share": round(one.share, 5),
        "from": round(intervals.lower(one.hits, one.trials), 5),
        "to": round(intervals.upper(one.hits, one.trials), 5), "met": one.met,
    }  # fmt: skip


def ship(bars: Thresholds, fit: dict[str, Any], path: Path = FILE) -> None:
    """Writes the file."""
    text = json.dumps(as_data(bars._replace(fit=fit)), indent=1, ensure_ascii=False)
    path.write_text(text + "\n", encoding="utf-8")
