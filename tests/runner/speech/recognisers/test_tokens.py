"""The tokenizer's file is read, and every text comes back from its tokens."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.speech.recognisers.tokens import BadTokenizer, Tokens
from runner.speech.recognisers.weights import NoWeights, find_weights

BYTES = [bytes((byte,)) for byte in range(256)]
SPACE = "▁".encode()


def packed(*strings: bytes) -> bytes:
    """A tokenizer's file of three marks, all bytes, and `strings`."""
    found = b""
    for text in (b"<unk>", b"<s>", b"</s>", *BYTES, *strings):
        size = len(text)
        found += bytes((size,)) if size < 128 else bytes((size % 128 + 128, size // 128))
        found += text
    return found


@cache
def packaged() -> Tokens:
    try:
        return Tokens.read(find_weights().tokenizer)
    except NoWeights as fault:
        pytest.skip(str(fault))


def test_the_union_with_the_lowest_number_merges_first() -> None:
    tokens = Tokens(packed(SPACE, b"bc", b"ab", b"abc"))
    # "bc" (260) before "ab" (261); then a and bc to abc (262), though "ab" comes first in the text.
    assert tokens.encode("abc") == [259, 262]
    assert tokens.encode("ab") == [259, 261]
    swapped = Tokens(packed(SPACE, b"ab", b"bc"))
    assert swapped.encode("abc") == [259, 260, 3 + ord("c")]


def test_a_double_is_meant_by_its_last_number_only() -> None:
    tokens = Tokens(packed(SPACE, b"a"))
    assert tokens.encode("a") == [259, 260]
    assert (tokens.text(260), tokens.text(3 + ord("a")), tokens.text(259)) == ("a", None, " ")
    assert tokens.decode([3 + ord("a")]) == "a"


def test_marks_and_half_characters_write_nothing() -> None:
    tokens = Tokens(packed(SPACE))
    assert [tokens.text(number) for number in (0, 1, 2, 3 + 0xE2)] == [None] * 4
    assert tokens.decode([1, 3 + ord("x"), 2]) == "x"


def test_a_long_string_has_two_bytes_of_length() -> None:
    text = b"x" * 300
    tokens = Tokens(packed(SPACE, text))
    assert tokens.decode([260]) == text.decode()


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "no token for byte 0"),
        (packed()[:-1], "ends within token 258"),
        (packed() + b"\x85", "ends within a length"),
        (packed().replace(b"\x01Q", b"\x01R"), "no token for byte 81"),
    ],
)
def test_what_is_no_tokenizer_is_refused(data: bytes, what: str) -> None:
    with pytest.raises(BadTokenizer, match=what):
        Tokens(data)


@given(st.text(max_size=60))
def test_every_text_comes_back(text: str) -> None:
    if "▁" not in text:
        assert packaged().decode(packaged().encode(text)) == text


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        # As the model itself writes them: each text's free transcription has these tokens.
        ("Two-niner", [" Two", "-", "n", "iner"]),
        ("1700.", [" ", "1", "7", "0", "0", "."]),
        ("One hundred and forty five.", [" One", " hundred", " and", " forty", " five", "."]),
    ],
)
def test_a_text_falls_into_the_tokens_that_the_model_writes(text: str, parts: list[str]) -> None:
    tokens = packaged()
    assert [tokens.text(number) for number in tokens.encode(text)] == parts
