"""The JSON Schema of each kind of document, made from the forms.

Rules: the forms are the only source; the files under `flows/schema/` are this module's output,
byte for byte, and a test compares them. A schema can say less than the loader checks (the first key
of a step, references, units): what it refuses the loader refuses too.
"""

from __future__ import annotations

import inspect
import json
import typing
from pathlib import Path
from typing import Any, Final

from runner.flow.forms import REQUIRED, Key, Leaf, Strict, bare, forms_of, is_union, marked
from runner.flow.model import AircraftDoc, DrillDoc, ListDoc

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

MODELS: Final[dict[str, type[Strict]]] = {
    "aircraft": AircraftDoc,
    "list": ListDoc,
    "drill": DrillDoc,
}


def schema(name: str) -> dict[str, Any]:
    """The schema of `aircraft`, `list` or `drill` documents; KeyError for any other name."""
    form = MODELS[name]
    inner: dict[str, type[Strict]] = {}
    _inside(form, inner)
    made = {"$schema": DIALECT, **_form(form)}
    return {**made, "$defs": {one: _form(inner[one]) for one in sorted(inner)}}


def schema_files() -> dict[str, bytes]:
    """Each schema as the bytes of its file, by file name."""
    return {
        f"{name}.schema.json": (
            json.dumps(schema(name), indent=1, ensure_ascii=False, sort_keys=True) + "\n"
        ).encode()
        for name in MODELS
    }


def write_schemas(folder: Path) -> None:
    """Write every schema into a folder that exists; OSError as the system raises it."""
    for name, content in schema_files().items():
        (folder / name).write_bytes(content)


def _inside(form: type[Strict], found: dict[str, type[Strict]]) -> None:
    """Every form that stands within a form, by name."""
    for key in form.keys.values():
        for one in forms_of(key.annotation):
            if one.__name__ not in found:
                found[one.__name__] = one
                _inside(one, found)


def _form(form: type[Strict]) -> dict[str, Any]:
    made = {
        "type": "object",
        "description": inspect.cleandoc(form.__doc__ or ""),
        "properties": {key.key: _key(key) for key in form.keys.values()},
        "additionalProperties": False,
    }
    required = [key.key for key in form.keys.values() if key.required]
    return {**made, **({"required": required} if required else {}), **form.schema_extra}


def _key(key: Key) -> dict[str, Any]:
    """The schema of a key: of its value, with its bounds, its own description and its default."""
    declared = key.declared
    made = _value(key.annotation)
    ends = ("minItems", "maxItems")
    for word, bound in (
        ("minimum", declared.ge), ("maximum", declared.le),
        (ends[0], declared.min_length), (ends[1], declared.max_length),
    ):  # fmt: skip
        if bound is not None:
            made[word] = bound
    # a default that says nothing more than that the key is absent is left out
    if declared.default is not REQUIRED and declared.default not in (None, [], {}):
        made["default"] = declared.default
    return {**made, "description": declared.description}


def _value(annotation: Any) -> dict[str, Any]:
    real, mark = marked(bare(annotation))
    if isinstance(mark, Leaf):
        return dict(mark.schema)
    inside = typing.get_args(real)
    if is_union(real):
        return {"oneOf": [_value(one) for one in inside]}
    origin = typing.get_origin(real)
    if origin is typing.Literal:
        if inside == (True,):
            return {"type": "boolean", "const": True}
        return {"type": "string", "enum": list(inside)}
    if origin is list:
        return {"type": "array", "items": _value(inside[0])}
    if origin is dict:
        names = _value(inside[0])["pattern"]
        return {
            "type": "object",
            "patternProperties": {names: _value(inside[1])},
            "additionalProperties": False,
        }
    if real is int:
        return {"type": "integer"}
    return {"$ref": f"#/$defs/{real.__name__}"}
