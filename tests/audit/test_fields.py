"""Every field of every line of a good log, gone, doubled with another, or of another kind.

The shapes are asked one by one, so that no other check of the verifier can answer for them.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from audit import canonical, shapes
from audit.errors import Fault
from audit.line import TYPES, parse
from tests.audit.helpers import Forge, Person, event, public

# objects and lists whose content is the engine's, not the format's
FREE = {"carried", "event", "outcome"}
APPROVER = Person("Standards Pilot")


def good(whole: tuple[Path, list[Person]]) -> Iterator[tuple[str, dict[str, Any]]]:
    for row in whole[0].read_bytes().splitlines(keepends=True):
        read = parse(row)
        yield read.type, read.data
    forge = Forge([Person("One"), Person("Two")])
    sig = canonical.base64_text(APPROVER.sign("approve@latchword-v1", b""))
    approval = {"key": APPROVER.public_line, "name": APPROVER.name, "sig": sig}
    documents = [{"approval": approval, "name": "before start", "sha256": "1" * 64}]
    checkpoint = {"origin": "o", "root": canonical.base64_text(bytes(32)), "size": 1}
    yield (
        "open",
        forge.opening(documents=documents, checkpoint=checkpoint, run_seq=2, prev_run="run-1"),
    )
    residue = [{"length": 1, "name": "a", "sha256": "1" * 64}]
    yield "resume", {
        "gap": 1, "head": "1" * 64, "key0": public(forge.key), "line": 1, "residue": residue,
    }  # fmt: skip


def changed(data: Any, free: bool = False) -> Iterator[Any]:
    """`data` with one thing in it of a kind that no field has, missing, or too much."""
    yield object()
    if type(data) is dict and not free:
        for field, value in data.items():
            for other in changed(value, field in FREE):
                yield {**data, field: other}
        for field in data:
            if field not in ("heard", "crew_change"):
                yield {key: value for key, value in data.items() if key != field}
        yield {**data, "surplus": 1}
    if type(data) is list and not free:
        for at, value in enumerate(data):
            for other in changed(value):
                yield [*data[:at], other, *data[at + 1 :]]


def test_a_field_of_another_kind_anywhere_is_refused(whole: tuple[Path, list[Person]]) -> None:
    number = 0
    types = set()
    for type_, data in good(whole):
        types.add(type_)
        shapes.BY_TYPE[type_](copy.deepcopy(data))
        for bad in list(changed(data))[1:]:
            number += 1
            with pytest.raises(Fault):
                shapes.BY_TYPE[type_](bad)
    assert types == set(TYPES)
    assert number > 200


@pytest.mark.parametrize(
    "modes", [["crew", "zeal"], ["zeal"], [], ["scripted"], ["crew", "solo"], ["scripted", "crew"]]
)
def test_modes_that_are_none(modes: list[str]) -> None:
    with pytest.raises(Fault):
        shapes._modes(modes)
    shapes._modes(["crew", "scripted"])


ENVELOPES: list[tuple[dict[str, Any], str]] = [
    ({"mono": -1}, "stamp"),
    ({"boot": "é"}, "stamp"),
    ({"boot": "a b"}, "stamp"),
    ({"boot": "a_b"}, "stamp"),
    ({"boot": ""}, "stamp"),
    ({"seq": -1}, "shape"),
]


@pytest.mark.parametrize(("changes", "code"), ENVELOPES, ids=str)
def test_an_envelope_that_is_read_by_itself(changes: dict[str, Any], code: str) -> None:
    forge = Forge([Person("One"), Person("Two")])
    row = forge.add("event", event(), **changes).rows[0]
    with pytest.raises(Fault) as caught:
        parse(row)
    assert caught.value.code == code


def test_a_frame_that_is_read_by_itself() -> None:
    row = Forge([Person("One"), Person("Two")]).add("event", event()).rows[0]
    parse(row)
    for bad, code in (
        (row[:-2] + b"]\n", "frame"),
        (row[:-3] + b"'}\n", "frame"),
        (b"[" + row[1:], "frame"),
        (row.replace(b',"sig":"', b',"sog":"'), "frame"),
        (row[:-6] + b"B" + row[-5:], "base64"),  # of the last letter's six bits four are loose
        (row[:-5] + b"A" + row[-4:], "base64"),
    ):
        with pytest.raises(Fault) as caught:
            parse(bad)
        assert caught.value.code == code, bad
