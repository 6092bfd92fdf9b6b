"""A limit that can never be met, or that can never fail.

A limit that no plausible value meets stops every crew at the same step; one that every plausible
value meets holds nobody back, and the card looks safer than it is. A reading is judged by its
plausible range, a computed value by what its formula can give from the ranges of what it is made
of, a need by the limits of the steps that take its reading: where these keep what the need forbids,
the step that the need guards can never be come to.

Wrong, for a temperature that is read from -40 to 300 °C:

    limit: {above: 300 °C}

Right:

    limit: {above: 80 °C}
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.engine import units
from runner.engine.limits import Limit
from runner.engine.table import Kind, Need
from runner.flow.checks.findings import ERROR, Found, Level
from runner.flow.checks.ranges import range_of
from runner.flow.checks.subject import Subject
from runner.flow.quantities import reach

LEVEL: Final[Level] = ERROR
REASON: Final = "a limit that cannot be met stops every crew; one that cannot fail protects nobody"


def check(subject: Subject) -> Iterator[Found]:
    """Limits of computed values, and needs that no limit of their reading can satisfy."""
    for pair in subject.all_pairs():
        step = pair.step
        if step.kind is not Kind.COMPUTED or step.limit is None or step.formula is None:
            continue
        low, high = range_of(subject, step.formula.tree)
        if low is None or high is None:
            continue
        judged = reach(step.limit, low, high)
        if judged:
            between = f"{units.plain(low)} to {units.plain(high)} {step.limit.unit}"
            yield Found(
                pair.item.at("limit"),
                f"{'no' if judged == 'never' else 'every'} value that the formula gives meets "
                f"{step.limit.text()}: it lies within {between}",
                "correct the limit or the formula, or leave the limit out",
            )
    for index, need in enumerate(subject.table.needs):
        if need.limit is not None and not _can_be_met(subject, need, need.limit):
            yield Found(
                subject.parts.at("needs", index, "limit"),
                f"{need.reading} {need.limit.text()} is needed before {need.before}, and no step "
                "that reads it can be passed with such a value",
                "make the need agree with the limits of the steps",
            )


def _can_be_met(subject: Subject, need: Need, limit: Limit) -> bool:
    """Whether any step that reads it passes a value that the need accepts."""
    for pair in subject.all_pairs():
        step = pair.step
        if step.reading == need.reading and (step.limit is None or step.accept is not None):
            return True
        kept = [step.limit] if step.reading == need.reading else []
        if step.wait is not None:
            kept += [one for name, one in step.wait.conditions if name == need.reading]
        if any(one is not None and _meet(one, limit) for one in kept):
            return True
    return False


def _meet(one: Limit, other: Limit) -> bool:
    """Whether some value meets both."""
    lows = [(x.low, x.low_open) for x in (one, other) if x.low is not None]
    highs = [(x.high, x.high_open) for x in (one, other) if x.high is not None]
    if not lows or not highs:
        return True
    low, low_open = max(lows)
    high, high_open = min(highs, key=lambda bound: (bound[0], not bound[1]))
    return low < high or (low == high and not low_open and not high_open)
