"""A step that may be put off and has no way back.

What is put off comes back before the step that its author names, or at the end of its list. Where
that step is the very next one, or nothing stands between it and the closing call, it comes back in
the same moment: it cannot be put off at all, and the crew will accept it instead. Where the step
named is never required together with it, its trigger is one that never comes.

Wrong:

    - {challenge: Heater, answer: "OFF", put off: {back before: beacon}}
    - {challenge: Beacon, answer: FLASHING}

Right:

    - {challenge: Heater, answer: "OFF", put off: {back before: doors}}
    - {challenge: Beacon, answer: FLASHING}
    - {challenge: Doors, answer: LATCHED}
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.flow.checks.cases import can_hold
from runner.flow.checks.findings import WARNING, Found, Level
from runner.flow.checks.subject import Subject

LEVEL: Final[Level] = WARNING
REASON: Final = "what comes back at once, or at a step that is never called, cannot be put off"


def check(subject: Subject) -> Iterator[Found]:
    """Every step put off to no later time."""
    for procedure in subject.procedures:
        flow = subject.flow(procedure)
        for pair in subject.pairs(procedure):
            step = pair.step
            if not step.may_put_off or flow.any_order:
                continue
            ends = flow.index(step.back_before) if step.back_before else len(flow.steps) - 1
            trigger = flow.steps[ends]
            between = [one for one in flow.steps[pair.item.position + 1 : ends] if one.asked]
            if not between:
                at = ("put off", "back before") if step.back_before else ("put off",)
                yield Found(
                    pair.item.at(*at),
                    f"put off, it comes back at once: no step stands before {trigger.id}",
                    "name a later step, or take put off away",
                )
            elif step.back_before and not can_hold(subject, [step.when, trigger.when]):
                yield Found(
                    pair.item.at("put off", "back before"),
                    f"{trigger.id} is never required where this step is, so its time never comes",
                    "name a step that is required in the same cases",
                )
