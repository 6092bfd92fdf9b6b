"""Two branches that fit the same case.

A branch has one condition and outcomes that exclude each other: where two fit, the crew is given
two answers for one item, or two ends of one drill, and chooses at the worst moment. Looked at are
the ends of a drill that have conditions, and steps beside each other that are called alike and want
different answers. (An end without a condition is always offered, and means it.)

Wrong:

    - {challenge: Mixture, answer: LEAN, when: "temp > 50.0"}
    - {challenge: Mixture, answer: RICH, when: "temp > 20.0"}

Right:

    - {challenge: Mixture, answer: LEAN, when: "temp > 50.0"}
    - {challenge: Mixture, answer: RICH, when: "temp <= 50.0"}
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Final

from runner.flow.checks.branches import branches
from runner.flow.checks.cases import cases, said
from runner.flow.checks.findings import WARNING, Found, Level
from runner.flow.checks.subject import Subject

LEVEL: Final[Level] = WARNING
REASON: Final = "a branch has one condition and outcomes that exclude each other"


def check(subject: Subject) -> Iterator[Found]:
    """For each pair of branches that overlap, the later one and a case that fits both."""
    for group in branches(subject):
        told: set[int] = set()
        for (_, one), (later, other) in combinations(enumerate(group.arms), 2):
            if later in told or one.outcome == other.outcome:
                continue
            every = cases(subject, [one.when, other.when], group.flow)
            for case in every or ():
                if one.when.decide(case) is True and other.when.decide(case) is True:
                    told.add(later)
                    yield Found(
                        other.place,
                        f"this {group.kind} and the one on line {one.place.line} fit the same "
                        f"case: {said(case)}",
                        "narrow one of the two conditions",
                    )
                    break
