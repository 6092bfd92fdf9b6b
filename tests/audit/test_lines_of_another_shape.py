"""Lines of another shape, order or spelling than format 1 has: each refused, by its code.

The forger of `helpers.Forge` signs whatever it writes; what is wrong is what the line says.
"""

from typing import Any

import pytest

from audit import canonical
from audit.line import LONGEST, TYPES
from audit.stamps import Stamp
from tests.audit.helpers import START_MS, Forge, Person, check, code_of, event, public

RESUME_FAULTS: list[tuple[dict[str, Any], str]] = [
    ({"residue": {}}, "shape"),
    ({"residue": [{"length": 1, "name": "../x", "sha256": "1" * 64}]}, "shape"),
    ({"residue": [{"length": 1, "name": "x"}]}, "shape"),
    ({"gap": -1}, "shape"),
    ({"gap": "1"}, "shape"),
    ({"head": 1}, "shape"),
    ({"line": "2"}, "shape"),
    ({"extra": 1}, "shape"),
    ({"key0": "x"}, "base64"),
]


@pytest.mark.parametrize(("changes", "code"), RESUME_FAULTS, ids=str)
def test_a_resume_of_another_shape(crew: list[Person], changes: dict[str, Any], code: str) -> None:
    assert code_of(Forge(crew).open().resume(**changes).log) == code


GOOD_OPENING: dict[str, Any] = Forge([Person("One"), Person("Two")]).opening()


def approved(**changes: Any) -> dict[str, Any]:
    approval = {"key": Person("x").public_line, "name": "x", "sig": "AAAA", **changes}
    return {"documents": [{"approval": approval, "name": "x", "sha256": "1" * 64}]}


OPENING_FAULTS: list[tuple[dict[str, Any], str]] = [
    ({"extra": 1}, "shape"),
    ({"carried": []}, "shape"),
    ({"checkpoint": 1}, "shape"),
    ({"checkpoint": {"origin": "", "root": "AA==", "size": 1}}, "shape"),
    ({"checkpoint": {"origin": "x", "root": "AA==", "size": 1}}, "base64"),
    ({"checkpoint": {"origin": "x", "root": "AA==", "size": 0}}, "shape"),
    ({"device": "D" * 64}, "shape"),
    ({"documents": {}}, "shape"),
    ({"documents": [{"approval": None, "name": "", "sha256": "1" * 64}]}, "shape"),
    ({"documents": [{"approval": None, "name": "x", "sha256": "1"}]}, "shape"),
    ({"documents": [{"approval": {}, "name": "x", "sha256": "1" * 64}]}, "shape"),
    ({"documents": [{"approval": None, "name": "x", "sha256": "1" * 64}] * 2}, "shape"),
    ({"key0": 1}, "base64"),
    ({"key0": ""}, "base64"),
    ({"lexicon": None}, "shape"),
    ({"modes": ["crew", "demonstration", "demonstration"]}, "shape"),
    ({"modes": ["demonstration"]}, "shape"),
    ({"modes": [1]}, "shape"),
    ({"modes": [[]]}, "shape"),
    (approved(name="a,b"), "name"),
    (approved(key="x"), "sshsig"),
    (approved(key=1), "shape"),
    (approved(sig="x"), "base64"),
    (approved(extra=1), "shape"),
    ({"prev_run": "a-run"}, "shape"),
    ({"run_seq": 2}, "shape"),
    ({"run_seq": 0}, "shape"),
    ({"run_seq": True}, "shape"),
    ({"run": "../x"}, "shape"),
    ({"run": "X"}, "shape"),
    ({"roster": []}, "shape"),
    ({"roster": [{"key": "", "name": "One", "role": "commander"}]}, "sshsig"),
    ({"roster": [{"name": "One", "role": "commander"}]}, "shape"),
    ({"roster": [{"key": 1, "name": "One", "role": "commander"}]}, "shape"),
    ({"roster": ["One"]}, "shape"),
    ({"rules": 0}, "shape"),
    ({"rules": "1"}, "shape"),
]


@pytest.mark.parametrize(("changes", "code"), OPENING_FAULTS, ids=str)
def test_an_opening_of_another_shape(
    crew: list[Person], changes: dict[str, Any], code: str
) -> None:
    forge = Forge(crew)
    assert code_of(forge.add("open", forge.opening(**changes)).log) == code


def test_rosters_of_another_shape(crew: list[Person]) -> None:
    one, two = crew
    rows = [
        {"key": one.public_line, "name": one.name, "role": "commander"},
        {"key": two.public_line, "name": two.name, "role": "copilot"},
    ]
    attempts: list[tuple[list[dict[str, str]], list[str], str]] = [
        ([rows[0], {**rows[1], "role": "commander"}], ["crew"], "roster"),
        ([rows[0], {**rows[1], "name": one.name}], ["crew"], "roster"),
        ([rows[0], {**rows[1], "name": "a,b"}], ["crew"], "name"),
        ([rows[0], {**rows[1], "role": "Copilot"}], ["crew"], "shape"),
        ([rows[0], {**rows[1], "key": two.public_line + " x"}], ["crew"], "shape"),
        ([rows[0]], ["crew"], "roster"),
        (rows[1:], ["single-pilot"], "roster"),
        (rows, ["solo"], "roster"),
        (
            [*rows, {"key": Person("x").public_line, "name": two.name, "role": "ground"}],
            ["crew"],
            "roster",
        ),
    ]
    for roster, modes, code in attempts:
        forge = Forge(crew, modes=modes)
        assert code_of(forge.add("open", forge.opening(roster=roster)).log) == code


EVENT_FAULTS: list[tuple[dict[str, Any], str]] = [
    ({"extra": 1}, "shape"),
    ({"event": 1}, "shape"),
    ({"outcome": {}}, "shape"),
    ({"state": "a" * 63}, "shape"),
    ({"heard": "x" * 201}, "shape"),
    ({"heard": None}, "shape"),
    ({"crew_change": None}, "shape"),
    ({"crew_change": {"name": "x"}}, "shape"),
    ({"outcome": ["e\u0301"]}, "profile"),
    ({"outcome": ["\u202e"]}, "profile"),
    ({"event": {"Upper": 1}}, "profile"),
    ({"event": {"f": 1.5}}, "profile"),
]


@pytest.mark.parametrize(("changes", "code"), EVENT_FAULTS, ids=str)
def test_an_event_of_another_shape(crew: list[Person], changes: dict[str, Any], code: str) -> None:
    assert code_of(Forge(crew).open().add("event", {**event(), **changes}).log) == code


def test_two_hundred_heard_characters_are_allowed(crew: list[Person]) -> None:
    log = Forge(crew).open().add("event", event(heard="ä" * 200)).close().log
    assert check(log, crew).result == "closed"


OTHER_FAULTS: list[tuple[str, dict[str, Any], str]] = [
    ("attach", {"length": 1, "name": "a", "sha256": "1" * 64, "extra": 1}, "shape"),
    ("attach", {"length": "1", "name": "a", "sha256": "1" * 64}, "shape"),
    ("attach", {"length": -1, "name": "a", "sha256": "1" * 64}, "shape"),
    ("attach", {"length": 1, "name": "../a", "sha256": "1" * 64}, "shape"),
    ("attach", {"length": 1, "name": "a/b", "sha256": "1" * 64}, "shape"),
    ("attach", {"length": 1, "name": "", "sha256": "1" * 64}, "shape"),
    ("attach", {"length": 1, "name": "a", "sha256": "x"}, "shape"),
    ("close", {"acceptances": [0], "count": 4}, "shape"),
    ("close", {"acceptances": [1], "count": 4}, "acceptance"),
    ("close", {"acceptances": [4], "count": 4}, "acceptance"),
    ("close", {"acceptances": [3, 3], "count": 4}, "shape"),
    ("close", {"acceptances": ["3"], "count": 4}, "shape"),
    ("close", {"acceptances": [], "count": 3}, "count"),
    ("close", {"acceptances": [], "count": 5}, "count"),
    ("close", {"count": 4}, "shape"),
    ("close-sig", {"line": 3, "name": "Maren Holt", "sig": ""}, "order"),
    ("resume-sig", {"line": 3, "name": "Maren Holt", "sig": ""}, "order"),
    ("open-sig", {"line": 0, "name": "Maren Holt", "sig": ""}, "order"),
    ("open-sig", {"line": 0, "name": "Maren Holt"}, "shape"),
    ("open", GOOD_OPENING, "order"),
    ("remark", {}, "type"),
]


@pytest.mark.parametrize(("type", "data", "code"), OTHER_FAULTS, ids=str)
def test_other_lines_of_another_shape(
    crew: list[Person], type: str, data: dict[str, Any], code: str
) -> None:
    forge = Forge(crew).open().add("event", event())
    if type == "open":
        data = {**data, "key0": public(forge.key)}
    assert code_of(forge.add(type, data).log) == code


ALLOWED = {
    "empty": {"open"},
    "opening": {"open-sig"},
    "running": {"event", "attach", "resume", "close"},
    "closing": {"close-sig", "resume"},
}


@pytest.mark.parametrize("phase", ALLOWED)
@pytest.mark.parametrize("type", TYPES)
def test_every_type_of_line_where_it_may_stand_and_nowhere_else(
    crew: list[Person], phase: str, type: str
) -> None:
    forge = Forge(crew)
    if phase == "opening":
        forge.add("open", forge.opening())
    elif phase != "empty":
        forge.open()
    if phase == "closing":
        forge.add("close", {"acceptances": [], "count": 3})
    number = len(forge.rows) - 1
    if type == "open":
        forge.add("open", forge.opening())
    elif type == "resume":
        forge.resume(line=max(number, 0))
    elif type.endswith("-sig"):
        forge.sign(type, crew[0], max(number, 0), message=(forge.rows or [b""])[-1])
    else:
        data: dict[str, dict[str, Any]] = {
            "event": event(),
            "attach": {"length": 1, "name": "a", "sha256": "1" * 64},
            "close": {"acceptances": [], "count": max(number + 1, 1)},
        }
        forge.add(type, data[type])
    if type in ALLOWED[phase]:
        assert check(forge.log, crew).result == "unclosed"
    else:
        assert code_of(forge.log) == "order"


ENVELOPE_FAULTS: list[tuple[dict[str, Any], str]] = [
    ({"seq": 4}, "seq"),
    ({"seq": 2}, "seq"),
    ({"seq": "3"}, "shape"),
    ({"seq": -1}, "shape"),
    ({"prev": "0" * 64}, "prev"),
    ({"prev": "0" * 63}, "shape"),
    ({"next": ""}, "next"),
    ({"next": "x"}, "base64"),
    ({"next": []}, "base64"),
    ({"next": None}, "base64"),
    ({"next": 0}, "base64"),
    ({"next": "A" * 43 + "=" + "="}, "base64"),
    ({"boot": ""}, "stamp"),
    ({"boot": "x" * 65}, "stamp"),
    ({"boot": "a b"}, "stamp"),
    ({"boot": 1}, "stamp"),
    ({"mono": -1}, "stamp"),
    ({"mono": "1"}, "stamp"),
    ({"mono": 1}, "stamp"),
    ({"wall": 1}, "stamp"),
    ({"wall": "2026-11-24T21:50:03Z"}, "stamp"),
    ({"wall": "2026-11-24T21:50:03.4120"}, "stamp"),
    ({"wall": "2026-11-31T21:50:03.412Z"}, "stamp"),
    ({"wall": "1969-11-30T21:50:03.412Z"}, "stamp"),
    ({"wall": "2026-11-24 21:50:03.412Z"}, "stamp"),
    ({"type": "Event"}, "type"),
    ({"type": 1}, "type"),
    ({"data": []}, "shape"),
    ({"extra": 1}, "shape"),
]


@pytest.mark.parametrize(("changes", "code"), ENVELOPE_FAULTS, ids=str)
def test_an_envelope_of_another_shape(
    crew: list[Person], changes: dict[str, Any], code: str
) -> None:
    assert code_of(Forge(crew).open().add("event", event(), **changes).log) == code


@pytest.mark.parametrize("type", TYPES)
@pytest.mark.parametrize("data", [[], "x", 1, None, {}])
def test_data_of_another_kind(crew: list[Person], type: str, data: Any) -> None:
    forge = Forge(crew)
    if type == "open":
        log = forge.add("open", {}, data=data).log
    elif type == "open-sig":
        log = forge.add("open", forge.opening()).add(type, {}, data=data).log
    else:
        log = forge.open().add(type, {}, data=data).log
    assert code_of(log) in ("shape", "format", "base64")


def test_spellings_that_are_not_the_one(crew: list[Person]) -> None:
    good = Forge(crew).open().add("event", event())
    body = good.rows[3][8:-99]
    assert canonical.spell(canonical.read(body)) == body
    for changed in (
        body.replace(b'"seq":3', b'"seq": 3'),
        body.replace(b'"seq":3', b'"seq":3,"seq":3'),
        body.replace(b'"text":"1600"', b'"text":"\\u0031600"'),
        b'{"wall":"x",' + body[1:],
    ):
        forge = Forge(crew).open()
        forge.put(changed, forge.key)
        assert code_of(forge.log) == "canonical"
    for changed in (b"[]", b"1", b'"x"', b"{}"):
        forge = Forge(crew).open()
        forge.put(changed, forge.key)
        assert code_of(forge.log) == "shape"


def test_lines_that_are_none(crew: list[Person]) -> None:
    forge = Forge(crew).open()
    row = forge.add("event", event()).rows.pop()
    for changed, code in (
        (row.replace(b'{"body":', b'{"bady":'), "frame"),
        (row[:-1] + b"\r\n", "frame"),
        (row[:-3] + b' "}\n', "frame"),
        (b"\xef\xbb\xbf" + row, "frame"),
        (b"\n", "frame"),
        (b"x" * (1 << 20) + b"\n", "length"),
        (b"x" * (3 << 20) + b"\n", "length"),
        (row[:-4] + b'\xff"}\n', "base64"),
    ):
        assert code_of(forge.log + changed) == code
    assert check(forge.log + b"x" * (3 << 20), crew).result == "torn"


def test_the_longest_line(crew: list[Person]) -> None:
    stamp = Stamp(START_MS + 10_000, 11_000, "b")

    def padded(pad: int) -> Forge:
        return Forge(crew).open().add("event", event(event={"pad": "x" * pad}), stamp=stamp)

    room = LONGEST - len(padded(0).rows[-1])
    assert len(padded(room).rows[-1]) == LONGEST
    assert check(padded(room).log, crew).result == "unclosed"
    assert code_of(padded(room + 1).log) == "length"
