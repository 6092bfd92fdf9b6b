"""References that go round in a circle, so that a run would never come out of them.

Rules: a value that needs itself, through conditions, formulas and drops within one list, can never
be known; drills that open one another without anyone having asked for them never end. What the
crew itself may open again (a drill offered in a drill) is no circle.
"""

from __future__ import annotations

from collections.abc import Mapping

from runner.engine.table import Flow, Table
from runner.flow.documents import Documents, Item, Procedure
from runner.flow.faults import Faults, Place
from runner.flow.parts import BranchDoc, ChoiceDoc
from runner.flow.steps import ChooseDoc, ComputeDoc, ReadingDoc


def check_cycles(documents: Documents, table: Table, faults: Faults) -> None:
    """Note every circle, once, where it begins."""
    for flow in documents.all():
        _values(flow, table.flows[flow.id], faults)
    _drills(documents, faults)


def _values(procedure: Procedure, flow: Flow, faults: Faults) -> None:
    needs: dict[str, set[str]] = {}
    given: dict[str, Item] = {}
    for item, step in zip(procedure.items, flow.steps, strict=True):
        if not step.gives:
            continue
        read: set[str] = set()
        for part in (step.when, step.formula):
            read |= part.names if part is not None else set()
        if step.drop_from:
            read.add(step.drop_from)
        needs.setdefault(step.gives, set()).update(read)
        given.setdefault(step.gives, item)
    for circle in circles(needs):
        item = given[circle[0]]
        faults.add(
            item.at(),
            "a value that needs itself can never be known",
            found=" needs ".join([*circle, circle[0]]),
            todo="take one of them out of the condition or formula",
            rule="circle",
        )


def _drills(documents: Documents, faults: Faults) -> None:
    opens: dict[str, set[str]] = {name: set() for name in documents.drills}
    places: dict[tuple[str, str], Place] = {}
    for flow in documents.drills.values():
        for item in flow.items:
            doc = item.doc
            found: list[tuple[str, tuple[str | int, ...]]] = []
            if isinstance(doc, ReadingDoc | ComputeDoc) and isinstance(doc.unmet, BranchDoc):
                found.append((doc.unmet.branch, ("unmet", "branch")))
            if isinstance(doc, ChooseDoc):
                found += [
                    (choice.drill, ("choices", index, "drill"))
                    for index, choice in enumerate(doc.choices)
                    if isinstance(choice, ChoiceDoc) and choice.drill
                ]
            for name, path in found:
                opens[flow.id].add(name)
                places.setdefault((flow.id, name), item.at(*path))
    for circle in circles(opens):
        following = circle[1] if len(circle) > 1 else circle[0]
        faults.add(
            places[circle[0], following],
            "drills that open one another go round in a circle",
            found=" opens ".join([*circle, circle[0]]),
            todo="end one of them, or offer the drill with drill: on a step",
            rule="circle",
        )


def circles(graph: Mapping[str, set[str]]) -> list[list[str]]:
    """One circle through each node that lies on one and on none told before; in name order.

    Edges to nodes that the graph does not have are left out. Linear in nodes and edges for each
    circle that is told.
    """
    told: set[str] = set()
    found = []
    for start in sorted(graph):
        if start in told:
            continue
        path = _way_back(graph, start)
        if path:
            found.append(path)
            told.update(path)
    return found


def _way_back(graph: Mapping[str, set[str]], start: str) -> list[str]:
    """A shortest path from a node to itself, without its end; empty if there is none."""
    came: dict[str, str] = {}
    ahead = [start]
    for node in ahead:
        for following in sorted(graph.get(node, ())):
            if following == start:
                path = [node]
                while path[-1] != start:
                    path.append(came[path[-1]])
                return path[::-1]
            if following in graph and following not in came:
                came[following] = node
                ahead.append(following)
    return []
