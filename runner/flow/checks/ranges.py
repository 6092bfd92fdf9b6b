"""What numbers a formula can give, from the ranges of the names it is made of.

Rules: a side that has no end, or that cannot be worked out, is None, and nothing is concluded
from it; a range may be too wide where a name stands twice, never too narrow. Names of readings
have their plausible range, computed values that of their own formulas, counters no end.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Context, Decimal
from typing import Final

from runner.engine.expressions import Node
from runner.flow.checks.subject import Bounds, Subject
from runner.flow.steps import ComputeDoc

_CONTEXT: Final = Context(prec=34)
_NOTHING: Final = Bounds(None, None)


def range_of(subject: Subject, node: Node, within: frozenset[str] = frozenset()) -> Bounds:
    """The range of a number; `within` are the computed names that are being worked out."""
    if node.op == "literal" and isinstance(node.value, Decimal):
        return Bounds(node.value, node.value)
    if node.op == "name":
        return _of_name(subject, str(node.value), within)
    if node.op == "?:":
        return _around(*(range_of(subject, one, within) for one in node.args[1:]))
    sides = [range_of(subject, one, within) for one in node.args]
    if node.op == "neg":
        return _negative(sides[0])
    if node.op == "abs":
        return _size(sides[0])
    if node.op == "+":
        return _sum(*sides)
    if node.op == "-":
        return _sum(sides[0], _negative(sides[1]))
    if node.op == "*":
        return _corners(sides[0], sides[1], _CONTEXT.multiply)
    if node.op == "/" and _never_zero(sides[1]):
        return _corners(sides[0], sides[1], _CONTEXT.divide)
    if node.op in ("greatest", "least"):
        return _extreme(sides, max if node.op == "greatest" else min)
    return _NOTHING


def _of_name(subject: Subject, name: str, within: frozenset[str]) -> Bounds:
    """The range of a name: all that its steps can give."""
    formulas = [
        subject.table.steps[item.whole].formula
        for item in subject.givers.get(name, ())
        if isinstance(item.doc, ComputeDoc)
    ]
    if not formulas:
        return subject.bounds(name)
    if name in within:
        return _NOTHING
    return _around(
        *(
            range_of(subject, formula.tree, within | {name}) if formula is not None else _NOTHING
            for formula in formulas
        )
    )


def _around(*sides: Bounds) -> Bounds:
    lows = [side.low for side in sides if side.low is not None]
    highs = [side.high for side in sides if side.high is not None]
    return Bounds(
        min(lows) if len(lows) == len(sides) else None,
        max(highs) if len(highs) == len(sides) else None,
    )


def _negative(side: Bounds) -> Bounds:
    low, high = side
    return Bounds(None if high is None else -high, None if low is None else -low)


def _size(side: Bounds) -> Bounds:
    low, high = side
    if low is not None and low >= 0:
        return side
    if high is not None and high <= 0:
        return _negative(side)
    return Bounds(Decimal(0), None if low is None or high is None else max(-low, high))


def _sum(one: Bounds, other: Bounds) -> Bounds:
    return Bounds(
        None if one.low is None or other.low is None else _CONTEXT.add(one.low, other.low),
        None if one.high is None or other.high is None else _CONTEXT.add(one.high, other.high),
    )


def _corners(one: Bounds, other: Bounds, of: Callable[[Decimal, Decimal], Decimal]) -> Bounds:
    if one.low is None or one.high is None or other.low is None or other.high is None:
        return _NOTHING
    made = [of(a, b) for a in (one.low, one.high) for b in (other.low, other.high)]
    return Bounds(min(made), max(made))


def _never_zero(side: Bounds) -> bool:
    return (side.low is not None and side.low > 0) or (side.high is not None and side.high < 0)


def _extreme(sides: list[Bounds], pick: Callable[[list[Decimal]], Decimal]) -> Bounds:
    lows = [side.low for side in sides if side.low is not None]
    highs = [side.high for side in sides if side.high is not None]
    return Bounds(
        pick(lows) if len(lows) == len(sides) else None,
        pick(highs) if len(highs) == len(sides) else None,
    )
