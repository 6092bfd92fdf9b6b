"""Every folder under `tests/examples` is a case of its own: a new case is a new folder.

A folder of `valid` is a whole aircraft. A folder of `invalid` holds the documents that differ from
`valid/plain`, and in `expected.txt` each fault: its place, then the words that its text has, parted
by `||`. The faults found are these and no others.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.flow import nodes, shape
from runner.flow.faults import Faults, FlowErrors
from runner.flow.forms import Strict, forms_of
from runner.flow.loader import load_aircraft, load_documents
from runner.flow.schema import MODELS
from runner.flow.steps import KINDS

EXAMPLES = Path(__file__).parents[2] / "examples"
VALID = sorted(path for path in (EXAMPLES / "valid").iterdir() if path.is_dir())
INVALID = sorted(path for path in (EXAMPLES / "invalid").iterdir() if path.is_dir())


def documents(folder: Path) -> dict[str, bytes]:
    """The documents of a folder by name."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*.yaml")
    }


@pytest.mark.parametrize("folder", VALID, ids=lambda path: path.name)
def test_a_valid_aircraft_loads(folder: Path) -> None:
    loaded = load_aircraft(folder)
    assert {one.name: one.data for one in loaded.documents} == documents(folder)
    assert loaded.table.order
    assert loaded.table.steps


@pytest.mark.parametrize("folder", INVALID, ids=lambda path: path.name)
def test_an_invalid_aircraft_is_told_its_faults_and_no_others(folder: Path) -> None:
    expected = (folder / "expected.txt").read_text("utf-8").splitlines()
    assert expected, "an example without an expected fault"
    with pytest.raises(FlowErrors) as caught:
        load_documents({**documents(EXAMPLES / "valid" / "plain"), **documents(folder)})
    found = caught.value.faults
    listing = "\n".join(fault.text for fault in found)
    assert len(found) == len(expected), listing
    for fault, line in zip(found, expected, strict=True):
        place, _, words = line.partition(": ")
        assert f"{fault.file}:{fault.line}:{fault.column}" == place, listing
        for part in words.split("||"):
            assert part in fault.text, listing


def test_the_examples_have_faults_of_every_stage() -> None:
    assert len(INVALID) > 100


AIRCRAFT = sorted((EXAMPLES.parents[1] / "flows").glob("*/aircraft.yaml"))


@pytest.mark.parametrize("path", AIRCRAFT, ids=lambda path: path.parent.name)
def test_an_aircraft_of_ours_loads(path: Path) -> None:
    table = load_aircraft(path.parent).table
    assert table.aircraft == path.parent.name


def keys(model: type[Strict], seen: set[type[Strict]]) -> set[tuple[str, str]]:
    """Every key of a model and of the models within it, with the model's name."""
    if model in seen:
        return set()
    seen.add(model)
    found = set()
    for key in model.keys.values():
        found.add((model.__name__, key.key))
        for inner in forms_of(key.annotation):
            found |= keys(inner, seen)
    return found


def used(value: object) -> set[tuple[str, str]]:
    """Every key that was given in a document, with the name of its model."""
    found: set[tuple[str, str]] = set()
    if isinstance(value, Strict):
        names = {key.name: key.key for key in type(value).keys.values()}
        for name, inner in vars(value).items():
            found.add((type(value).__name__, names[name]))
            found |= used(inner)
    elif isinstance(value, dict):
        for inner in value.values():
            found |= used(inner)
    elif isinstance(value, list):
        for inner in value:
            found |= used(inner)
    return found


def test_the_full_example_uses_every_key() -> None:
    folder = EXAMPLES / "valid" / "full"
    given: set[tuple[str, str]] = set()
    for name, data in documents(folder).items():
        model = MODELS["aircraft" if name == "aircraft.yaml" else name.partition("/")[0][:-1]]
        faults = Faults("syntax")
        node = nodes.read(name, data, faults)
        assert node is not None
        doc = shape.validate(model, node, faults)
        assert doc is not None
        given |= used(doc)
    every = {key for model in MODELS.values() for key in keys(model, set())}
    shared = {"id", "section", "when", "memory", "who", "turns", "adds", "clears", "notes", "ends"}
    shared |= {"critical", "meanwhile", "accept", "put off", "drill"}
    steps = {model.__name__ for model in KINDS.values()}
    missing = {(model, key) for model, key in every - given if model not in steps}
    missing |= {
        (model, key)
        for model, key in every - given
        if model in steps
        and (key not in shared or not any(k == key and m in steps for m, k in given))
    }
    assert not missing
