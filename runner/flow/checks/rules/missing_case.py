"""A case that no branch fits.

Where a drill has no end for what happened, the crew stands in it; where an item has an answer for
two states of the aircraft and not for the third, nothing is called at all, and nobody notices what
was not called. Looked at are the ends of a drill, steps beside each other that are called alike and
hang on the same thing, and the answers of one choice, where each of them has a condition, nobody
may accept it and it offers no drill.

Wrong, where `fuel` is answered MAIN, REAR or BOTH:

    - {challenge: Crossfeed, answer: CLOSED, when: 'fuel == "MAIN"'}
    - {challenge: Crossfeed, answer: OPEN, when: 'fuel == "REAR"'}

Right:

    - {challenge: Crossfeed, answer: CLOSED, when: 'fuel == "MAIN"'}
    - {challenge: Crossfeed, answer: OPEN, when: 'fuel != "MAIN"'}
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.flow.checks.branches import branches
from runner.flow.checks.cases import cases, said
from runner.flow.checks.findings import WARNING, Found, Level
from runner.flow.checks.subject import Subject

LEVEL: Final[Level] = WARNING
REASON: Final = "what has no branch is not called, and nobody notices what was not called"


def check(subject: Subject) -> Iterator[Found]:
    """For each branch of steps, the first case that fits none (of drills, the loader says it), and
    for each choice the first case in which no answer is taken."""
    for pair in subject.all_pairs():
        taken = [choice.when for choice in pair.step.choices if choice.when is not None]
        way_on = pair.step.accept is not None or pair.step.drill
        if not taken or len(taken) < len(pair.step.choices) or way_on:
            continue
        for case in cases(subject, [pair.step.when, *taken]) or ():
            needed = pair.step.when is None or pair.step.when.decide(case) is True
            if needed and not any(one.decide(case) is True for one in taken):
                yield Found(
                    pair.item.at("choices"),
                    f"no answer is taken where {said(case)}",
                    "add an answer for this case, or one without a condition",
                )
                break
    for group in branches(subject):
        if group.kind != "step" or len({arm.when.names for arm in group.arms}) != 1:
            continue
        every = cases(subject, [arm.when for arm in group.arms], group.flow)
        for case in every or ():
            if all(arm.when.decide(case) is False for arm in group.arms):
                yield Found(
                    group.arms[0].place,
                    f"none of these {len(group.arms)} steps is required where {said(case)}",
                    "add a step for this case, or widen one of the conditions",
                )
                break
