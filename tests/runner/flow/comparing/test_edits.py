"""An edit of a document is found, named, and nothing else is: every kind of edit, at any place."""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from runner.flow import nodes, shape
from runner.flow.comparing.shapes import Difference
from runner.flow.comparing.whole import compare_aircraft, compare_flows
from runner.flow.documents import Item, Procedure
from runner.flow.faults import Faults
from runner.flow.fields import name_from
from runner.flow.loader import documents_in, load_aircraft
from runner.flow.model import DrillDoc, ListDoc
from runner.flow.tree import plain

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

FLOWS = Path(__file__).resolve().parents[4] / "flows"
TYPES = ("corvane_c4", "tern_t2")


def _trees() -> dict[str, dict[str, Any]]:
    found = {}
    for kind in TYPES:
        for name, data in documents_in(FLOWS / kind).items():
            node = nodes.read(name, data, Faults("syntax"))
            assert node is not None
            if "/" in name:
                found[f"{kind}/{name}"] = plain(node)
    return found


TREES = _trees()
PLACES = [(name, n) for name, tree in TREES.items() for n in range(len(tree["steps"]))]


def procedure(name: str, tree: dict[str, Any]) -> Procedure:
    """A list as the loader makes it, the names that it uses unchecked."""
    faults = Faults("shape")
    node = nodes.read(name, json.dumps(tree).encode(), faults)
    assert node is not None
    doc = shape.validate(DrillDoc if "drill" in tree else ListDoc, node, faults)
    faults.check()
    assert isinstance(doc, ListDoc | DrillDoc)
    flow = Procedure(name, doc, node, [])
    for position, step in enumerate(doc.steps):
        words = step.words or str(getattr(step, "reading", ""))
        flow.items.append(Item(flow, position, step.id or name_from(words), step))
    return flow


def found(name: str, old: dict[str, Any], new: dict[str, Any]) -> list[Difference]:
    compared = compare_flows(procedure(name, old), procedure(name, new))
    return list(compared.differences)


def first_key(step: dict[str, Any]) -> str:
    return next(iter(step))


Edit = Callable[[dict[str, Any], dict[str, Any]], tuple[str, str, str] | None]
"""Changes a step of a list, and says which key shows it, with its old and its new value; or None
where there is nothing to change."""


def _set(key: str, value: Any, shown: str = "", default: str = "none") -> Edit:
    def edit(tree: dict[str, Any], step: dict[str, Any]) -> tuple[str, str, str] | None:
        if first_key(step) in ("remark", "close", "compute") or step.get(key) == value:
            return None
        before = step.get(key, default)
        if isinstance(before, list | dict):
            return None
        step[key] = value
        return key, "yes" if before is True else before, shown or value

    return edit


def _limit(change: Callable[[str, float, str], dict[str, str]]) -> Edit:
    def edit(tree: dict[str, Any], step: dict[str, Any]) -> tuple[str, str, str] | None:
        limit = step.get("limit")
        if not limit:
            return None
        side = next(iter(limit))
        number, _, unit = limit[side].partition(" ")
        changed = change(side, float(number), unit)
        if not changed:
            return None
        after = {k: v for k, v in {**limit, **changed}.items() if v}
        step["limit"] = after
        said = [" ".join(f"{k} {v}" for k, v in one.items()) for one in (limit, after)]
        return "limit", said[0], said[1]

    return edit


def _opposite(side: str, number: float, unit: str) -> dict[str, str]:
    other = {"below": "above", "above": "below", "at most": "at least", "at least": "at most"}
    return {side: "", other[side]: f"{number:g} {unit}"} if side in other else {}


def _unit(side: str, number: float, unit: str) -> dict[str, str]:
    # -40 °C is -40 °F, and 0 of one pressure is 0 of another: those are no change.
    other = {"°C": "°F", "psi": "bar", "kt": "mph", "L": "US gal", "kg": "lb"}.get(unit)
    return {side: f"{number:g} {other}"} if other and number not in (0, -40) else {}


def _answer(tree: dict[str, Any], step: dict[str, Any]) -> tuple[str, str, str] | None:
    if "answer" not in step:
        return None
    before, step["answer"] = step["answer"], "AT THE SECOND MARK"
    return "answer", before, "AT THE SECOND MARK"


def _wait(tree: dict[str, Any], step: dict[str, Any]) -> tuple[str, str, str] | None:
    if "for" not in step:
        return None
    before, step["for"] = step["for"], "77 s"
    number, unit = before.split()
    if unit == "s" and int(number) % 60 == 0:
        before = f"{int(number) // 60} min"
    return "for", before, "77 s"


def _timer(tree: dict[str, Any], step: dict[str, Any]) -> tuple[str, str, str] | None:
    if "timer" not in step:
        return None
    before, step["timer"] = step["timer"], "another_time"
    return "timer", before, "another_time"


def _choice(tree: dict[str, Any], step: dict[str, Any]) -> tuple[str, str, str] | None:
    if "choices" not in step or len(step["choices"]) > 8:
        return None
    step["choices"].append("NEITHER OF THEM")
    return "choice added", "none", "NEITHER OF THEM"


def _condition(tree: dict[str, Any], step: dict[str, Any]) -> tuple[str, str, str] | None:
    before = step.get("when", "none")
    step["when"] = "flight > 3.0"
    return "when", before, "flight > 3.0"


def _id(tree: dict[str, Any], step: dict[str, Any]) -> tuple[str, str, str] | None:
    before = step.get("id")
    if before is None:
        return None
    step["id"] = "quite_another_name"
    for other in tree["steps"]:
        back = other.get("put off")
        if isinstance(back, dict) and back.get("back before") == before:
            back["back before"] = "quite_another_name"
        for choice in other.get("choices", ()):
            if isinstance(choice, dict) and choice.get("back to") == before:
                choice["back to"] = "quite_another_name"
    return "id", before, "quite_another_name"


EDITS: dict[str, Edit] = {
    "response": _answer,
    "who": _set("who", "copilot", default="handling"),
    "condition": _condition,
    "wait": _wait,
    "timer": _timer,
    "choice": _choice,
    "id": _id,
    "bound": _limit(lambda side, number, unit: {side: f"{number - 3:g} {unit}"}),
    "side": _limit(_opposite),
    "unit": _limit(_unit),
}


def applies(kind: str, place: tuple[str, int]) -> bool:
    tree = deepcopy(TREES[place[0]])
    return EDITS[kind](tree, tree["steps"][place[1]]) is not None


WHERE = {kind: [place for place in PLACES if applies(kind, place)] for kind in EDITS}


@pytest.mark.parametrize("kind", EDITS)
@settings(max_examples=60)
@given(data=st.data())
def test_one_edit_of_a_step_is_one_difference(kind: str, data: st.DataObject) -> None:
    name, position = data.draw(st.sampled_from(WHERE[kind]))
    old = TREES[name]
    new = deepcopy(old)
    said = EDITS[kind](new, new["steps"][position])
    assert said is not None
    differences = found(name, old, new)
    assert len(differences) == 1, differences
    one = differences[0]
    assert one.subject == "step"
    assert one.what == (("renamed",) if kind == "id" else ("changed",))
    assert [shift[:3] for shift in one.shifts] == [said]
    ids = [item.id for item in procedure(name, new).items]
    assert one.new_id == ids[position]
    assert (one.shifts[0].note != "") is (kind == "unit")
    assert (one.shifts[0].weight == "number") is (kind in ("bound", "side", "unit", "wait"))


@settings(max_examples=60)
@given(place=st.sampled_from(PLACES), accept=st.sampled_from(["commander", "maintenance only"]))
def test_acceptance(place: tuple[str, int], accept: str) -> None:
    name, position = place
    old, new = TREES[name], deepcopy(TREES[name])
    step = new["steps"][position]
    assume(first_key(step) not in ("remark", "close") and step.get("accept") != accept)
    before, step["accept"] = step.get("accept", "none"), accept
    (one,) = found(name, old, new)
    assert [shift[:3] for shift in one.shifts] == [("accept", before, accept)]


@settings(max_examples=80)
@given(place=st.sampled_from(PLACES))
def test_a_step_added_or_gone(place: tuple[str, int]) -> None:
    name, position = place
    less, whole = TREES[name], deepcopy(TREES[name])
    added = {"challenge": "Compass deviation card", "answer": "IN ITS HOLDER"}
    whole["steps"].insert(position, added)
    (one,) = found(name, less, whole)
    assert (one.subject, one.what, one.name, one.answer) == (
        "step", ("added",), "Compass deviation card", "IN ITS HOLDER",
    )  # fmt: skip
    assert one.new_id == "compass_deviation_card"
    assert not one.old_id
    (back,) = found(name, whole, less)
    assert (back.what, back.old_id, back.new_id) == (("gone",), "compass_deviation_card", "")


@settings(max_examples=80)
@given(place=st.sampled_from(PLACES))
def test_any_step_that_is_taken_out_is_the_one_that_is_gone(place: tuple[str, int]) -> None:
    name, position = place
    old, new = TREES[name], deepcopy(TREES[name])
    assume(len(new["steps"]) > 1)
    out = new["steps"].pop(position)
    # Its heading stays, above what stands there now.
    if "section" in out and position < len(new["steps"]):
        assume("section" not in new["steps"][position])
        new["steps"][position]["section"] = out["section"]
    assume("section" not in out or position < len(new["steps"]))
    (one,) = found(name, old, new)
    assert one.what == ("gone",)
    assert one.old_id == procedure(name, old).items[position].id


@settings(max_examples=120)
@given(place=st.sampled_from(PLACES), data=st.data())
def test_a_step_that_moves(place: tuple[str, int], data: st.DataObject) -> None:
    name, position = place
    old, new = deepcopy(TREES[name]), deepcopy(TREES[name])
    for tree in (old, new):
        for step in tree["steps"]:
            step.pop("section", None)
    assume(len(new["steps"]) > 1)
    to = data.draw(st.integers(0, len(new["steps"]) - 1))
    assume(to != position)
    new["steps"].insert(to, new["steps"].pop(position))
    (one,) = found(name, old, new)
    assert one.what == ("moved",)
    assert one.place
    assert one.was
    ids = [item.id for item in procedure(name, old).items]
    # Of two neighbours that change places, either has moved.
    allowed = {position, to} if abs(position - to) == 1 else {position}
    assert one.old_id in {ids[n] for n in allowed}


@pytest.mark.parametrize("name", TREES)
def test_a_title_and_a_heading(name: str) -> None:
    old, new = TREES[name], deepcopy(TREES[name])
    new["title"] = "Another title"
    (one,) = found(name, old, new)
    assert (one.subject, one.what) == ("drill" if "drill" in old else "list", ("changed",))
    assert [s[:3] for s in one.shifts] == [("title", old["title"], "Another title")]
    for step in old["steps"]:
        if "section" in step:
            changed = deepcopy(old)
            place = old["steps"].index(step)
            changed["steps"][place]["section"] = "Quite another"
            (one,) = found(name, old, changed)
            assert (one.subject, one.what, one.name) == ("section", ("renamed",), "Quite another")


@pytest.mark.parametrize("name", TREES)
def test_a_document_equals_itself_in_other_words(name: str) -> None:
    old, new = TREES[name], deepcopy(TREES[name])
    assert found(name, old, old) == []
    for step in new["steps"]:
        if first_key(step) not in ("remark", "compute"):
            step.setdefault("who", "handling")
        if first_key(step) == "reading" and "limit" in step:
            step.setdefault("unmet", "wait")
        for side, bound in step.get("limit", {}).items():
            number, _, unit = bound.partition(" ")
            if unit == "°C":
                step["limit"][side] = f"{float(number) * 9 / 5 + 32:g} °F"
    assert found(name, old, new) == []


@pytest.mark.parametrize("kind", TYPES)
def test_an_aircraft_equals_itself(kind: str) -> None:
    parts = load_aircraft(FLOWS / kind).parts
    assert compare_aircraft(parts, parts).differences == ()


def test_a_step_that_moves_under_another_heading_has_moved_and_nothing_else() -> None:
    old = {
        "list": "l", "title": "L",
        "steps": [
            {"challenge": "Fuel", "answer": "ON", "section": "First"},
            {"challenge": "Lights", "answer": "OUT"},
            {"challenge": "Doors", "answer": "SHUT", "section": "Second"},
            {"challenge": "Belts", "answer": "FAST"},
        ],
    }  # fmt: skip
    new = deepcopy(old)
    steps: list[dict[str, Any]] = new["steps"]  # type: ignore[assignment]
    steps.append(steps.pop(1))
    (one,) = found("lists/l.yaml", old, new)
    assert (one.what, one.old_id, one.shifts) == (("moved",), "lights", ())
    assert one.place == 'after Belts, under "Second"'
    assert one.was == 'after Fuel, under "First"'


def test_a_step_between_the_same_neighbours_is_known_again_in_other_words() -> None:
    # Half of its words and nothing of its answer: only the place says that it is the same.
    def tree(*steps: tuple[str, str]) -> dict[str, Any]:
        rows = [{"challenge": words, "answer": answer} for words, answer in steps]
        return {"list": "l", "title": "L", "steps": rows}

    fuel, doors = ("Fuel", "SELECTED BOTH"), ("Doors", "SHUT")
    one, other = ("Battery master", "ON"), ("Battery switch", "CLOSED")
    (same,) = found("lists/l.yaml", tree(fuel, one, doors), tree(fuel, other, doors))
    assert [s[:3] for s in same.shifts] == [
        ("called", "Battery master", "Battery switch"), ("answer", "ON", "CLOSED"),
    ]  # fmt: skip
    apart = found("lists/l.yaml", tree(one, fuel, doors), tree(fuel, doors, other))
    assert sorted(d.what for d in apart) == [("added",), ("gone",)]
