"""Conditions that leave a case out: ends of a drill that fit nothing, values not known in time.

Rules: a drill's ends cover every case if one of them has no condition, or if each combination of
what its conditions read makes one of them true; only answers that the drill itself always gets,
and truths, can be gone through, anything else wants an end without a condition. What is not known
holds a list, so no condition may hang on a value that no step gives, or only a later one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from itertools import product
from typing import Final

from runner.engine.conditions import Value
from runner.engine.table import Flow, Table
from runner.flow.documents import Documents, Item, Procedure
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
                rule="missing-case",
            )
            return
    size = 1
    for domain in domains.values():
        size *= len(domain)
    if size > MOST_COMBINATIONS:
        faults.add(
            place,
            "the ends may leave a case out",
            found=f"{size} cases",
            todo=todo,
            rule="missing-case",
        )
        return
    for values in product(*domains.values()):
        case = dict(zip(domains, values, strict=True))
        if not any(condition.decide(case) is True for condition in conditions):
            shown = " and ".join(f"{name} is {_said(value)}" for name, value in case.items())
            faults.add(
                place, "the ends leave a case out", found=shown, todo=todo, rule="missing-case"
            )
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
    """Note conditions, formulas and drops that hang on what is not known yet, or never is."""
    never = {name for name in documents.aircraft.readings if name not in scope.givers}
    day = {name: index for index, name in enumerate(documents.aircraft.day)}
    for reader in _readers(documents, table):
        for name in sorted(reader.names):
            if name in never:
                faults.add(
                    reader.place,
                    f"no step reads {quoted(name)}, so it is never known",
                    allowed=sorted(scope.givers),
                    todo=f"add a step reading: {name}, or use the name after as:",
                    rule="used-before-read",
                )
            elif (late := _late(reader, scope.givers.get(name, []), day)) is not None:
                faults.add(
                    reader.place,
                    f"{quoted(name)} is not known here yet",
                    found=f"only {late.whole} gives it (line {late.at().line} of {late.flow.file})",
                    todo="the list would stand still: move that step before this one",
                    rule="used-before-read",
                )


@dataclass(frozen=True, slots=True)
class _Reader:
    """What hangs on names: a step (its position), a whole list (-1), or an end of a drill."""

    procedure: Procedure
    position: int
    place: Place
    names: frozenset[str]


def _late(reader: _Reader, givers: list[Item], day: dict[str, int]) -> Item | None:
    """The first step that gives a name, if every one comes later than the reader.

    A value given in a drill is not counted on by a list; a drill may count on any list, since it
    is opened from anywhere.
    """
    here = day.get(reader.procedure.id)
    for item in givers:
        if item.flow is reader.procedure:
            if item.position < reader.position:
                return None
        elif here is None or day.get(item.flow.id, here + 1) < here:
            return None
    return givers[0] if givers else None


def _readers(documents: Documents, table: Table) -> Iterator[_Reader]:
    for procedure in documents.all():
        flow = table.flows[procedure.id]
        outer: frozenset[str] = frozenset()
        if flow.when is not None:
            outer = flow.when.names
            yield _Reader(procedure, -1, procedure.at("only when"), outer)
        for item, step in zip(procedure.items, flow.steps, strict=True):
            if step.when is not None and item.doc.when is not None:
                yield _Reader(procedure, item.position, item.at("when"), step.when.names - outer)
            if step.formula is not None:
                yield _Reader(procedure, item.position, item.at("formula"), step.formula.names)
            if step.drop_from:
                names = frozenset({step.drop_from})
                yield _Reader(procedure, item.position, item.at("drop from"), names)
            for number, choice in enumerate(step.choices):
                if choice.when is not None:
                    place = item.at("choices", number, "when")
                    yield _Reader(procedure, item.position, place, choice.when.names)
        for index, end in enumerate(flow.ends):
            if end.when is not None:
                place = procedure.at("ends", index, "when")
                yield _Reader(procedure, len(flow.steps), place, end.when.names)
