"""From the judged rates to a day: steps passed wrongly, say-agains and affirms.

Rules: the mix is that of the demonstration day, input by input, as its script answers it; what is
said while nothing turns is judged without noise, what is said with engine or rotor turning half at
10 dB and half at 5 dB; an input that was not taken is said again until it is; everything taken that
was not said counts as passed wrongly, also a number that would have been within its limit; what the
list reads back by itself (told by the engine, input by input) costs an affirm however clearly it
was heard, and saves no wrong one; a wrong read-back is affirmed by mistake as often as `MISSED`
says, and so many utterances a day as `STRAYS` says are not meant for the list. Both are
assumptions, with no published source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Final, NamedTuple

from tests.bench.speech import asked, intervals
from tests.bench.speech.asked import Asked, Sort
from tests.bench.speech.judging import Result, What
from tests.bench.speech.noise import LEVELS

MISSED: Final = 0.02
STRAYS: Final = 20
DAYS: Final = 100

Kind = tuple[str, bool]
"""Words, items, controls, numbers, strays; and whether the step is critical."""


class Rate(NamedTuple):
    """Counts of what was made of one kind of input at one level."""

    right: int = 0
    wrong: int = 0
    affirm_right: int = 0
    affirm_wrong: int = 0
    again: int = 0

    @property
    def trials(self) -> int:
        """How many there were."""
        return sum(self)

    def shares(self, *, at_worst: bool = False) -> tuple[float, ...]:
        """The shares; `at_worst` with the wrong ones at their upper bound."""
        if not self.trials:
            raise ValueError("nothing was judged of this kind")
        found = [count / self.trials for count in self]
        if at_worst:
            found[1] = intervals.upper(self.wrong, self.trials)
        return tuple(found)


class Day(NamedTuple):
    """What a day holds by this reckoning; `of_critical` is the critical part of `wrong`, `missed`
    that of read-backs affirmed by mistake; `by_list` is the part of the affirms that the list asks
    whatever was heard."""

    inputs: int
    wrong: float
    of_critical: float
    again: float
    affirms: float
    by_list: float = 0.0
    missed: float = 0.0


def rates(results: Iterable[Result]) -> dict[tuple[Kind, float | None], Rate]:
    """The counts by kind and level."""
    found: dict[tuple[Kind, float | None], list[int]] = {}
    for one in results:
        kind = _kind(one)
        if kind is None:
            continue
        cell = found.setdefault((kind, one.trial.level), [0] * 5)
        if one.what is What.AFFIRM:
            cell[2 if one.right else 3] += 1
        elif one.accepted_right:
            cell[0] += 1
        elif one.accepted_wrong:
            cell[1] += 1
        else:
            # A control word that nobody said passes nothing: the input is said once more.
            cell[4] += 1
    return {key: Rate(*cell) for key, cell in found.items()}


def _kind(result: Result) -> Kind | None:
    trial = result.trial
    if trial.part == "numbers":
        return ("number", False)
    if trial.part not in ("phrases", "critical"):
        return None
    critical = trial.part == "critical"
    if trial.sort == "other phrase":
        return ("stray", critical) if trial.truth is None else None
    return (trial.sort, critical) if trial.sort in ("words", "item", "control") else None


def mix(day: Iterable[Asked], *, read_back: bool = False) -> Counter[tuple[Kind, bool]]:
    """The inputs of a day by kind, and whether something turned; what keys give is left out.
    `read_back`: those alone which the list reads back by itself."""
    found: Counter[tuple[Kind, bool]] = Counter()
    for one in day:
        if one.sort is Sort.KEYS or (read_back and not asked.read_back(one, one.line)):
            continue
        number = one.sort in (Sort.NUMBER, Sort.THRESHOLD)
        kind = "number" if number else one.sort.value
        critical = one.listen.critical and kind in ("words", "item")
        found[(kind, critical), one.turning] += 1
    return found


def reckon(
    inputs: Mapping[tuple[Kind, bool], int], judged: Mapping[tuple[Kind, float | None], Rate],
    *, by_list: Mapping[tuple[Kind, bool], int] | None = None, at_worst: bool = False,
    missed: float = MISSED, strays: float = STRAYS,
) -> Day:  # fmt: skip
    """The day of these inputs, of which the list reads back those `by_list`. ValueError for a kind
    of which nothing was judged."""
    wrong = critical_wrong = again = affirms = listed = mistaken = 0.0
    total = sum(inputs.values())
    for (kind, turning), count in inputs.items():
        for level, share in _levels(turning=turning):
            one = _one(_rate(judged, kind, level), missed, at_worst=at_worst)
            weight = count * share
            wrong += weight * one[0]
            critical_wrong += weight * one[0] * kind[1]
            again += weight * one[1]
            affirms += weight * one[2]
            mistaken += weight * one[4]
            listed += (by_list or {}).get((kind, turning), 0) * share * one[3]
    # A stray comes to any step, so it is spread over the steps as they are.
    for (kind, turning), count in inputs.items():
        for level, share in _levels(turning=turning):
            weight = strays * count / total * share
            taken = _rate(judged, ("stray", kind[1]), level).shares(at_worst=at_worst)
            wrong += weight * (taken[1] + missed * taken[3])
            critical_wrong += weight * (taken[1] + missed * taken[3]) * kind[1]
            mistaken += weight * missed * taken[3]
    return Day(total, wrong, critical_wrong, again, affirms + listed, listed, mistaken)


def _levels(*, turning: bool) -> list[tuple[float | None, float]]:
    noisy = [level for level in LEVELS if level is not None]
    return [(level, 1 / len(noisy)) for level in noisy] if turning else [(None, 1.0)]


def _rate(
    judged: Mapping[tuple[Kind, float | None], Rate], kind: Kind, level: float | None
) -> Rate:
    found = judged.get((kind, level))
    if found is None or not found.trials:
        raise ValueError(f"nothing was judged of {kind[0]}, critical {kind[1]}, at {level}")
    return found


def _one(rate: Rate, missed: float, *, at_worst: bool) -> tuple[float, ...]:
    """Of one input said until it is taken: passed wrongly, say-agains, affirms, taken without,
    and affirmed by mistake."""
    right, wrong, affirm_right, affirm_wrong, again = rate.shares(at_worst=at_worst)
    more = again + affirm_wrong * (1 - missed)
    if more >= 1:
        raise ValueError("an input of this kind is never taken")
    tries = 1 / (1 - more)
    return (
        (wrong + affirm_wrong * missed) * tries,
        again * tries,
        (affirm_right + affirm_wrong) * tries,
        (right + wrong) * tries,
        affirm_wrong * missed * tries,
    )


def told(day: Day, worst: Day) -> list[str]:
    """The day in words, each figure with its goal."""
    return [
        f"a day of {day.inputs} spoken inputs, {STRAYS} utterances not meant for the list,"
        f" one wrong read-back in {1 / MISSED:.0f} affirmed",
        f"  wrongly passed steps in {DAYS} days: {DAYS * day.wrong:.2f}"
        f" (at the upper bounds {DAYS * worst.wrong:.1f}); goal: at most 1",
        f"  of these by a read-back that was affirmed by mistake: {DAYS * day.missed:.2f}",
        f"  of these critical: {DAYS * day.of_critical:.2f}"
        f" (at the upper bounds {DAYS * worst.of_critical:.1f}); goal: none",
        f"  say-agains a day: {day.again:.1f}",
        f"  affirms a day: {day.affirms:.1f}, of which the list asks {day.by_list:.1f} by its own"
        " rule, however clearly it was said; goal: at most 12",
    ]
