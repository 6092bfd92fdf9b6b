"""The JSON Schema of each kind of document, made from the models.

Rules: the models are the only source; the files under `flows/schema/` are this module's output,
byte for byte, and a test compares them. A schema can say less than the loader checks (the first key
of a step, references, units): what it refuses the loader refuses too.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel

from runner.flow.model import AircraftDoc, DrillDoc, ListDoc

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

MODELS: Final[dict[str, type[BaseModel]]] = {
    "aircraft": AircraftDoc,
    "list": ListDoc,
    "drill": DrillDoc,
}


def schema(name: str) -> dict[str, Any]:
    """The schema of `aircraft`, `list` or `drill` documents; KeyError for any other name."""
    made = MODELS[name].model_json_schema(by_alias=True)
    return {"$schema": DIALECT, **_tidy(made)}


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


def _tidy(value: Any) -> Any:
    """Leave out what is true of the models and not of documents: class names as titles, the null
    that stands for an absent key, and defaults that say nothing."""
    if isinstance(value, list):
        return [_tidy(item) for item in value]
    if not isinstance(value, dict):
        return value
    kept = {
        key: _tidy(item)
        for key, item in value.items()
        if not (key == "title" and isinstance(item, str))
        and not (key == "default" and item in (None, [], {}))
    }
    if "patternProperties" in kept:
        kept.pop("propertyNames", None)
        kept["additionalProperties"] = False
    choices = kept.get("anyOf")
    if isinstance(choices, list):
        real = [choice for choice in choices if choice != {"type": "null"}]
        if len(real) == 1 and isinstance(real[0], dict):
            del kept["anyOf"]
            kept = {**real[0], **kept}
    return kept
