"""Every folder under `tests/examples` is a case of its own: a new case is a new folder.

A folder of `valid` with an `aircraft.yaml` is a whole aircraft. A folder of `invalid` with an
`expected.txt` holds the documents that differ from `valid/plain`, and in that file each finding:
its place, its rule, then the words that its text has, parted by `||`. The findings are these and no
others. What the loader lets pass and a rule of the checks does not stands a folder deeper, in one
named as its rule, and differs from `valid/clean`; `valid/RULE` holds what comes near and is right.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.flow import nodes, shape
from runner.flow.checks.collection import check_documents, every_rule
from runner.flow.checks.findings import ERROR
from runner.flow.faults import Faults, FlowErrors
from runner.flow.forms import Strict, forms_of
from runner.flow.loader import load_aircraft, load_documents
from runner.flow.schema import MODELS
from runner.flow.steps import KINDS

EXAMPLES = Path(__file__).parents[2] / "examples"
VALID = sorted(path.parent for path in (EXAMPLES / "valid").glob("*/aircraft.yaml"))
INVALID = sorted(path.parent for path in (EXAMPLES / "invalid").rglob("expected.txt"))
CHECKED = [path for path in INVALID if path.parent.name != "invalid"]
NEAR = sorted(
    path
    for rule in (EXAMPLES / "valid").iterdir()
    if rule.is_dir() and not (rule / "aircraft.yaml").exists()
    for path in rule.iterdir()
)


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


@pytest.mark.parametrize("folder", VALID, ids=lambda path: path.name)
def test_a_valid_aircraft_has_no_error(folder: Path) -> None:
    assert [
        one.text for one in check_documents(documents(folder)).findings if one.level == ERROR
    ] == []


def case_of(path: Path) -> str:
    """The name of an example: its folder, with that of its rule."""
    return path.relative_to(EXAMPLES).as_posix()


def judged(folder: Path) -> dict[str, bytes]:
    """The documents of an example, with those it leaves as they are."""
    base = "plain" if folder.parent.name == "invalid" else "clean"
    return {**documents(EXAMPLES / "valid" / base), **documents(folder)}


@pytest.mark.parametrize("folder", INVALID, ids=case_of)
def test_an_invalid_aircraft_is_told_its_faults_and_no_others(folder: Path) -> None:
    expected = (folder / "expected.txt").read_text("utf-8").splitlines()
    assert expected, "an example without an expected fault"
    found = check_documents(judged(folder)).findings
    listing = "\n".join(one.text for one in found)
    assert len(found) == len(expected), listing
    for one, line in zip(found, expected, strict=True):
        place, _, words = line.partition(": ")
        assert f"{one.file}:{one.line}:{one.column} {one.rule}" == place, listing
        near = f"did you mean {one.nearest}?" if one.nearest else ""
        told = "; ".join(part for part in (one.message, near, one.suggestion) if part)
        for part in words.split("||"):
            assert part in told, listing


@pytest.mark.parametrize("folder", INVALID, ids=case_of)
def test_what_makes_documents_invalid_is_refused_by_the_loader(folder: Path) -> None:
    if folder in CHECKED:
        load_documents(judged(folder))
        return
    with pytest.raises(FlowErrors):
        load_documents(judged(folder))


@pytest.mark.parametrize("folder", NEAR, ids=case_of)
def test_what_comes_near_a_fault_and_is_right_is_told_nothing(folder: Path) -> None:
    assert check_documents(judged(folder)).findings == ()


def test_there_are_examples_enough() -> None:
    assert len(INVALID) > 200


def test_every_rule_of_the_checks_has_two_faults_and_what_comes_near() -> None:
    kept = {name for name, rule in every_rule().items() if rule.check is not None}
    assert {path.parent.name for path in CHECKED} == kept == {path.parent.name for path in NEAR}
    for name in kept:
        own = [path for path in CHECKED if path.parent.name == name]
        assert len(own) >= 2, name
        for path in own:
            assert f" {name}: " in (path / "expected.txt").read_text("utf-8"), path


def test_every_rule_of_the_loader_but_those_of_files_has_a_fault() -> None:
    told = {
        line.partition(": ")[0].rpartition(" ")[2]
        for path in INVALID
        for line in (path / "expected.txt").read_text("utf-8").splitlines()
    }
    assert every_rule().keys() - told == {"file", "unreadable"}


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
