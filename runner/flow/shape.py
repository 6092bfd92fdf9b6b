"""From a tree of values to a form, every fault of shape at its place in the document.

Rules: a key is blamed where the key stands, a value where the value stands, a missing key where its
mapping begins; a form's own rule is asked only when each of its values is right. A value left empty
is a fault, never a default, and told once. How a form is checked is worked out once, when the first
of its kind is read.
"""

from __future__ import annotations

import typing
from collections.abc import Callable, Iterable
from typing import Any, Final, TypeVar

from runner.flow.faults import Faults, Place, nearest_word, quoted
from runner.flow.forms import (
    BY_FIRST_KEY,
    Declared,
    FieldFault,
    Leaf,
    Strict,
    bare,
    is_union,
    marked,
)
from runner.flow.steps import KINDS
from runner.flow.tree import Mapping, Node, Scalar, Sequence

Form = TypeVar("Form", bound=Strict)

_WRONG: Final = object()


class _Told:
    """Notes faults, but none of a value that was left empty, and none beyond what is kept."""

    def __init__(self, faults: Faults) -> None:
        self._faults = faults
        self.empty: set[Place] = set()

    def add(self, place: Place, what: str, **parts: Any) -> None:
        if place not in self.empty and not self._faults.full:
            self._faults.add(place, what, **parts)

    def own(self, place: Place, key: str, fault: FieldFault, found: str) -> None:
        """A fault in words of ours; what was found is not said twice."""
        self.add(
            place,
            f"{_of(key)}: {fault.what}",
            found="" if found and found in fault.what else found,
            allowed=fault.allowed,
            nearest=fault.nearest,
            todo=fault.todo,
        )

    def find_empty(self, node: Node) -> None:
        """Notes the values that were left empty."""
        if isinstance(node, Mapping):
            for key, value in node.values.items():
                if type(value) is not Scalar:
                    self.find_empty(value)
                elif value.value is None:
                    self._faults.add(node.keys[key], f"the key {quoted(key)} has no value")
                    self.empty.add(value.place)
        elif isinstance(node, Sequence):
            for item in node.items:
                if type(item) is not Scalar:
                    self.find_empty(item)
                elif item.value is None:
                    self._faults.add(item.place, "an empty entry")
                    self.empty.add(item.place)


Check = Callable[[Node, str, _Told], Any]
"""Gives the value of a node that stands under a key, or `_WRONG` with its faults told."""


def validate(form: type[Form], node: Mapping, faults: Faults) -> Form | None:
    """The form of a document, or None with its faults noted."""
    told = _Told(faults)
    told.find_empty(node)
    made = _form(form)(node, "", told)
    return None if made is _WRONG or told.empty else typing.cast(Form, made)


_forms: Final[dict[type[Strict], Check]] = {}


def _form(form: type[Strict]) -> Check:
    """How a form is checked."""
    if form not in _forms:
        _forms[form] = _checking(form)
    return _forms[form]


def _checking(form: type[Strict]) -> Check:
    keys = [
        (one.key, one.name, one.required, _check(one.annotation, one.declared))
        for one in form.keys.values()
    ]
    has_rule = form.rule is not Strict.rule

    def check(node: Node, around: str, told: _Told) -> Any:
        if type(node) is not Mapping:
            return _not(node, around, "keys and values", told)
        values = node.values
        given: dict[str, Any] = {}
        wrong, known = False, 0
        for key, name, required, of_value in keys:
            child = values.get(key)
            if child is None:
                if required:
                    wrong = True
                    told.add(node.place, f"the key {quoted(key)} is missing")
                continue
            known += 1
            given[name] = value = of_value(child, key, told)
            wrong = wrong or value is _WRONG
        if known < len(values):
            wrong = True
            for key in values:
                if key not in form.keys:
                    _unknown_key(form, key, node.keys[key], told)
        if wrong:
            return _WRONG
        made = form.made(given)
        if has_rule and (fault := made.rule()) is not None:
            told.own(node.place, around, fault, "")
            return _WRONG
        return made

    return check


def _check(annotation: Any, declared: Declared) -> Check:
    """How a value is checked; `declared` has the bounds of the whole, not of what is inside it."""
    given = bare(annotation)
    if given is not annotation:
        return _optional(_check(given, declared))
    real, mark = marked(annotation)
    if isinstance(mark, Leaf):
        return _leaf(mark)
    if mark == BY_FIRST_KEY:
        return _step
    if is_union(real):
        return _by_shape(*typing.get_args(real))
    inside = typing.get_args(real)
    match typing.get_origin(real):
        case typing.Literal:
            return _literal(inside)
        case kind if kind is list:
            return _list(_check(inside[0], _FREE), declared)
        case kind if kind is dict:
            return _dict(_check(inside[0], _FREE), _check(inside[1], _FREE))
    if real is int:
        return _whole(declared)
    return _form(real)


_FREE: Final = Declared(None, "", "", None, None, None, None)


def _optional(check: Check) -> Check:
    def optional(node: Node, key: str, told: _Told) -> Any:
        # what was left empty has been noted
        if type(node) is Scalar and node.value is None:
            return None
        return check(node, key, told)

    return optional


def _leaf(leaf: Leaf) -> Check:
    read, text = leaf.read, leaf.text

    def check(node: Node, key: str, told: _Told) -> Any:
        value = node.value if type(node) is Scalar else node
        if text and not isinstance(value, str):
            return _not_text(node, key, told)
        try:
            return read(value)
        except FieldFault as fault:
            told.own(node.place, key, fault, _found(node) if type(node) is Scalar else "")
            return _WRONG

    return check


def _literal(options: tuple[Any, ...]) -> Check:
    def check(node: Node, key: str, told: _Told) -> Any:
        value = node.value if type(node) is Scalar else node
        for option in options:
            if type(value) is type(option) and value == option:
                return value
        allowed = ["true" if option is True else str(option) for option in options]
        told.add(node.place, f"{_of(key)} cannot be this", found=_found(node), allowed=allowed)
        return _WRONG

    return check


def _whole(declared: Declared) -> Check:
    least, most = declared.ge, declared.le

    def check(node: Node, key: str, told: _Told) -> Any:
        value = node.value if type(node) is Scalar else None
        if type(value) is not int:
            return _not(node, key, "a whole number", told)
        bound = ""
        if least is not None and value < least:
            bound = f"at least {least}"
        elif most is not None and value > most:
            bound = f"at most {most}"
        if bound:
            told.add(node.place, f"{_of(key)} is out of range", found=_found(node), allowed=bound)
            return _WRONG
        return value

    return check


def _list(inside: Check, declared: Declared) -> Check:
    least, most = declared.min_length, declared.max_length

    def check(node: Node, key: str, told: _Told) -> Any:
        if type(node) is not Sequence:
            return _not(node, key, "a list", told)
        count = len(node.items)
        if most is not None and count > most:
            return _length(node, key, f"at most {most}", told)
        made = [inside(item, key, told) for item in node.items]
        if any(value is _WRONG for value in made):
            return _WRONG
        if least is not None and count < least:
            return _length(node, key, f"at least {least}", told)
        return made

    return check


def _length(node: Sequence, key: str, allowed: str, told: _Told) -> Any:
    told.add(node.place, f"{_of(key)} has {len(node.items)} entries", allowed=allowed)
    return _WRONG


def _dict(of_key: Check, of_value: Check) -> Check:
    def check(node: Node, around: str, told: _Told) -> Any:
        if type(node) is not Mapping:
            return _not(node, around, "keys and values", told)
        made: dict[str, Any] = {}
        wrong = False
        for key, value in node.values.items():
            # a key is judged as the text that it is, and blamed where it stands
            name = of_key(Scalar(node.keys[key], key, key), around, told)
            made[key] = of_value(value, key, told)
            wrong = wrong or name is _WRONG or made[key] is _WRONG
        return _WRONG if wrong else made

    return check


def _by_shape(*both: Any) -> Check:
    of_text, of_mapping = (_check(one, _FREE) for one in both)

    def check(node: Node, key: str, told: _Told) -> Any:
        return (of_mapping if type(node) is Mapping else of_text)(node, key, told)

    return check


def _step(node: Node, key: str, told: _Told) -> Any:
    first = next(iter(node.values), "") if isinstance(node, Mapping) else ""
    form = KINDS.get(first)
    if form is None:
        _unknown_kind(node, told)
        return _WRONG
    return _form(form)(node, key, told)


def _not(node: Node, key: str, wanted: str, told: _Told, todo: str = "") -> Any:
    told.add(node.place, f"{_of(key)} is not {wanted}", found=_found(node), todo=todo)
    return _WRONG


def _not_text(node: Node, key: str, told: _Told) -> Any:
    short = isinstance(node, Scalar) and len(node.text) < 40
    todo = f'write it in quotes: "{node.text}"' if short and isinstance(node, Scalar) else ""
    return _not(node, key, "text", told, todo)


def _of(key: str) -> str:
    """What a fault speaks of."""
    return quoted(key) if key else "the document"


def _found(node: Node) -> str:
    match node:
        case Scalar(value=bool()):
            return f"the truth {node.text}"
        case Scalar(value=int() | float()):
            return f"the number {node.text}"
        case Scalar():
            return quoted(node.text)
        case Sequence():
            return "a list"
        case Mapping():
            return "keys and values"


def _unknown_key(form: type[Strict], key: str, place: Place, told: _Told) -> None:
    allowed = list(form.keys)
    todo = ""
    if form.kind:
        todo = f"a step that begins with {form.kind} takes no other keys"
        if key in KINDS:
            todo = f"the first key says the kind: put {key} first, or give it a step of its own"
    told.add(place, f"unknown key {quoted(key)}", allowed=_listing(allowed), todo=todo,
             nearest=nearest_word(key, allowed))  # fmt: skip


def _listing(words: Iterable[str]) -> str:
    return ", ".join(words)


def _unknown_kind(node: Node, told: _Told) -> None:
    if not isinstance(node, Mapping) or not node.keys:
        told.add(node.place, "not a step", found=_found(node), allowed=KINDS)
        return
    first = next(iter(node.keys))
    later = next((key for key in node.keys if key in KINDS), "")
    told.add(
        node.keys[first],
        "the first key of a step says its kind",
        found=quoted(first),
        allowed=KINDS,
        nearest="" if later else nearest_word(first, KINDS),
        todo=f"put {later} first" if later else "",
    )
