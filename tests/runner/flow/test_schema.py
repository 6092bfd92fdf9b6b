"""The JSON Schemas: made from the models, kept beside the documents, and true of the examples."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]

from runner.flow import nodes
from runner.flow.faults import Faults
from runner.flow.names import BUILT_IN
from runner.flow.schema import DIALECT, MODELS, schema, schema_files
from runner.flow.steps import OWN_NAMES
from runner.flow.tree import plain

ROOT = Path(__file__).parents[3]
FOLDER = ROOT / "flows" / "schema"
EXAMPLES = ROOT / "tests" / "examples"
VALIDATORS = {name: Draft202012Validator(schema(name)) for name in MODELS}


def kind(path: Path) -> str:
    return "aircraft" if path.name == "aircraft.yaml" else path.parent.name.removesuffix("s")


def data(path: Path) -> Any:
    faults = Faults("syntax")
    node = nodes.read(path.name, path.read_bytes(), faults)
    assert node is not None
    return plain(node)


def test_the_kept_schemas_are_those_of_the_models() -> None:
    made = schema_files()
    assert {path.name for path in FOLDER.iterdir()} == made.keys()
    for name, content in made.items():
        assert (FOLDER / name).read_bytes() == content, f"{name}: run write_schemas"


@pytest.mark.parametrize("name", sorted(MODELS))
def test_a_schema_is_a_schema_and_describes_every_key(name: str) -> None:
    made = schema(name)
    Draft202012Validator.check_schema(made)
    assert made["$schema"] == DIALECT
    for part in [made, *made.get("$defs", {}).values()]:
        for key, value in part.get("properties", {}).items():
            assert value.get("description"), f"{name}: {key}"
        assert part.get("additionalProperties") is False or "properties" not in part


VALID = sorted(
    path
    for folder in (EXAMPLES / "valid", ROOT / "tests" / "data" / "tiny", ROOT / "flows")
    for path in folder.rglob("*.yaml")
)


@pytest.mark.parametrize("path", VALID, ids=lambda p: f"{p.parent.name}/{p.name}")
def test_valid_documents_are_valid_by_their_schema(path: Path) -> None:
    VALIDATORS[kind(path)].validate(data(path))


SHIPPED = sorted((ROOT / "flows").glob("*/**/*.yaml"))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: f"{p.parent.name}/{p.name}")
def test_an_editor_is_told_the_schema_of_a_shipped_document(path: Path) -> None:
    first = path.read_text("utf-8").splitlines()[0]
    modeline, _, where = first.partition("$schema=")
    assert modeline == "# yaml-language-server: "
    assert (path.parent / where).resolve() == FOLDER / f"{kind(path)}.schema.json"


def described(part: Any, path: str) -> None:
    """Every property, at whatever depth, has a description that says more than its name."""
    if isinstance(part, dict):
        for key, value in part.get("properties", {}).items():
            words = value.get("description", "")
            assert words.strip(), f"{path}/{key}"
            assert words.casefold() != key.casefold(), f"{path}/{key}"
        for key, value in part.items():
            described(value, f"{path}/{key}")
    elif isinstance(part, list):
        for number, value in enumerate(part):
            described(value, f"{path}/{number}")


@pytest.mark.parametrize("file", sorted(FOLDER.iterdir()), ids=lambda path: path.name)
def test_every_property_of_a_kept_schema_is_described(file: Path) -> None:
    made = json.loads(file.read_text("utf-8"))
    described(made, file.name)
    for name, inner in made["$defs"].items():
        assert inner["description"].strip(), name


# What a schema of JSON cannot say: the first key of a step, spaces, and units.
BEYOND = {"kind_not_first", "text_with_two_spaces", "unit_unknown"}
SHAPE = {
    "unknown_key", "missing_key", "unknown_kind", "key_of_another_kind", "no_is_text",
    "minutes_and_seconds", "leading_zero", "number_for_text", "text_for_list", "value_left_empty",
    "entry_left_empty", "limit_of_two_forms", "limit_with_half_a_range", "quantity_without_unit",
    "quantity_a_number", "path_in_a_name", "path_in_the_day", "name_with_capitals",
    "key_not_a_name", "four_reasons", "unmet_unknown", "put_off_false", "one_choice",
    "decimals_too_many", "text_too_long", "nothing_turns", "need_without_list", "end_unknown",
    "key_of_a_list",
}  # fmt: skip


def document_of(name: str) -> Path:
    """The one document of an example."""
    (path,) = (EXAMPLES / "invalid" / name).rglob("*.yaml")
    return path


@pytest.mark.parametrize("name", sorted(SHAPE))
def test_what_the_loader_finds_wrong_in_shape_the_schema_refuses(name: str) -> None:
    path = document_of(name)
    assert not VALIDATORS[kind(path)].is_valid(data(path))


@pytest.mark.parametrize("name", sorted(BEYOND))
def test_what_a_schema_cannot_say_is_known(name: str) -> None:
    path = document_of(name)
    assert VALIDATORS[kind(path)].is_valid(data(path))


def test_the_schemas_are_json_of_one_spelling() -> None:
    for content in schema_files().values():
        text = content.decode()
        assert (
            text
            == json.dumps(json.loads(text), indent=1, ensure_ascii=False, sort_keys=True) + "\n"
        )


def test_the_schema_names_every_name_that_the_engine_knows_itself() -> None:
    listed = OWN_NAMES.partition(":")[2].replace(",", " ").split()
    assert listed == list(BUILT_IN)
