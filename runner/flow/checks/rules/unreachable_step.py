"""A step, an answer, a list or an end of a drill whose condition is true in no case.

What is never required is never called: the crew believes that the card covers the case, and it does
not. Found by going through every case that the condition can tell apart: each answer of a choice,
each side of each number within its plausible range, the flights on which the list stands.

Wrong, where `fuel` is answered MAIN or REAR:

    when: fuel == "MAIN" && fuel == "REAR"

Right:

    when: fuel == "MAIN" || fuel == "REAR"
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.flow.checks.cases import can_hold
from runner.flow.checks.findings import ERROR, Found, Level
from runner.flow.checks.subject import Subject

LEVEL: Final[Level] = ERROR
REASON: Final = "what is never required is never called, and the crew believes that it is covered"
_TODO: Final = "correct the condition, or delete what hangs on it"


def check(subject: Subject) -> Iterator[Found]:
    """Every condition that is never true; of a list that never is, the list alone."""
    for procedure in subject.procedures:
        flow = subject.flow(procedure)
        if flow.when is not None and not can_hold(subject, [flow.when], flow):
            text = f"this list is never required: {flow.when.source}"
            yield Found(procedure.at("only when"), text, _TODO)
            continue
        for pair in subject.pairs(procedure):
            own, whole = pair.step.own_when, pair.step.when
            if own is not None and whole is not None and not can_hold(subject, [whole], flow):
                text = f"this step is never required: {own.source}"
                yield Found(pair.item.at("when"), text, _TODO)
                continue
            for number, choice in enumerate(pair.step.choices):
                if choice.when is not None and not can_hold(subject, [whole, choice.when], flow):
                    text = f"this answer is never taken: {choice.when.source}"
                    yield Found(pair.item.at("choices", number, "when"), text, _TODO)
        for index, end in enumerate(flow.ends):
            if end.when is not None and not can_hold(subject, [end.when]):
                text = f"this end is never offered: {end.when.source}"
                yield Found(procedure.at("ends", index, "when"), text, _TODO)
