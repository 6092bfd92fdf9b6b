"""An item for a role that nobody holds.

Who answers stands on every item; where there is nobody to answer, the crew answers for him without
having seen. Nobody stands on the ground beside a helicopter that has lifted: between the step that
the take-off mark answers and the one that the landing mark answers, and where a condition holds in
the air only, no item is for `ground`.

Wrong, in a list of the air:

    - {challenge: Load clear, answer: CLEAR, who: ground}

Right:

    - {challenge: Load clear, answer: CLEAR, who: monitoring}
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.engine.table import Step, Who
from runner.flow.checks.cases import cases
from runner.flow.checks.findings import ERROR, Found, Level
from runner.flow.checks.subject import Subject

LEVEL: Final[Level] = ERROR
REASON: Final = "where nobody can answer, the crew answers without having seen"


def check(subject: Subject) -> Iterator[Found]:
    """Items for the ground, where the aircraft is in the air."""
    airborne = False
    for procedure in subject.procedures:
        drill = subject.flow(procedure).drill
        for pair in subject.pairs(procedure):
            step = pair.step
            airborne = airborne and step.mark != "landing"
            if step.who is Who.GROUND and (
                (airborne and not drill and not _on_ground(subject, step)) or _aloft(subject, step)
            ):
                yield Found(
                    pair.item.at("who"),
                    "nobody is on the ground to answer this, in the air",
                    "give it to handling, monitoring, commander or copilot",
                )
            airborne = airborne or step.mark == "take-off"


def _aloft(subject: Subject, step: Step) -> bool:
    """Whether a step is required in the air only."""
    return _only(subject, step, aloft=True)


def _on_ground(subject: Subject, step: Step) -> bool:
    """Whether a step is required on the ground only."""
    return _only(subject, step, aloft=False)


def _only(subject: Subject, step: Step, *, aloft: bool) -> bool:
    if step.when is None or "airborne" not in step.when.names:
        return False
    required = [
        case for case in cases(subject, [step.when]) or () if step.when.decide(case) is True
    ]
    return bool(required) and all(case["airborne"] is aloft for case in required)
