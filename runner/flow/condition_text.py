"""A condition as a pilot would write it on paper, in the words of the document itself.

Rules: it says exactly what the condition says. An answer is told with what was asked ("Outcome
answered ENGINE STOPPED"), several answers to one question once; a count as none, as 1 or more, as
more than so many; equipment as fitted. Of alternatives and of what must hold together the outer
ones are parted by commas, one level within stands without brackets, deeper ones stand in them. What
has no words here has those of the engine.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from typing import Final

from runner.engine.condition_words import words
from runner.engine.conditions import Condition, Formula
from runner.engine.expressions import Node

_DENIED: Final = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "==",
                  "&&": "||", "||": "&&"}  # fmt: skip
_TURNED: Final = {"<": ">", "<=": ">=", ">": "<", ">=": "<=", "==": "==", "!=": "!="}
_COUNTED: Final = frozenset({
    "open_defects", "grounding_defects", "open_snags", "accepted_items"
})  # fmt: skip
"""Of the engine's own names, those that count things."""
_COUNTS: Final = {"<": "fewer than", "<=": "at most", ">": "more than", ">=": "at least",
                  "!=": "other than"}  # fmt: skip
_STOPPED: Final = {"<": "less than", "<=": "at most", ">": "more than", ">=": "at least"}


class ConditionText:
    """The words of one aircraft: `counted` are its counters, `fitted` its equipment, by name."""

    def __init__(self, counted: Collection[str], fitted: Collection[str]) -> None:
        self._counted = frozenset(counted) | _COUNTED
        self._fitted = frozenset(fitted)

    def condition(self, condition: Condition) -> str:
        """What it states."""
        return self._told(condition.tree, condition.labels, True, 0)

    def _told(self, node: Node, labels: Mapping[str, str], truth: bool, depth: int) -> str:
        if node.op == "!":
            return self._told(node.args[0], labels, not truth, depth)
        if node.op in ("&&", "||"):
            return self._joined(node, labels, truth, depth)
        answered = _answered(node, truth)
        if answered is not None:
            name, is_so, answers = answered
            return _answer(_label(name, labels), is_so, answers, depth)
        return self._single(node, labels, truth, depth)

    def _joined(self, node: Node, labels: Mapping[str, str], truth: bool, depth: int) -> str:
        op = node.op if truth else _DENIED[node.op]
        parts = _flat(node, truth, op)
        if len(parts) > 1 and (one := _one_question(parts, op)) is not None:
            return _answer(_label(one[0], labels), op == "||", one[1], depth)
        compound = any(_op(part, so) in ("&&", "||") for part, so in parts)
        said = [self._told(part, labels, so, depth + 1) for part, so in parts]
        word = "and" if op == "&&" else "or"
        text = f"{',' if compound and not depth else ''} {word} ".join(said)
        if depth > 1 or (depth and compound):
            return f"({text})"
        return f"either {text}" if depth and op == "||" else text

    def _single(self, node: Node, labels: Mapping[str, str], truth: bool, depth: int) -> str:
        """A statement of one name that is no answer; anything else in the engine's words."""
        if node.op == "name":
            name = str(node.value)
            if name == "first_flight" and truth:
                return "first flight of the day"
            fitted = " fitted" if name in self._fitted and truth else ""
            return words(node, labels, truth) + fitted
        compared = _compared(node, truth)
        if compared is not None:
            left, op, number = compared
            name = str(left.value)
            label = _label(name, labels)
            if name in self._counted:
                return _count(label, op, Decimal(str(number.value)))
            equal = Node("==", (left, number), "truth", 0)
            value = words(equal, {name: "="}).removeprefix("= ")
            if name == "stopped_minutes" and op in _STOPPED:
                return f"engine stopped for {_STOPPED[op]} {value}"
            if op in ("==", "!="):
                return f"{label} is {'' if op == '==' else 'not '}{value}"
            return words(Node(op, (left, number), "truth", 0), labels)
        text = words(node, labels, truth)
        return f"({text})" if depth and node.op == "?:" else text


def _op(node: Node, truth: bool) -> str:
    """What joins the parts of a statement, once its denials are carried inward."""
    if node.op == "!":
        return _op(node.args[0], not truth)
    return node.op if truth else _DENIED.get(node.op, node.op)


def _flat(node: Node, truth: bool, op: str) -> list[tuple[Node, bool]]:
    """The parts that one word joins, each with whether it is stated or denied."""
    if node.op == "!":
        return _flat(node.args[0], not truth, op)
    if node.op in ("&&", "||") and _op(node, truth) == op:
        return [part for arg in node.args for part in _flat(arg, truth, op)]
    return [(node, truth)]


def _answered(node: Node, truth: bool) -> tuple[str, bool, list[str]] | None:
    """The name, whether it is one of the answers or none, and the answers; None if it is not so."""
    if node.op == "!":
        return _answered(node.args[0], not truth)
    if node.op == "in" and node.args[0].op == "name" and node.args[0].kind == "text":
        return str(node.args[0].value), truth, [str(one.value) for one in node.args[1].args]
    if node.op in ("==", "!="):
        for one, other in (node.args, node.args[::-1]):
            if one.op == "name" and one.kind == "text" and other.op == "literal":
                return str(one.value), (node.op == "==") is truth, [str(other.value)]
    return None


def _one_question(parts: Sequence[tuple[Node, bool]], op: str) -> tuple[str, list[str]] | None:
    """The question, if all alternatives are answers to it, or all that is excluded together."""
    found = [_answered(node, truth) for node, truth in parts]
    known = [one for one in found if one is not None and one[1] is (op == "||")]
    if len(known) < len(found) or len({one[0] for one in known}) != 1:
        return None
    return known[0][0], list(dict.fromkeys(answer for one in known for answer in one[2]))


def _answer(label: str, is_so: bool, answers: Sequence[str], depth: int) -> str:
    """One answer or several; within more, "either" says how far its "or" reaches."""
    several = len(answers) > 1
    if is_so:
        return f"{label} answered {'either ' if several and depth else ''}{' or '.join(answers)}"
    if several:
        return f"{label} answered neither {' nor '.join(answers)}"
    return f"{label} answered other than {answers[0]}"


def _label(name: str, labels: Mapping[str, str]) -> str:
    return labels.get(name) or name.replace("_", " ")


def _compared(node: Node, truth: bool) -> tuple[Node, str, Node] | None:
    """A name, how it is compared, and the number, wherever it stood; None if it is not so."""
    if node.op not in _TURNED:
        return None
    op = node.op if truth else _DENIED[node.op]
    left, right = node.args
    if left.op == "literal":
        left, right, op = right, left, _TURNED[op]
    if left.op != "name" or left.kind != "number" or not isinstance(right.value, Decimal):
        return None
    return left, op, right


def _count(label: str, op: str, number: Decimal) -> str:
    if (op, int(number)) in (("==", 0), ("<=", 0), ("<", 1)) and number == int(number):
        return f"no {label}"
    if (op, int(number)) in ((">", 0), (">=", 1), ("!=", 0)) and number == int(number):
        return f"{label} 1 or more"
    how = f"{_COUNTS[op]} " if op in _COUNTS else ""
    return f"{label} {how}{number.normalize():f}"


def formula_text(formula: Formula) -> str:
    """A formula in the words of conditions: as what "=" states of it."""
    tree = formula.tree
    equals = Node("name", (), tree.kind, 0, "=", tree.unit)
    text = words(Node("==", (equals, tree), "truth", 0), formula.labels)
    # A choice between numbers has brackets within a sum; alone it needs none.
    return f"= {text[3:-1]}" if tree.op == "?:" else text
