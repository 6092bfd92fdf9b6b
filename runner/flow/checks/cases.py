"""Every case that a few conditions can tell apart, to be gone through one by one.

Rules: a name has the values that make a difference: each answer of a choice, true and false, and of
a number the values at, just under and just over each one that it is compared with, and the ends of
its range. A number that stands in a computation, or too many cases: nothing is said rather than
something wrong, and the answer is None. Names that hang together (the first flight is flight
1, a defect that grounds is one of the open ones) are never put together wrongly.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from itertools import product
from typing import Final

from runner.engine import units
from runner.engine.conditions import Condition, Value
from runner.engine.expressions import Node
from runner.engine.table import Flow
from runner.flow.checks.subject import Subject

MOST_CASES: Final = 4096
_KINDS: Final = frozenset({"open_defects", "grounding_defects"})
_COMPARED: Final = frozenset({"<", "<=", ">", ">=", "==", "!="})

Case = Mapping[str, Value]


def cases(
    subject: Subject, conditions: Iterable[Condition | None], flow: Flow | None = None
) -> list[Case] | None:
    """Every case of the names that the conditions read; None where they cannot be gone through.

    With `flow`, only cases that can be while this list is worked: its flights, its own condition.
    """
    every = [one for one in conditions if one is not None]
    if flow is not None and flow.when is not None:
        every.append(flow.when)
    names = sorted(set().union(*(one.names for one in every)))
    marks = _marks(every)
    if marks is None:
        return None
    if _KINDS.issubset(names):
        # One is compared with the other, too: what makes a difference to one does so to both.
        shared = frozenset().union(*(marks.get(name, frozenset()) for name in _KINDS))
        marks = {**marks, **dict.fromkeys(_KINDS, shared)}
    domains: list[Sequence[Value]] = []
    size = 1
    for name in names:
        domain = _domain(subject, name, marks.get(name, frozenset()))
        size *= len(domain)
        if not domain or size > MOST_CASES:
            return None
        domains.append(domain)
    made: list[Case] = []
    for values in product(*domains):
        case = dict(zip(names, values, strict=True))
        if _can_be(case, flow):
            made.append(case)
    return made


def can_hold(
    subject: Subject, conditions: Iterable[Condition | None], flow: Flow | None = None
) -> bool:
    """Whether conditions are true together in any case; true where that cannot be gone through."""
    real = [one for one in conditions if one is not None]
    every = cases(subject, real, flow)
    return every is None or any(all(one.decide(case) is True for one in real) for case in every)


def said(case: Case) -> str:
    """A case in words: "prime is NO STROKES and airborne is false"."""
    return " and ".join(f"{name} is {_value(value)}" for name, value in case.items())


def _value(value: Value) -> str:
    if isinstance(value, Decimal):
        return units.plain(value)
    return value if isinstance(value, str) else "true" if value else "false"


def _can_be(case: Case, flow: Flow | None) -> bool:
    first, flight = case.get("first_flight"), case.get("flight")
    if isinstance(first, bool) and isinstance(flight, Decimal) and first is not (flight == 1):
        return False
    opened, grounding = case.get("open_defects"), case.get("grounding_defects")
    if isinstance(opened, Decimal) and isinstance(grounding, Decimal) and grounding > opened:
        return False
    if flow is None:
        return True
    if flow.flights != "every":
        wanted = flow.flights == "first"
        if first is not None and first is not wanted:
            return False
        if flight is not None and (flight == 1) is not wanted:
            return False
    return flow.when is None or flow.when.decide(case) is not False


def _domain(subject: Subject, name: str, marks: frozenset[Decimal]) -> Sequence[Value]:
    kind = subject.table.names[name]
    if kind.kind == "truth":
        return (True, False)
    if kind.kind == "text":
        return kind.allowed
    step = Decimal((0, (1,), -kind.decimals))
    low, high = subject.bounds(name)
    near = {mark + by for mark in marks for by in (-step, Decimal(0), step)}
    near |= {bound for bound in (low, high) if bound is not None}
    return sorted(
        value for value in near if (low is None or value >= low) and (high is None or value <= high)
    )


def _marks(conditions: Sequence[Condition]) -> dict[str, frozenset[Decimal]] | None:
    """The numbers that each name is compared with; None where one is computed with."""
    found: dict[str, set[Decimal]] = {}
    for condition in conditions:
        free = {id(node) for node in condition.tree.walk() if _number_name(node)}
        for node in condition.tree.walk():
            for name, numbers, place in _compared(node):
                found.setdefault(name, set()).update(numbers)
                free.discard(place)
        if free:
            return None
    return {name: frozenset(marks) for name, marks in found.items()}


def _number_name(node: Node) -> bool:
    return node.op == "name" and node.kind == "number"


def _compared(node: Node) -> Iterator[tuple[str, list[Decimal], int]]:
    """The names that a node compares with plain numbers: name, numbers, identity of its node."""
    if node.op in _COMPARED and len(node.args) == 2:
        for one, other in (node.args, node.args[::-1]):
            number = _literal(other)
            if _number_name(one) and number is not None:
                yield str(one.value), [number], id(one)
    elif node.op == "in" and _number_name(node.args[0]) and node.args[1].op == "list":
        numbers = [_literal(entry) for entry in node.args[1].args]
        if None not in numbers:
            yield (
                str(node.args[0].value),
                [number for number in numbers if number is not None],
                id(node.args[0]),
            )


def _literal(node: Node) -> Decimal | None:
    if node.op == "literal" and isinstance(node.value, Decimal):
        return node.value
    if node.op == "neg" and len(node.args) == 1:
        number = _literal(node.args[0])
        return None if number is None else -number
    return None
