"""The tree of values: what is read as what, and where."""

from __future__ import annotations

import pytest
import yaml

from runner.flow import nodes
from runner.flow.characters import MOST_BYTES
from runner.flow.faults import Faults, FlowErrors, Place
from runner.flow.tree import Mapping, Scalar, at, inside, key_at, plain, size


def read(data: bytes | str) -> Mapping:
    faults = Faults("syntax")
    raw = data.encode() if isinstance(data, str) else data
    node = nodes.read("one.yaml", raw, faults)
    faults.check()
    assert node is not None
    return node


def faults_of(data: bytes | str) -> list[str]:
    with pytest.raises(FlowErrors) as caught:
        read(data)
    return [fault.text for fault in caught.value.faults]


# YAML 1.2.2, section 10.3.2 (core schema), restricted as the module says: what a person may mean
# as text stays text.
@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("no", "no"),
        ("yes", "yes"),
        ("on", "on"),
        ("NO", "NO"),
        ("1:30", "1:30"),
        ("190:20:30", "190:20:30"),
        ("012", "012"),
        ("0o14", "0o14"),
        ("0x10", "0x10"),
        ("1_000", "1_000"),
        ("2026-01-02", "2026-01-02"),
        ("1.2.3", "1.2.3"),
        ("+", "+"),
        (".", "."),
        ("nan", "nan"),
        ("true", True),
        ("False", False),
        ("null", None),
        ("~", None),
        ("", None),
        ("0", 0),
        ("-7", -7),
        ("+12", 12),
        ("999999999999999", 999999999999999),
        ("1.5", 1.5),
        ("-.5", -0.5),
        ("1e3", 1000.0),
        ('"1"', "1"),
        ("'true'", "true"),
        ('""', ""),
        ("1550 rpm", "1550 rpm"),
        ("150 °C", "150 °C"),
    ],
)
def test_a_word_is_read_as_the_core_types_say(written: str, value: object) -> None:
    found = plain(read(f"key: {written}\n"))["key"]
    assert found == value
    assert type(found) is type(value)


def test_every_key_and_value_has_its_place() -> None:
    node = read("list: start\nsteps:\n  - challenge: Höhe\n    also: [A, 'B C']\n")
    assert key_at(node, "steps") == Place("one.yaml", 2, 1)
    assert at(node, "list") == Place("one.yaml", 1, 7)
    assert at(node, "steps", 0) == Place("one.yaml", 3, 5)
    assert key_at(node, "steps", 0, "also") == Place("one.yaml", 4, 5)
    assert at(node, "steps", 0, "also", 1) == Place("one.yaml", 4, 15)
    assert inside(node, 2, "steps", 0, "also", 1) == Place("one.yaml", 4, 18)
    assert at(node, "steps", 9, "also") == Place("one.yaml", 3, 3)
    assert key_at(node, "none", "at all") == Place("one.yaml", 1, 1)


def test_a_character_of_folded_text_is_placed_at_the_text() -> None:
    node = read('when: >-\n  a\n  b\nthen: "a\\u0041b"\n')
    assert inside(node, 2, "when") == at(node, "when")
    assert inside(node, 2, "then") == at(node, "then")
    assert inside(node, 99, "then") == at(node, "then")


def test_keys_keep_their_order() -> None:
    assert list(read("b: 1\na: 2\nc: 3\n").values) == ["b", "a", "c"]


def test_size_counts_every_value() -> None:
    assert size(read("a: [1, 2, {b: 3}]\n")) == 6


@pytest.mark.parametrize("start", [b"", b"\xef\xbb\xbf"])
def test_a_byte_order_mark_and_crlf_change_nothing(start: bytes) -> None:
    node = read(start + b"a: 1\r\nb:\r\n  - x\r\n")
    assert plain(node) == {"a": 1, "b": ["x"]}
    assert at(node, "b", 0) == Place("one.yaml", 3, 5)
    assert at(node, "a") == Place("one.yaml", 1, 4)


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"a: 1\nb: x\xe9\n", "one.yaml:2:5: the document is not UTF-8, found the byte 0xe9"),
        ("ä: x\n".encode() + b"\xff", "one.yaml:2:1: the document is not UTF-8"),
        ("a: 1\n".encode("utf-16"), "one.yaml:1:1: the document is UTF-16"),
        (b"a: \xed\xa0\x80\n", "one.yaml:1:4: the document is not UTF-8"),
        (b"a: x\rb: y\n", "one.yaml:1:5: a character that cannot be seen, found U+000D"),
        (b"a: x\x00\n", "one.yaml:1:5: a character that cannot be seen, found U+0000"),
        ("a: x\u2028y\n".encode(), "one.yaml:1:5: a character that cannot be seen, found U+2028"),
        ("a: x\u0085y\n".encode(), "one.yaml:1:5: a character that cannot be seen, found U+0085"),
        ("a: \ufeffx\n".encode(), "one.yaml:1:4: a character that cannot be seen, found U+FEFF"),
        (b'a: "x\\0"\n', "one.yaml:1:4: a character that cannot be seen, found U+0000"),
    ],
)
def test_bytes_that_may_not_stand_there_are_placed(data: bytes, text: str) -> None:
    assert [line for line in faults_of(data) if line.startswith(text)]


def test_every_line_with_a_tab_is_told() -> None:
    assert faults_of("a:\n\tb: 1\n\tc: 2\n") == [
        "one.yaml:2:1: a tab; allowed: spaces; replace every tab by spaces",
        "one.yaml:3:1: a tab; allowed: spaces; replace every tab by spaces",
    ]


def test_the_longest_document_is_read_and_one_byte_more_is_not() -> None:
    start = b"a: 1\n#"
    longest = start + b"x" * (MOST_BYTES - len(start))
    assert plain(read(longest)) == {"a": 1}
    (fault,) = faults_of(longest + b"x")
    assert fault.startswith("one.yaml:1:1: the document is too long, found 1048577 bytes")


def test_forty_levels_are_read_and_one_more_is_not() -> None:
    deepest = "a: " + "[" * 39 + "]" * 39
    node: object = plain(read(deepest))
    assert isinstance(node, dict)
    (fault,) = faults_of("a: " + "[" * 40 + "]" * 40)
    assert fault == "one.yaml:1:43: too many levels; allowed: at most 40"


def test_the_values_of_a_document_are_counted() -> None:
    assert size(read("a: [" + "1," * 19_000 + "1]\n")) == 19_003
    (fault,) = faults_of("a: [" + "1," * 20_000 + "1]\n")
    assert ": too many values; allowed: at most 20000 a document" in fault


def test_a_reading_goes_on_behind_a_fault() -> None:
    found = faults_of("a: 1\na: 2\nb: .inf\nc: &x 1\nd: *x\n")
    assert [line.split(": ")[0] for line in found] == [
        "one.yaml:2:1",
        "one.yaml:3:4",
        "one.yaml:4:4",
        "one.yaml:5:4",
    ]


def test_only_the_first_faults_are_kept_and_the_rest_counted() -> None:
    with pytest.raises(FlowErrors) as caught:
        read("a: [" + ".nan," * 150 + "]\n")
    assert len(caught.value.faults) == 100
    assert caught.value.omitted == 50
    assert str(caught.value).endswith("and 50 more faults")


def test_a_line_made_to_be_slow_is_not_looked_at() -> None:
    (fault,) = faults_of("- " * 30 + "a: " + "b: " * 300 + "\n")
    assert "a colon where no key can stand" in fault


def test_a_scalar_says_what_was_written() -> None:
    node = read("a: 1.50\n").values["a"]
    assert isinstance(node, Scalar)
    assert (node.value, node.text, node.lead) == (1.5, "1.50", 0)


def test_whatever_else_the_parser_refuses_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> object:
        raise yaml.YAMLError("for no reason that we know")

    monkeypatch.setattr(yaml, "CSafeLoader", refuse)
    assert faults_of("a: 1\n") == ["one.yaml:1:1: this cannot be read as YAML"]
