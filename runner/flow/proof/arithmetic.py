"""A formula computed in exact fractions, by nothing that the engine computes with.

Rules: it walks the checked tree of a formula and reads no text; the result is rounded half even to
the declared decimals, as the documents promise; what hangs on a name that is not a known number, or
divides by zero, is None: not judged.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from fractions import Fraction
from operator import add, eq, ge, gt, le, lt, mul, ne, sub, truediv

from runner.engine.conditions import Formula
from runner.engine.expressions import Node

OPERATORS: dict[str, Callable[[Fraction, Fraction], Fraction | bool]] = {
    "+": add, "-": sub, "*": mul, "/": truediv,
    "<": lt, "<=": le, ">": gt, ">=": ge, "==": eq, "!=": ne,
}  # fmt: skip
CHOSEN: dict[str, Callable[..., Fraction]] = {"greatest": max, "least": min, "abs": abs}


class _NotKnownError(Exception):
    """A name without a number, or an operator that is not of numbers."""


def computed(formula: Formula, values: Mapping[str, Fraction | None]) -> Fraction | None:
    """The result of a formula over these values; None where it is not known."""
    try:
        return round(Fraction(_value(formula.tree, values)), formula.decimals)
    except (_NotKnownError, ZeroDivisionError):
        return None


def judged_by(formula: Formula, numbers: frozenset[str]) -> bool:
    """Whether the result follows from these numbers alone."""
    known = (*OPERATORS, *CHOSEN, "name", "literal", "neg", "?:")
    return formula.names <= numbers and all(node.op in known for node in formula.tree.walk())


def _value(node: Node, values: Mapping[str, Fraction | None]) -> Fraction | bool:
    op, args = node.op, node.args
    if op == "literal" and isinstance(node.value, Decimal | bool):
        return node.value if isinstance(node.value, bool) else Fraction(node.value)
    if op == "name" and (known := values.get(str(node.value))) is not None:
        return known
    if op == "neg":
        return -Fraction(_value(args[0], values))
    if op == "?:":
        return _value(args[1] if _value(args[0], values) else args[2], values)
    if op in CHOSEN:
        return CHOSEN[op](*(_value(arg, values) for arg in args))
    if op in OPERATORS:
        left, right = (Fraction(_value(arg, values)) for arg in args)
        return OPERATORS[op](left, right)
    raise _NotKnownError
