"""The branches of a flow: what an author wrote as alternatives of one thing.

Rules: the ends of a drill that have conditions are one branch; so are steps that stand beside each
other in a list, each with a condition, and are called by the same words. Nothing else is taken for
one: steps that only share a name in their conditions may well be required together.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from runner.engine.conditions import Condition
from runner.engine.table import Flow
from runner.flow.answers import normal
from runner.flow.checks.subject import Pair, Subject
from runner.flow.documents import Procedure
from runner.flow.faults import Place


class Arm(NamedTuple):
    """One alternative: its condition, where that stands, and what it comes to."""

    when: Condition
    place: Place
    outcome: str


class Branch(NamedTuple):
    """Alternatives of one thing; `kind` is what each of them is."""

    kind: str
    flow: Flow
    arms: tuple[Arm, ...]


def branches(subject: Subject) -> Iterator[Branch]:
    """Every branch of two arms or more."""
    for procedure in subject.procedures:
        flow = subject.flow(procedure)
        ends = _ends(procedure, flow)
        if len(ends) > 1:
            yield Branch("end", flow, ends)
        together: list[Pair] = []
        for pair in [*subject.asked(procedure), None]:
            if pair is not None and pair.step.own_when is not None and together:
                if normal(pair.words) == normal(together[0].words):
                    together.append(pair)
                    continue
            if len(together) > 1:
                yield Branch("step", flow, tuple(_arm(one) for one in together))
            together = [pair] if pair is not None and pair.step.own_when is not None else []


def _ends(procedure: Procedure, flow: Flow) -> tuple[Arm, ...]:
    return tuple(
        Arm(end.when, procedure.at("ends", index, "when"), end.label)
        for index, end in enumerate(flow.ends)
        if end.when is not None
    )


def _arm(pair: Pair) -> Arm:
    when = pair.step.own_when
    if when is None:
        raise ValueError(pair.step.id)
    step = pair.step
    outcome = step.limit.text() if step.limit is not None else step.response
    return Arm(when, pair.item.at("when"), f"{step.kind} {normal(outcome)}")
