"""Why the right side stops where it does: what the recognisers guess, before any bar.

Rules: counts of guesses, by part and level, of utterances that were answers; an answer cannot be
taken rightly more often than the proposing recogniser guesses it, and what the second opinion does
not share holds right ones and wrong ones together; nothing here is fitted.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from runner.speech.heard import Heard
from tests.bench.speech.deciding import Case
from tests.bench.speech.judging import level_name, same
from tests.bench.speech.noise import LEVELS


class Ceiling(NamedTuple):
    """One part at one level: utterances that were answers, those guessed rightly by the first, by
    the second, by both; and where the two do not agree, the first one's right and wrong guesses."""

    part: str
    level: float | None
    said: int
    first: int
    second: int
    both: int
    apart_right: int
    apart_wrong: int


def ceilings(cases: Iterable[Case]) -> list[Ceiling]:
    """All parts and levels in which anything was said that answers."""
    found: dict[tuple[str, float | None], list[Case]] = {}
    for case in cases:
        if case.trial.truth is not None:
            found.setdefault((case.trial.part, case.trial.level), []).append(case)
    rows = [_of(*key, here) for key, here in found.items()]
    parts = list(dict.fromkeys(row.part for row in rows))
    return sorted(rows, key=lambda row: (parts.index(row.part), LEVELS.index(row.level)))


def _of(part: str, level: float | None, cases: list[Case]) -> Ceiling:
    pairs = [(case, case.heard[0], (*case.heard[1:], Heard("nobody", ()))[0]) for case in cases]
    right = [(_right(case, one), _right(case, two)) for case, one, two in pairs]
    apart = [_right(case, one) for case, one, two in pairs if not _agree(one, two)]
    return Ceiling(
        part, level, len(cases), sum(one for one, _ in right), sum(two for _, two in right),
        sum(one and two for one, two in right), sum(apart), len(apart) - sum(apart),
    )  # fmt: skip


def _right(case: Case, heard: Heard) -> bool:
    truth = case.trial.truth
    return truth is not None and bool(heard.ranked) and same(heard.ranked[0].line, truth)


def _agree(one: Heard, other: Heard) -> bool:
    return bool(one.ranked and other.ranked) and same(one.ranked[0].line, other.ranked[0].line)


def table(rows: Iterable[Ceiling]) -> list[str]:
    """The rows for the report."""
    head = (
        f"{'part':<9} {'level':<6} {'first right':>11} {'second right':>12} {'both right':>10}"
        "   where they do not agree the first is"
    )
    return [head, *(
        f"{row.part:<9} {level_name(row.level):<6} {row.first / row.said:>11.3f}"
        f" {row.second / row.said:>12.3f} {row.both / row.said:>10.3f}"
        f"   right {row.apart_right:>4}, wrong {row.apart_wrong:>4}"
        for row in rows
    )]  # fmt: skip
