"""Every way of saying a number reads back as that number, and no two numbers are said alike."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words  # type: ignore[import-untyped]

from runner.words.numbers import read_number, say_number
from runner.words.sayings import LARGEST_EVERYDAY, everyday, sayings


def test_every_whole_number_to_ten_thousand_is_read_back_from_every_way_of_saying_it() -> None:
    said: dict[str, int] = {}
    for number in range(10_001):
        ways = sayings(Decimal(number))
        assert ways[0] == say_number(Decimal(number)).lower()
        for way in ways:
            assert read_number(way) == number
            assert said.setdefault(way, number) == number


# The package num2words, an English of its own, says the same in one of the ways.
def test_another_speller_of_numbers_is_among_the_ways() -> None:
    for number in (*range(0, 10_001, 7), 12_345, 99_999, 100_000, 745_006):
        said = num2words(number).replace("-", " ").replace(",", "")
        assert said in sayings(Decimal(number))


@given(st.integers(-999_999_99, 999_999_99), st.integers(0, 2), st.integers(0, 3))
def test_with_decimals_and_a_sign_too(digits: int, places: int, shown: int) -> None:
    value = Decimal(digits).scaleb(-places)
    for way in sayings(value, shown):
        assert read_number(way) == value
        assert way == way.lower()


@pytest.mark.parametrize(
    ("value", "decimals", "way"),
    [("1700", 0, "seventeen hundred"), ("29.92", 2, "twenty nine point nine two"),
     ("-5", 0, "minus five"), ("145", 0, "one hundred and forty five"),
     ("3400", 0, "three thousand four hundred"), ("28", 1, "twenty eight decimal zero"),
     ("2006", 0, "two thousand and six"), ("60", 0, "sixty"), ("0", 0, "zero"),
     ("13500", 0, "one three thousand five hundred")],
)  # fmt: skip
def test_as_people_say_it(value: str, decimals: int, way: str) -> None:
    assert way in sayings(Decimal(value), decimals)


@pytest.mark.parametrize("way", ["twenty hundred", "ten hundred"])
def test_what_nobody_says_is_not_offered(way: str) -> None:
    assert all(way not in everyday(number) for number in range(3000))


@pytest.mark.parametrize("number", [-1, LARGEST_EVERYDAY + 1])
def test_what_has_no_everyday_form_is_refused(number: int) -> None:
    with pytest.raises(ValueError, match="0 to"):
        everyday(number)
