"""A value that is used before it is read, or where it may not have been read.

What is not known decides nothing: the list stands still at the step that waits for it, and the crew
sees no reason. A condition, formula or drop may only use what an earlier step gives; and where that
step has a condition of its own, only in the cases in which it is asked.

Wrong:

    - {reading: temp, when: hook}
    - {challenge: Cowl, answer: OPEN, when: "temp > 50.0"}

Right:

    - {reading: temp, when: hook}
    - {challenge: Cowl, answer: OPEN, when: "hook && temp > 50.0"}
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.engine.conditions import Condition, Formula
from runner.flow.checks.cases import cases, said
from runner.flow.checks.findings import ERROR, Found, Level
from runner.flow.checks.subject import Pair, Subject
from runner.flow.documents import Procedure
from runner.flow.faults import Place

LEVEL: Final[Level] = ERROR
REASON: Final = "what is not known decides nothing: the list stands still and shows no reason"


def check(subject: Subject) -> Iterator[Found]:
    """Steps, answers and ends that hang on a value whose own step may not have been required."""
    for procedure in subject.procedures:
        pairs = subject.pairs(procedure)
        for position, pair in enumerate(pairs):
            for needed, names, place in _uses(pair):
                for name in sorted(names):
                    earlier = pairs[:position]
                    yield from _unread(
                        subject, procedure, earlier, name, needed, place, pair.step.when
                    )
        flow = subject.flow(procedure)
        for index, end in enumerate(flow.ends):
            if end.when is not None:
                place = procedure.at("ends", index, "when")
                for name in sorted(end.when.names):
                    yield from _unread(subject, procedure, pairs, name, end.when, place)


def _uses(pair: Pair) -> Iterator[tuple[Condition | None, frozenset[str], Place]]:
    """What a step uses: the condition under which it does, the names, the place."""
    step = pair.step
    if step.own_when is not None:
        yield step.when, step.own_when.names, pair.item.at("when")
    whole = step.when.names if step.when is not None else frozenset()
    formula: Formula | None = step.formula
    if formula is not None:
        yield step.when, formula.names - whole, pair.item.at("formula")
    if step.drop_from and step.drop_from not in whole:
        yield step.when, frozenset({step.drop_from}), pair.item.at("drop from")
    for number, choice in enumerate(step.choices):
        if choice.when is not None:
            place = pair.item.at("choices", number, "when")
            yield choice.when, choice.when.names - whole, place


def _unread(
    subject: Subject,
    procedure: Procedure,
    earlier: list[Pair],
    name: str,
    needed: Condition | None,
    place: Place,
    within: Condition | None = None,
) -> Iterator[Found]:
    """A case in which every step that gives the name was not required, and the name is wanted;
    `within` is the condition of the step that wants it, which is not asked where that is false."""
    givers = subject.givers.get(name, [])
    if not givers or any(item.flow is not procedure for item in givers):
        return
    conditions = [pair.step.own_when for pair in earlier if pair.step.gives == name]
    given = [one for one in conditions if one is not None]
    if not given or len(given) < len(conditions):
        return
    flow = subject.flow(procedure)
    for case in cases(subject, [*given, needed, within], flow) or ():
        if any(one.decide(case) is not False for one in given):
            continue
        if within is not None and within.decide(case) is False:
            continue
        known = {key: value for key, value in case.items() if key != name}
        decided = True if needed is None else needed.decide(known)
        if decided is None or (decided and (needed is None or name not in needed.names)):
            steps = [pair for pair in earlier if pair.step.gives == name]
            yield Found(
                place,
                f"{name} is not known where {said(known)}: the step on line "
                f"{steps[-1].item.at().line} that gives it is not required then",
                f"ask for {name} in this case too, or put the same condition here",
            )
            return
