"""Put the tree of a condition into plain words, for the crew and for the log.

One job: "NOT REQUIRED: no hook" needs the part behind the colon, in as few words as a narrow screen
has room for. Rules: the words say exactly what the condition says, grouping included; a denial is
carried inward to the comparisons, so that no reader has to undo a "not" before a bracket; nothing
is evaluated here.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from runner.engine.expressions import Node, unit_text
from runner.engine.units import plain

_COMPARED: Final = {
    "<": "below", "<=": "at most", ">": "above", ">=": "at least", "==": "", "!=": "not",
}  # fmt: skip
_DENIED: Final = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "==",
                  "&&": "||", "||": "&&"}  # fmt: skip
_DENIED_NAMES: Final = {
    "first_flight": "a later flight", "engine_running": "engine stopped",
    "rotor_turning": "rotor stopped", "airborne": "on the ground",
}  # fmt: skip
"""What the engine's own names say when they are false; equipment that is not there is "no hook"."""
_BETWEEN: Final = {"+": "plus", "-": "minus", "*": "times", "/": "divided by"}
_CALLED: Final = {"abs": "the size of", "greatest": "the greatest of", "least": "the least of"}


def words(tree: Node, labels: Mapping[str, str], truth: bool = True) -> str:
    """What `tree`, a condition, states when it is true; with `truth` False, when it is false.

    `labels` gives names in plain words; a name without one is written with spaces for its "_".
    """
    return _truth(tree, labels, truth, "")


def _truth(node: Node, labels: Mapping[str, str], truth: bool, around: str) -> str:
    op, args = node.op, node.args
    if op == "!":
        return _truth(args[0], labels, not truth, around)
    if op in ("&&", "||"):
        now = op if truth else _DENIED[op]
        joint = f" {'and' if now == '&&' else 'or'} "
        text = joint.join(_truth(arg, labels, truth, now) for arg in args)
        return f"({text})" if around not in ("", now) else text
    if op == "?:":
        first, yes, no = args
        text = (
            f"if {_truth(first, labels, True, '')}, then {_truth(yes, labels, truth, '')}, "
            f"otherwise {_truth(no, labels, truth, '')}"
        )
        return f"({text})" if around else text
    if op == "name":
        if truth:
            return _label(node, labels)
        return _DENIED_NAMES.get(str(node.value)) or f"no {_label(node, labels)}"
    if op == "literal":
        return "always" if node.value is truth else "never"
    if op == "in":
        values = [_value(item, args[0], labels) for item in args[1].args]
        listed = " or ".join(values)
        if not truth:
            listed = f"none of {', '.join(values)}" if len(values) > 1 else f"not {listed}"
        return f"{_side(args[0], args[0], labels)} {listed}"
    left, right = args
    now = op if truth else _DENIED[op]
    if left.kind == "truth":
        return _alike(left, right, labels, now)
    how = _COMPARED[now]
    said = (_side(left, right, labels), how, _side(right, left, labels))
    return " ".join(part for part in said if part)


def _alike(left: Node, right: Node, labels: Mapping[str, str], op: str) -> str:
    for one, other in ((left, right), (right, left)):
        if other.op == "literal":
            return _truth(one, labels, other.value is (op == "=="), "==")
    joint = "exactly when" if op == "==" else "exactly when not:"
    return f"({_truth(left, labels, True, '==')} {joint} {_truth(right, labels, True, '==')})"


def _side(node: Node, other: Node, labels: Mapping[str, str]) -> str:
    if node.op == "literal":
        return _value(node, other, labels)
    if node.op == "name":
        return _label(node, labels)
    if node.op == "?:":  # its first part is a condition, the others are sides
        yes, no = (_side(arg, arg, labels) for arg in node.args[1:])
        return f"({yes} if {_truth(node.args[0], labels, True, '')}, otherwise {no})"
    parts = [_side(arg, arg, labels) for arg in node.args]
    if node.op == "neg":
        return f"minus {parts[0]}"
    if node.op in _CALLED:
        return f"{_CALLED[node.op]} ({', '.join(parts)})"
    inner = [
        f"({text})" if arg.op in _BETWEEN and arg.op != "*" else text
        for text, arg in zip(parts, node.args, strict=True)
    ]
    return f"{inner[0]} {_BETWEEN[node.op]} {inner[1]}"


def _value(node: Node, other: Node, labels: Mapping[str, str]) -> str:
    if isinstance(node.value, Decimal):
        number = plain(node.value)
        number = number.rstrip("0").removesuffix(".") if "." in number else number
        unit = unit_text(other.unit)
        return f"{number} {unit}" if unit else number
    return str(node.value)


def _label(node: Node, labels: Mapping[str, str]) -> str:
    name = str(node.value)
    return labels.get(name) or name.replace("_", " ")
