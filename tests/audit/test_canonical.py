"""The canonical profile against the package `rfc8785`, the oracle for RFC 8785."""

import contextlib
import json
import unicodedata
from typing import Any

import orjson
import pytest
import rfc8785
from hypothesis import example, given
from hypothesis import strategies as st

from audit import canonical
from audit.errors import Fault

BIDI = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


def _in_profile(text: str) -> bool:
    return (
        unicodedata.is_normalized("NFC", text)
        and not any(unicodedata.category(character) in ("Cc", "Cs") for character in text)
        and not set(text) & set(BIDI)
    )


texts = st.text().filter(_in_profile)
keys = st.text(alphabet="abcdefghijklmnopqrstuvwxyz0123456789_", min_size=1, max_size=8)
values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-canonical.LARGEST_INTEGER, canonical.LARGEST_INTEGER)
    | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(keys, inner, max_size=5),
    max_leaves=12,
)


@given(values)
@example({"a_": 1, "a0": 2, "a": 3, "0": 'é\\"/', "_": [True, None, -(2**53 - 1)]})
def test_spelling_is_the_one_of_rfc_8785(value: Any) -> None:
    canonical.check(value)
    spelled = canonical.spell(value)
    assert spelled == rfc8785.dumps(value)
    assert canonical.read(spelled) == value


def test_the_example_of_rfc_8785() -> None:
    """Sections 3.2.2 and 3.2.4, typed from memory; the bytes of 3.2.4 judge the oracle too.

    The example is outside our profile by its decimals and its control characters, and both are
    refused by name; what is left of it is spelled as there.
    """
    text = (
        '{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],'
        ' "string": "\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/",'
        ' "literals": [null, true, false]}'
    )
    value = json.loads(text)
    published = bytes.fromhex(
        "7b226c69746572616c73223a5b6e756c6c2c747275652c66616c73655d2c226e"
        "756d62657273223a5b3333333333333333332e333333333333332c31652b3330"
        "2c342e352c302e3030322c31652d32375d2c22737472696e67223a22e282ac24"
        "5c75303030665c6e4127425c225c5c5c5c5c222f227d"
    )
    assert rfc8785.dumps(value) == published
    for part in (value["numbers"], value["string"]):
        with pytest.raises(Fault) as caught:
            canonical.check(part)
        assert caught.value.code == "profile"
    inside = {"literals": value["literals"], "string": value["string"].replace("\x0f\n", "")}
    canonical.check(inside)
    # the same bytes, without the numbers and without the two control characters
    left = published.replace(b'"numbers":' + rfc8785.dumps(value["numbers"]) + b",", b"")
    assert canonical.spell(inside) == left.replace(b"\\u000f\\n", b"")


@given(st.text())
def test_text_is_allowed_exactly_by_the_rule(text: str) -> None:
    if _in_profile(text):
        canonical.check_text(text)
    else:
        with pytest.raises(Fault) as caught:
            canonical.check_text(text)
        assert caught.value.code == "profile"


@given(st.text(), st.integers(0, 300))
def test_tidied_text_is_in_the_profile(text: str, limit: int) -> None:
    tidied = canonical.tidy(text, limit)
    assert _in_profile(tidied)
    assert len(tidied) <= limit
    if _in_profile(text) and len(text) <= limit:
        assert tidied == text


def _nested(levels: int) -> Any:
    value: Any = 1
    for _ in range(levels):
        value = [value]
    return value


def _nested_objects(levels: int) -> Any:
    value: Any = 1
    for _ in range(levels):
        value = {"a": value}
    return value


@pytest.mark.parametrize(
    "value",
    [
        1.0,
        float("nan"),
        2**53,
        -(2**53),
        {"A": 1},
        {"": 1},
        {"a-b": 1},
        {"ä": 1},
        {1: 2},
        "\x7f",
        "\u0085",
        "e\u0301",
        "\u202e",
        "\ud800",
        [["ok", "\x00"]],
        b"bytes",
        (1, 2),
        {"a": object()},
        _nested(33),
        _nested_objects(33),
    ],
)
def test_what_the_profile_leaves_out_is_refused(value: Any) -> None:
    with pytest.raises(Fault) as caught:
        canonical.check(value)
    assert caught.value.code == "profile"


def test_thirty_two_levels_are_allowed() -> None:
    canonical.check(_nested(32))
    canonical.check(_nested_objects(32))


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (b'{"a":1,"a":1}', "canonical"),
        (b'{"b":1,"a":1}', "canonical"),
        (b'{"a": 1}', "canonical"),
        (b'{"a":1}\n', "canonical"),
        (b'{"a":"\\u0061"}', "canonical"),
        (b'{"a":"\\/"}', "canonical"),
        (b'{"a":1E2}', "canonical"),
        (b'{"a":1.50}', "canonical"),
        (b'{"a":-0}', "canonical"),
        (b"\xef\xbb\xbf{}", "json"),
        (b'{"a":01}', "json"),
        (b'{"a":"\xff"}', "json"),
        (b'{"a":"\\ud800"}', "json"),
        (b'{"a":NaN}', "json"),
        (b"", "json"),
        (b"{" * 100_000, "json"),
        (b"9007199254740992", "profile"),
    ],
)
def test_other_spellings_are_refused(text: bytes, code: str) -> None:
    with pytest.raises(Fault) as caught:
        canonical.read(text)
    assert caught.value.code == code


@given(values, st.data())
def test_a_space_anywhere_is_refused(value: Any, data: st.DataObject) -> None:
    text = json.dumps(orjson.loads(canonical.spell(value)), separators=(" ,", ": "))
    if text.encode() != canonical.spell(value):
        with pytest.raises(Fault):
            canonical.read(text.encode())


@given(st.binary(min_size=1, max_size=70), st.data())
def test_base64_has_one_spelling(raw: bytes, data: st.DataObject) -> None:
    text = canonical.base64_text(raw)
    assert canonical.base64_bytes(text, len(raw)) == raw
    at = data.draw(st.integers(0, len(text) - 1))
    other = data.draw(st.characters(codec="latin-1"))
    changed = text[:at] + other + text[at + 1 :]
    with contextlib.suppress(Fault):
        # whatever decodes stands for other bytes: no two spellings of one value
        decoded = canonical.base64_bytes(changed, len(raw))
        assert (decoded == raw) == (changed == text)


@pytest.mark.parametrize("text", ["QQ", "QR==", "QQ==\n", " QQ==", "QQ==QQ==", "Q-==", "=", 7, "é"])
def test_loose_base64_is_refused(text: Any) -> None:
    with pytest.raises(Fault):
        canonical.base64_bytes(text)


def _any_inside(inner: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4)


@given(
    st.recursive(st.none() | st.booleans() | st.integers() | st.text() | st.floats(), _any_inside)
)
@example({"a": "\x7f"})
@example({"a": "\x1f"})
@example(["\x80"])
@example(["a", {"a": ["\u202e"]}])
@example({"a": "\\"})
def test_what_is_plain_in_bytes_needs_no_look_at_its_every_text(value: Any) -> None:
    try:
        spelled = canonical.spell({"body": value})
    except Fault:
        return
    if canonical.is_plain(spelled):
        # the shorter way says what the long one says, of keys, numbers and depth as well
        assert said(value, plain=True) == said(value, plain=False)
    assert canonical.is_plain(spelled) == all(
        text.isascii() and text.isprintable() and not set(text) & set('"\\')
        for text in every_text(value)
    )


def said(value: Any, *, plain: bool) -> str:
    try:
        canonical.check(value, plain=plain)
    except Fault as fault:
        return f"{fault.code}: {fault.why}"
    return ""


def every_text(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value]
    if isinstance(value, dict):
        return [text for pair in value.items() for item in pair for text in every_text(item)]
    return [text for item in value for text in every_text(item)] if isinstance(value, list) else []
