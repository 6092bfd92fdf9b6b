"""Faults of shape: whatever the models refuse is told in our words, at its place."""

from __future__ import annotations

from typing import Annotated

import pytest
from pydantic import Field

from runner.flow import nodes, shape
from runner.flow.faults import Faults, FlowErrors
from runner.flow.model import ListDoc
from runner.flow.parts import Strict
from runner.flow.tree import Mapping


class Even(Strict):
    """A model with a rule that no document has."""

    count: Annotated[int, Field(multiple_of=2)] = 0


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


def test_a_rule_without_words_of_ours_is_placed_all_the_same() -> None:
    (fault,) = faults_of(Even, "count: 3\n")
    assert fault.startswith("one.yaml:1:8: 'count': ")
    assert fault.endswith(", found the number 3")


def test_a_right_document_is_read_and_notes_nothing() -> None:
    faults = Faults("shape")
    made = shape.validate(Even, tree("count: 4\n"), faults)
    assert made == Even(count=4)
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
        assert "pydantic" not in fault
