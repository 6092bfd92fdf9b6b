"""Why a condition does not hold, as shortly as it can be said: what the known values deny of it.

One job: of "not the first flight, the rotor standing, stopped below 30 min" the crew needs the one
part that fails. Rules: only what is known is said; of several parts that fail each by itself the
author's first is said; an equality that fails says what is so instead ("Rotor TURNING"); where the
values do not deny the condition, or a part cannot be told, the whole denial is said as it stands.
What is decided is CEL's (`conditions`); the comparisons here only choose which true words are said.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from runner.engine.condition_words import words
from runner.engine.conditions import Condition, Value, explain
from runner.engine.expressions import Node

Values = Mapping[str, Value]


def why_not(condition: Condition, values: Values) -> str:
    """What denies `condition` among `values`; its whole denial where they do not deny it."""
    if condition.decide(values) is not False:
        return explain(condition, False)
    return words(denying(condition.tree, values), condition.labels, False)


def denying(tree: Node, values: Values) -> Node:
    """The part of a condition that `values` deny, or the whole of it."""
    return _part(tree, values, False)


def _part(node: Node, values: Values, truth: bool) -> Node:
    """The part of `node` that makes it `truth`, if that can be told; else the node itself."""
    op, args = node.op, node.args
    if op == "!":
        return node._replace(args=(_part(args[0], values, not truth),))
    if op in ("&&", "||"):
        if (op == "&&") is truth:
            return node._replace(args=tuple(_part(arg, values, truth) for arg in args))
        for arg in args:
            if holds(arg, values) is truth:
                return _part(arg, values, truth)
        return node
    return _instead(node, values, truth) or node


def _instead(node: Node, values: Values, truth: bool) -> Node | None:
    """For a comparison of a name that comes out `truth`: what the name has, if that says it."""
    if node.op not in ("==", "!=", "in", "<", "<=", ">", ">="):
        return None
    left, right = node.args
    if left.op != "name" or left.kind == "truth" or holds(node, values) is not truth:
        return None
    value = _value(left, values)
    if node.op in ("<", "<=", ">", ">=") and (right.op != "literal" or value != right.value):
        return None
    if value is None or (right.op == "literal" and value == right.value and node.op == "!="):
        return None
    unit = left.unit if left.unit is not None else right.unit
    literal = Node("literal", (), left.kind, node.offset, value, unit, left.decimals)
    said = Node("==", (left, literal), "truth", node.offset)
    return said if truth else Node("!", (said,), "truth", node.offset)


_TYPES: Final[Mapping[str, type]] = {"number": Decimal, "text": str, "truth": bool}


def _value(node: Node, values: Values) -> Value | None:
    """The value of a name; None where it is not known, or not as the name was declared."""
    value = values.get(str(node.value))
    if type(value) is not _TYPES[node.kind]:
        return None
    if isinstance(value, Decimal):
        places = value.as_tuple().exponent
        # What CEL would round first, or cannot take at all, is left to CEL.
        if not isinstance(places, int) or -places > (node.decimals or 0) or value.adjusted() > 8:
            return None
    return value


def holds(node: Node, values: Values) -> bool | None:
    """Whether a part holds, where it compares a name with what the author wrote; else None."""
    op, args = node.op, node.args
    if op == "!":
        inner = holds(args[0], values)
        return None if inner is None else not inner
    if op in ("&&", "||"):
        decisive = op == "||"
        found = [holds(arg, values) for arg in args]
        if decisive in found:
            return decisive
        return None if None in found else not decisive
    if op == "name":
        known = _value(node, values)
        return known if isinstance(known, bool) else None
    if len(args) != 2 or args[0].op != "name" or args[1].op not in ("literal", "list"):
        return None
    value, other = _value(args[0], values), args[1].value
    if value is None:
        return None
    if op == "in":
        return value in [item.value for item in args[1].args]
    if op in ("==", "!="):
        return (value == other) is (op == "==")
    if not isinstance(value, Decimal) or not isinstance(other, Decimal):
        return None
    return {"<": value < other, "<=": value <= other, ">": value > other, ">=": value >= other}.get(
        op
    )
