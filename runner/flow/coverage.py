"""Conditions that leave a case out: ends of a drill that fit nothing, values that nobody gives.

Rules: a drill's ends cover every case if one of them has no condition, or if each combination of
what its conditions read makes one of them true; only answers that the drill itself always gets,
and truths, can be gone through, anything else wants an end without a condition. A reading that no
step reads is never known, so no condition may hang on it.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from itertools import product
from typing import Final

from runner.engine.conditions import Value
from runner.engine.table import Flow, Table
from runner.flow.documents import Documents, Procedure
from runner.flow.faults import Faults, Place, quoted
from runner.flow.model import DrillDoc
from runner.flow.names import Scope
from runner.flow.parts import ChoiceDoc
from runner.flow.steps import ChooseDoc

MOST_COMBINATIONS: Final = 512


def check_ends(documents: Documents, scope: Scope, table: Table, faults: Faults) -> None:
    """Note drills whose ends leave a case out."""
    for procedure in documents.drills.values():
        if isinstance(procedure.doc, DrillDoc):
            _ends(procedure, procedure.doc, table.flows[procedure.id], scope, faults)


def _ends(procedure: Procedure, doc: DrillDoc, flow: Flow, scope: Scope, faults: Faults) -> None:
    if any(end.when is None for end in doc.ends):
        return
    conditions = [end.when for end in flow.ends if end.when is not None]
    if len(conditions) != len(doc.ends):
        return
    place = procedure.at("ends", len(doc.ends) - 1, "when")
    todo = "leave when out of the last end, so that one always fits"
    choices = _always_answered(procedure)
    domains: dict[str, tuple[Value, ...]] = {}
    for name in sorted(set().union(*(condition.names for condition in conditions))):
        if name in choices:
            domains[name] = choices[name]
        elif scope.types[name].kind == "truth":
            domains[name] = (True, False)
        else:
            faults.add(
                place,
                "the ends may leave a case out",
                found=f"{name}, which this drill does not always ask",
                todo=todo,
            )
            return
    size = 1
    for domain in domains.values():
        size *= len(domain)
    if size > MOST_COMBINATIONS:
        faults.add(place, "the ends may leave a case out", found=f"{size} cases", todo=todo)
        return
    for values in product(*domains.values()):
        case = dict(zip(domains, values, strict=True))
        if not any(condition.decide(case) is True for condition in conditions):
            shown = " and ".join(f"{name} is {_said(value)}" for name, value in case.items())
            faults.add(place, "the ends leave a case out", found=shown, todo=todo)
            return


def _said(value: Value) -> str:
    if isinstance(value, str | Decimal):
        return str(value)
    return "true" if value else "false"


def _always_answered(procedure: Procedure) -> dict[str, tuple[Value, ...]]:
    """The answers of each choice that every run of this drill makes, by the name they give."""
    found: dict[str, tuple[Value, ...]] = {}
    for item in procedure.items:
        doc = item.doc
        if isinstance(doc, ChooseDoc) and doc.when is None and doc.accept is None:
            found[doc.as_] = tuple(
                choice.answer if isinstance(choice, ChoiceDoc) else choice for choice in doc.choices
            )
    return found


def check_known(documents: Documents, scope: Scope, table: Table, faults: Faults) -> None:
    """Note conditions and formulas that read a reading which no step reads."""
    never = {name for name in documents.aircraft.readings if name not in scope.givers}
    for place, names in _readers(documents, table):
        for name in sorted(names & never):
            faults.add(
                place,
                f"no step reads {quoted(name)}, so it is never known",
                allowed=sorted(scope.givers),
                todo=f"add a step reading: {name}, or use the name after as:",
            )


def _readers(documents: Documents, table: Table) -> Iterator[tuple[Place, frozenset[str]]]:
    for procedure in documents.all():
        flow = table.flows[procedure.id]
        if flow.when is not None:
            yield procedure.at("only when"), flow.when.names
        for item, step in zip(procedure.items, flow.steps, strict=True):
            if step.when is not None and item.doc.when is not None:
                outer = flow.when.names if flow.when is not None else frozenset()
                yield item.at("when"), step.when.names - outer
            if step.formula is not None:
                yield item.at("formula"), step.formula.names
        for index, end in enumerate(flow.ends):
            if end.when is not None:
                yield procedure.at("ends", index, "when"), end.when.names
