"""Every event has one wire form that reads back as the event, and what is none is refused."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine import events as ev
from runner.engine.errors import BadEvent
from runner.engine.wire import read_event, write_event


def texts() -> st.SearchStrategy[str]:
    """Texts of any alphabet; those that no event takes are filtered by the event itself."""
    return st.text(max_size=30)


@st.composite
def any_event(draw: st.DrawFn) -> ev.Event | None:
    kind = draw(st.sampled_from(ev.ALL))
    fields: dict[str, object] = {}
    for name, form in kind.shape:
        fields[name] = draw({
            "int": st.integers(0, 2**53 - 1), "bool": st.booleans(), "str": texts(),
            "Names": st.lists(texts(), max_size=3).map(tuple),
            "Pairs": st.lists(st.tuples(texts(), texts()), max_size=3).map(tuple),
        }[form])  # fmt: skip
    try:
        return kind(**fields)  # type: ignore[arg-type]
    except BadEvent:
        return None


@settings(max_examples=400, derandomize=True, database=None)
@given(any_event())
def test_every_event_reads_back_from_its_wire_form(event: ev.Event | None) -> None:
    if event is not None:
        wire = json.loads(json.dumps(write_event(event)))
        assert read_event(wire) == event
        assert write_event(read_event(wire)) == write_event(event)


@pytest.mark.parametrize(
    "wire",
    [
        {}, {"kind": "nothing", "at": 1}, {"kind": "answer"}, {"kind": "answer", "at": -1},
        {"kind": "answer", "at": 1.5}, {"kind": "answer", "at": True},
        {"kind": "answer", "at": 1, "value": "a\nb"}, {"kind": "answer", "at": 1, "value": 5},
        {"kind": "answer", "at": 1, "colour": "red"}, {"kind": "answer", "at": 1, "sure": "yes"},
        {"kind": "answer", "at": 2**53}, {"kind": "opened", "at": 1, "crew": [["commander"]]},
        {"kind": "snag", "at": 1, "text": "x" * 201}, {"kind": "snag", "at": 1, "text": "e\u0301"},
    ],
)  # fmt: skip
def test_what_is_no_event_is_refused_when_it_is_made(wire: dict[str, object]) -> None:
    with pytest.raises(BadEvent):
        read_event(wire)
