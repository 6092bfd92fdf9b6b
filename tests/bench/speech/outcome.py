"""All that one run of the bench found, worked out from the decodings: the figures of its report.

Rules: the bars that judge were fitted on other groups (`crossing`); the same points judged with
heavier and lighter wrong ones give the whole trade-off; a number that the list reads back by itself
is no acceptance without *affirm* in the table of goals, and counts in full, by the hearing alone,
in the row beside it and in the day's reckoning; what was not decoded is said.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import Final, NamedTuple

from runner.speech.thresholds import Thresholds
from tests.bench.speech import crossing, day, judging
from tests.bench.speech.ceilings import Ceiling, ceilings
from tests.bench.speech.day import Day
from tests.bench.speech.fitting import Weights
from tests.bench.speech.judging import Bound, Figure, Goal, Result, What
from tests.bench.speech.noise import LEVELS
from tests.bench.speech.points import Point
from tests.bench.speech.trials import Trial

SCALES: Final = (0.05, 0.1, 0.2, 0.35, 0.6, 1.0, 1.7, 3.0, 6.0)
"""By how much the weights of wrong ones are turned, for the curve; 1 is what is shipped."""

ByList = Callable[[Result], Result]


def _beside(name: str, among: Callable[[Result], bool], counts: Callable[[Result], bool]) -> Goal:
    return Goal(name, among, counts, Bound.AIM, (0.0,) * len(LEVELS))


BESIDE: Final = (
    _beside("numbers taken by the hearing alone and wrong",
            lambda r: r.trial.part == "numbers", lambda r: r.accepted_wrong),
    _beside("numbers taken by the hearing alone and right",
            lambda r: r.trial.part == "numbers", lambda r: r.accepted_right),
    _beside("numbers read back wrong",
            lambda r: r.trial.part == "numbers",
            lambda r: r.what is What.AFFIRM and not r.right),
    _beside("answers in phrases accepted wrong",
            lambda r: r.trial.part == "phrases" and r.trial.sort in judging.SAID,
            lambda r: r.accepted_wrong),
    _beside("what answers nothing accepted at steps that are not critical",
            lambda r: r.trial.part == "phrases" and r.trial.truth is None,
            lambda r: r.accepted_wrong),
    _beside("critical steps accepted and right",
            lambda r: r.trial.part == "critical" and r.trial.sort in judging.SAID,
            lambda r: r.accepted_right),
    _beside("control words heard where none was said",
            lambda r: r.trial.part != "words",
            lambda r: r.what is What.ACCEPTED and r.control and not r.right),
)  # fmt: skip
"""Rows without a goal."""


class Curve(NamedTuple):
    """One point of the trade-off: how heavy wrong ones were, the figures, the day."""

    scale: float
    figures: list[Figure]
    day: Day | None


class Outcome(NamedTuple):
    """What a run found."""

    figures: list[Figure]
    beside: list[Figure]
    results: list[Result]
    day: Day | None
    worst: Day | None
    why_no_day: str
    curve: list[Curve]
    ceilings: list[Ceiling]


def found(
    points: Sequence[Point], frame: Thresholds, weights: Weights, by_list: ByList,
    inputs: Counter[tuple[day.Kind, bool]], listed: Counter[tuple[day.Kind, bool]],
    scales: Iterable[float] = SCALES,
) -> Outcome:  # fmt: skip
    """The outcome of these points."""
    results = crossing.judged(points, crossing.turns(points, frame, weights))
    today, worst, why = _days(results, inputs, listed)
    curve = []
    for scale in scales:
        turned = results
        if scale != 1:
            turned = crossing.judged(points, crossing.turns(points, frame, weights.scaled(scale)))
        figures = judging.figures(map(by_list, turned))
        curve.append(Curve(scale, figures, _days(turned, inputs, listed)[0]))
    return Outcome(
        judging.figures(map(by_list, results)), judging.figures(results, BESIDE), results,
        today, worst, why, curve, ceilings(one.case for one in points),
    )  # fmt: skip


def _days(
    results: Sequence[Result], inputs: Counter[tuple[day.Kind, bool]],
    listed: Counter[tuple[day.Kind, bool]],
) -> tuple[Day | None, Day | None, str]:  # fmt: skip
    rates = day.rates(results)
    try:
        return (
            day.reckon(inputs, rates, by_list=listed),
            day.reckon(inputs, rates, by_list=listed, at_worst=True),
            "",
        )
    except ValueError as fault:
        return None, None, str(fault)


def counts(wanted: Sequence[Trial], judged: Sequence[Trial]) -> list[str]:
    """What was tried of each part and what was left out, with its speakers."""
    rows = []
    done = {trial.name for trial in judged}
    for part in dict.fromkeys(trial.part for trial in wanted):
        here = {trial.name: trial for trial in wanted if trial.part == part}
        kept = [trial for name, trial in here.items() if name in done]
        by_level = ", ".join(
            f"{sum(t.level == level for t in kept)} {judging.level_name(level)}" for level in LEVELS
        )
        speakers = len({trial.speech.speaker for trial in kept})
        rows.append(
            f"{part}: {len(kept)} of {len(here)} trials ({by_level}), {speakers} speakers in"
            f" {len({t.group for t in kept})} groups;"
            f" left out, not decoded: {len(here) - len(kept)}"
        )
    return rows


def shares_of_numbers(results: Iterable[Result]) -> list[str]:
    """Numbers by the way of saying them: right before read-back, wrong without."""
    rows = []
    found: dict[str, list[Result]] = {}
    for one in results:
        if one.trial.part == "numbers":
            found.setdefault(one.trial.sort, []).append(one)
    for sort, here in sorted(found.items()):
        right = sum(one.what is not What.AGAIN and one.right for one in here)
        wrong = sum(one.accepted_wrong for one in here)
        rows.append(f"{sort:<12} {right / len(here):.3f} right, {wrong} of {len(here)} wrong")
    return rows
