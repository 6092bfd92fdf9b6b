"""From a tree of values to a model, every fault of shape at its place in the document.

Rules: the library's own sentences are translated here, once, and its union tags (they begin with
`=`) are dropped from paths; a key is blamed where the key stands, a value where the value stands,
a missing key where its mapping begins. A value left empty is a fault, never a default.
"""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Iterable, Iterator
from typing import Any, Final, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from runner.flow.faults import Faults, Place, nearest_word, quoted
from runner.flow.model import FORMS, Whole
from runner.flow.parts import Strict
from runner.flow.steps import KINDS
from runner.flow.tree import Mapping, Node, Scalar, Sequence, at, key_at, plain

Model = TypeVar("Model", bound=BaseModel)
Trail = tuple[str | int, ...]

_WANTED: Final = {
    "string_type": "text",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "list_type": "a list",
    "dict_type": "keys and values",
    "model_type": "keys and values",
    "model_attributes_type": "keys and values",
}


def validate(model: type[Model], node: Mapping, faults: Faults) -> Model | None:
    """The model of a document, or None with its faults noted."""
    empty = set(_empty(node, faults))
    form = FORMS.get(model) if issubclass(model, Strict) else None
    try:
        if form is None:
            made = model.model_validate(plain(node))
        else:
            made = getattr(Whole.model_validate({form: plain(node)}), form)
    except ValidationError as error:
        for one in error.errors(include_url=False, include_input=False):
            if faults.full:
                break
            _translate(model, node, one["loc"][form is not None :], one, empty, faults)
        return None
    return None if empty else made


def _empty(node: Node, faults: Faults) -> Iterator[Place]:
    """Notes and yields the places of values that were left empty."""
    if isinstance(node, Mapping):
        for key, value in node.values.items():
            if isinstance(value, Scalar) and value.value is None:
                faults.add(node.keys[key], f"the key {quoted(key)} has no value")
                yield value.place
            yield from _empty(value, faults)
    elif isinstance(node, Sequence):
        for item in node.items:
            if isinstance(item, Scalar) and item.value is None:
                faults.add(item.place, "an empty entry")
                yield item.place
            yield from _empty(item, faults)


def _translate(
    model: type[BaseModel], root: Mapping, raw: Trail, error: Any, empty: set[Place], faults: Faults
) -> None:
    path = tuple(part for part in raw if not (isinstance(part, str) and part.startswith("=")))
    kind: str = error["type"]
    context: dict[str, Any] = error.get("ctx", {})
    if path and path[-1] == "[key]":
        place = key_at(root, *path[:-1])
    elif kind == "extra_forbidden":
        place = key_at(root, *path)
    else:
        place = at(root, *path)
    if place in empty:
        return
    node = _node(root, path)
    match kind:
        case "flow":
            _own(place, node, path, context, faults)
        case "missing":
            key = path[-1]
            faults.add(at(root, *path[:-1]), f"the key {quoted(key)} is missing")
        case "extra_forbidden":
            _unknown_key(model, raw, place, faults)
        case "literal_error":
            allowed = [word.strip("'") for word in re.split(r", | or ", context["expected"])]
            allowed = ["true" if word == "True" else word for word in allowed]
            faults.add(place, f"{_of(path)} cannot be this", found=_found(node), allowed=allowed)
        case "union_tag_not_found" | "union_tag_invalid":
            _unknown_kind(node, place, faults)
        case "too_short" | "too_long":
            wanted = context.get("min_length", context.get("max_length"))
            order = "at least" if kind == "too_short" else "at most"
            faults.add(
                place,
                f"{_of(path)} has {context.get('actual_length')} entries",
                allowed=f"{order} {wanted}",
            )
        case "greater_than_equal" | "less_than_equal":
            bound = (
                f"at least {context.get('ge')}"
                if "ge" in context
                else f"at most {context.get('le')}"
            )
            faults.add(place, f"{_of(path)} is out of range", found=_found(node), allowed=bound)
        case _:
            wanted = _WANTED.get(kind, "")
            todo = ""
            if kind == "string_type" and isinstance(node, Scalar):
                todo = f'write it in quotes: "{node.text}"' if len(node.text) < 40 else ""
            if not wanted:
                faults.add(place, f"{_of(path)}: {error['msg']}", found=_found(node))
            else:
                faults.add(place, f"{_of(path)} is not {wanted}", found=_found(node), todo=todo)


def _own(
    place: Place,
    node: Node | None,
    path: Trail,
    parts: dict[str, str],
    faults: Faults,
) -> None:
    key = path and path[-1] == "[key]"
    found = quoted(path[-2]) if key else _found(node) if isinstance(node, Scalar) else ""
    faults.add(
        place,
        f"{_of(path[:-2] if key else path)}: {parts['what']}",
        found="" if found and found in parts["what"] else found,
        allowed=parts["allowed"],
        nearest=parts["nearest"],
        todo=parts["todo"],
    )


def _of(path: Iterable[str | int]) -> str:
    """What a fault speaks of: the last key of a path."""
    keys = [part for part in path if isinstance(part, str)]
    return quoted(keys[-1]) if keys else "the document"


def _node(root: Node, path: Trail) -> Node | None:
    node: Node = root
    for part in path:
        if isinstance(node, Mapping) and part in node.values:
            node = node.values[str(part)]
        elif isinstance(node, Sequence) and isinstance(part, int) and part < len(node.items):
            node = node.items[part]
        else:
            return node if isinstance(node, Scalar) else None
    return node


def _found(node: Node | None) -> str:
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
        case _:
            return ""


def _unknown_key(model: type[BaseModel], raw: Trail, place: Place, faults: Faults) -> None:
    key = str(raw[-1])
    owner = _owner(model, raw[:-1])
    allowed = _keys(owner) if owner else []
    todo = ""
    kind = getattr(owner, "kind", "")
    if kind:
        todo = f"a step that begins with {kind} takes no other keys"
        if key in KINDS:
            todo = f"the first key says the kind: put {key} first, or give it a step of its own"
    faults.add(place, f"unknown key {quoted(key)}", allowed=_listing(allowed), todo=todo,
               nearest=nearest_word(key, allowed))  # fmt: skip


def _listing(words: list[str]) -> str:
    return ", ".join(words)


def _unknown_kind(node: Node | None, place: Place, faults: Faults) -> None:
    if not isinstance(node, Mapping) or not node.keys:
        faults.add(place, "not a step", found=_found(node), allowed=KINDS)
        return
    first = next(iter(node.keys))
    later = next((key for key in node.keys if key in KINDS), "")
    faults.add(
        node.keys[first],
        "the first key of a step says its kind",
        found=quoted(first),
        allowed=KINDS,
        nearest="" if later else nearest_word(first, KINDS),
        todo=f"put {later} first" if later else "",
    )


def _keys(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def _owner(model: type[BaseModel], raw: Trail) -> type[BaseModel] | None:
    """The model that stands at a path with its union tags."""
    candidates: list[type[BaseModel]] = [model]
    skip = False
    for part in raw:
        if isinstance(part, int) or skip:
            skip = False
        elif part.startswith("="):
            chosen = KINDS.get(part[1:])
            candidates = [chosen] if chosen else candidates
        else:
            field = _field(candidates, part)
            if field is None:
                return None
            candidates = list(models_of(field.annotation))
            skip = typing.get_origin(field.annotation) is dict
    return candidates[0] if candidates else None


def _field(models: list[type[BaseModel]], key: str) -> FieldInfo | None:
    for model in models:
        for name, field in model.model_fields.items():
            if (field.alias or name) == key:
                return field
    return None


def models_of(annotation: Any) -> Iterator[type[BaseModel]]:
    """Every model that an annotation speaks of."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
        return
    if isinstance(annotation, types.UnionType) or typing.get_origin(annotation) is not None:
        for argument in typing.get_args(annotation):
            yield from models_of(argument)
