"""The end of a list that nothing can close.

A list closes when everything before its closing call is passed. A step that may come to a point
from which no answer passes it holds the list for ever, unless somebody may accept it, a drill is
offered that leads on, or an earlier choice leads back. So it is with a reading that must come
within a by-time, once the time is over; with a limit on a value made of nothing that the crew
answers; and with a limit that stops the list, where the list is one that discontinuing leads to, or
a drill.

Wrong:

    - reading: oil_pressure
      limit: {at least: 35 psi}
      within: oil_rise

Right:

    - reading: oil_pressure
      limit: {at least: 35 psi}
      within: oil_rise
      drill: no_oil_pressure
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.engine.table import Kind, Step, Unmet
from runner.flow.checks.findings import ERROR, Found, Level
from runner.flow.checks.subject import Subject
from runner.flow.documents import Procedure
from runner.flow.steps import ComputeDoc

LEVEL: Final[Level] = ERROR
REASON: Final = "the crew would stand before a list that no right answer closes"


def check(subject: Subject) -> Iterator[Found]:
    """Every step that may come to hold its list for ever."""
    leads = set(subject.table.discontinue.values())
    for procedure in subject.procedures:
        back = _back_from(subject, procedure)
        for pair in subject.pairs(procedure):
            step, item = pair.step, pair.item
            if step.accept is not None or step.drill or step.unmet is Unmet.BRANCH:
                continue
            if step.within and not any(target <= item.position <= at for target, at in back):
                yield Found(
                    item.at("within"),
                    f"once the time of {step.within} is over, nothing passes this step",
                    "add drill:, unmet: {branch: …}, or accept: with who may let it go by",
                )
            elif step.kind is Kind.COMPUTED and step.limit and _beyond_answers(subject, step):
                yield Found(
                    item.at("limit"),
                    "no answer of the crew changes this value, so that unmet it stays unmet",
                    "add drill:, unmet: {branch: …}, or accept: with who may let it go by",
                )
            elif step.unmet is Unmet.STOP and (
                procedure.id in leads or subject.flow(procedure).drill
            ):
                where = (
                    "drill"
                    if subject.flow(procedure).drill
                    else "list, to which discontinuing leads,"
                )
                yield Found(
                    item.at("unmet"),
                    f"this {where} stops here for good when the limit is not met",
                    "let it ask again, add drill:, or accept: with who may let it go by",
                )


def _back_from(subject: Subject, procedure: Procedure) -> list[tuple[int, int]]:
    """Where choices lead back to, and where they stand: from there the list runs once more."""
    flow = subject.flow(procedure)
    return [
        (flow.index(choice.back_to), position)
        for position, step in enumerate(flow.steps)
        for choice in step.choices
        if choice.back_to
    ]


def _beyond_answers(subject: Subject, step: Step, seen: frozenset[str] = frozenset()) -> bool:
    """Whether a computed value hangs on counters and the engine's own names alone."""
    if step.formula is None or step.gives in seen:
        return False
    for name in step.formula.names:
        for item in subject.givers.get(name, ()):
            if not isinstance(item.doc, ComputeDoc):
                return False
            inner = subject.table.steps[item.whole]
            if not _beyond_answers(subject, inner, seen | {step.gives}):
                return False
    return True
