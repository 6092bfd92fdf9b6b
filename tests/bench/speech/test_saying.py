"""What the voices are given to say reads back as the value that was meant."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.words.numbers import read_number
from tests.bench.speech import saying


@given(st.integers(-300, 99_999), st.sampled_from(saying.NUMBER_WAYS))
def test_a_whole_number_said_is_the_number_read(number: int, way: str) -> None:
    said = saying.number_said(Decimal(number), way)
    assert read_number(said) == number, said


@given(st.integers(-9999, 99_999), st.integers(1, 2), st.sampled_from(saying.NUMBER_WAYS))
def test_a_decimal_said_is_the_number_read(digits: int, places: int, way: str) -> None:
    value = Decimal(digits).scaleb(-places)
    said = saying.number_said(value, way)
    assert read_number(said) == value, said


@pytest.mark.parametrize(
    ("value", "way", "said"),
    [
        ("1600", "radio", "one six zero zero"),
        ("395", "radio", "tree niner fife"),
        ("145", "and", "one hundred and forty five"),
        ("145", "everyday", "one hundred forty five"),
        ("1745", "everyday", "one thousand seven hundred forty five"),
        ("29.92", "point", "two nine point nine two"),
        ("-5", "digits", "minus five"),
        ("0.5", "everyday", "zero point five"),
        ("2000", "hundreds", "two thousand"),
    ],
)
def test_the_ways(value: str, way: str, said: str) -> None:
    """Common practice; the digits of radiotelephony: ICAO Annex 10 Volume II, 5.2.1.4."""
    assert saying.number_said(Decimal(value), way) == said


@pytest.mark.parametrize(
    ("text", "said"),
    [("SIX OF SIX, ABOARD", "six of six aboard"), ("card revision 6", "card revision six"),
     ("CUT-OFF, CLOSED", "cut off closed")],
)  # fmt: skip
def test_marks_are_not_said(text: str, said: str) -> None:
    assert saying.words_of(text) == said


def test_a_near_miss_is_never_the_phrase() -> None:
    found = saying.near_misses("BRAKE ON, CLUTCH OFF")
    assert "brake off clutch off" in found
    assert "not brake on clutch off" in found
    assert "brake on clutch" in found
    assert "brake on clutch off" not in found
    assert saying.near_misses("FOLLOW")[0] == "not follow"
