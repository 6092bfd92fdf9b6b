"""Faults of shape: whatever the models refuse is told in our words, at its place."""

from __future__ import annotations

from typing import Annotated, Any

import pytest

from runner.flow import nodes, shape
from runner.flow.faults import Faults, FlowErrors
from runner.flow.fields import fault as of_field
from runner.flow.forms import Field, Leaf, Strict
from runner.flow.model import ListDoc
from runner.flow.tree import Mapping


def even(value: Any) -> int:
    if not isinstance(value, int) or value % 2:
        raise of_field("an odd number", allowed="0, 2, 4 …")
    return value


class Even(Strict):
    """A form with a rule that no document has."""

    count: Annotated[int, Leaf(even, {"type": "integer"}, text=False)] = Field(
        0, description="an even number"
    )


def tree(text: str) -> Mapping:
    node = nodes.read("one.yaml", text.encode(), Faults("syntax"))
    assert node is not None
    return node


def faults_of(model: type[Strict], text: str) -> list[str]:
    faults = Faults("shape")
    assert shape.validate(model, tree(text), faults) is None
    with pytest.raises(FlowErrors) as caught:
        faults.check()
    assert {fault.stage for fault in caught.value.faults} == {"shape"}
    return [fault.text for fault in caught.value.faults]


def test_a_rule_of_a_field_is_told_in_its_words_at_its_place() -> None:
    (told,) = faults_of(Even, "count: 3\n")
    assert told == ("one.yaml:1:8: 'count': an odd number, found the number 3; allowed: 0, 2, 4 …")


def test_a_right_document_is_read_and_notes_nothing() -> None:
    faults = Faults("shape")
    made = shape.validate(Even, tree("count: 4\n"), faults)
    assert made == Even.made({"count": 4})
    assert made is not None
    assert made.count == 4
    assert not faults


def test_an_empty_value_is_told_once_and_never_a_default() -> None:
    (fault,) = faults_of(Even, "count:\n")
    assert fault == "one.yaml:1:1: the key 'count' has no value"


def test_all_faults_of_a_document_come_at_once() -> None:
    faults = faults_of(
        ListDoc,
        "list: Work\nphase: 7\nsteps:\n  - challenge: A\n"
        "  - wait: B\n    for: soon\n    fro: 1 s\n",
    )
    assert [fault.split(": ")[0] for fault in faults] == [
        "one.yaml:1:1",
        "one.yaml:1:7",
        "one.yaml:2:8",
        "one.yaml:4:5",
        "one.yaml:6:10",
        "one.yaml:7:5",
    ]
    assert "did you mean for?" in faults[-1]


@pytest.mark.parametrize(
    "text", ["steps: {a: 1}\n", "steps: 3\n", "steps: [[1]]\n", "steps: [3]\n"]
)
def test_no_union_tag_or_name_of_a_model_reaches_the_author(text: str) -> None:
    for fault in faults_of(ListDoc, "list: work\ntitle: Work\n" + text):
        assert "Doc" not in fault
        assert "'=" not in fault


@pytest.mark.parametrize("written", ["1", "1.0", "'true'", "yes", "false"])
def test_only_true_is_true(written: str) -> None:
    text = f"list: work\ntitle: Work\nany order: {written}\nsteps: [{{close: Work}}]\n"
    (told,) = faults_of(ListDoc, text)
    assert told.startswith("one.yaml:3:12: 'any order' cannot be this, found ")
    assert "; allowed: true" in told


def test_a_key_is_known_by_its_spelling_alone() -> None:
    told = faults_of(ListDoc, "list_: work\ntitle: Work\nsteps: [{close: Work}]\n")
    assert [fault.partition(";")[0] for fault in told] == [
        "one.yaml:1:1: the key 'list' is missing",
        "one.yaml:1:1: unknown key 'list_'",
    ]


def test_entries_that_are_wrong_are_told_before_there_being_too_few_of_them() -> None:
    start = "list: work\ntitle: Work\nsteps: [{choose: A, as: a, choices: "
    (told,) = faults_of(ListDoc, start + "[7]}]\n")
    assert told == (
        "one.yaml:3:38: 'choices' is not text, found the number 7; write it in quotes: \"7\""
    )
    (told,) = faults_of(ListDoc, start + "[A]}]\n")
    assert told == "one.yaml:3:37: 'choices' has 1 entries; allowed: at least 2"
    (told,) = faults_of(ListDoc, start + str(list(range(10))) + "}]\n")
    assert told == "one.yaml:3:37: 'choices' has 10 entries; allowed: at most 9"


def test_what_was_read_is_never_changed() -> None:
    made = Even.made({"count": 4})
    with pytest.raises(AttributeError, match="never changed"):
        made.count = 6
    assert made.count == 4
