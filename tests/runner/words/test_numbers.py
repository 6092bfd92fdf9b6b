"""Numbers typed, spoken and spoken back: against `num2words`, published examples, round trips."""

from __future__ import annotations

import decimal
from decimal import Decimal
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words  # type: ignore[import-untyped]

from runner.engine.limits import Threshold
from runner.words.numbers import read_number, read_threshold, say_hundreds, say_number

D = Decimal


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1600", "1600"),
        ("29.92", "29.92"),
        ("-5", "-5"),
        ("-0", "0"),
        ("080", "80"),
        (" 1600 ", "1600"),
        ("one six zero zero", "1600"),
        ("One Six ZERO zero", "1600"),
        ("wun niner fife", "195"),
        ("seventeen hundred", "1700"),
        ("seventeen hundred and ten", "1710"),
        ("seventeen hundred ten", "1710"),
        ("twenty nine point nine two", "29.92"),
        ("two niner decimal nine two", "29.92"),
        ("two niner dayseemal niner two", "29.92"),
        ("minus five", "-5"),
        ("minus one decimal five", "-1.5"),
        ("minus zero", "0"),
        ("one hundred and forty five", "145"),
        ("one hundred forty-five", "145"),
        ("three thousand four hundred", "3400"),
        ("tree tousand fower hundred", "3400"),
        ("one zero thousand", "10000"),
        ("twelve thousand", "12000"),
        ("two thousand and six", "2006"),
        ("two thousand six hundred and six", "2606"),
        ("forty", "40"),
        ("zero five", "5"),
        ("too tree ait", "238"),
        ("seven", "7"),
        ("ZE-RO WUN TOO TREE FOW-er FIFE SIX SEV-en AIT NIN-er", "123456789"),
        ("WUN TOU-SAND TOO HUN-dred", "1200"),
        ("WUN DAY-SEE-MAL SIX", "1.6"),
    ],
)
def test_what_is_a_number(text: str, value: str) -> None:
    number = read_number(text)
    assert number is not None
    assert str(number) == value


@pytest.mark.parametrize(
    "text",
    [
        # Nothing, and no number.
        "", " ", "-", ".", "and", "minus", "decimal", "hundred", "thousand", "released", "below",
        # Typed, but not plainly.
        "1,600", "29,92", "1 600", "1600 rpm", "1e3", "0x10", "NaN", "inf", "-inf", ".5", "5.",
        "--5", "+5", "1.2.3", "1_600", "١٦٠٠", "²", "1234567890123456", "5 -", "- 5",
        # Two ways of saying a number mixed, or two numbers.
        "one forty five", "sixteen fifty", "twenty nine ninety two", "thirty one zero",
        "one three thousand five", "two thousand five zero", "one seven hundred", "16 hundred",
        "one 6", "twenty ten", "five twenty", "ten ten", "twenty zero", "one one hundred",
        "zero hundred", "zero thousand", "one hundred zero", "twenty hundred", "ten hundred",
        "seventeen hundred thousand", "one hundred hundred", "two thousand thousand",
        "zero one thousand", "one two three four thousand",
        # "and" out of place.
        "and five", "five and", "twenty and five", "one hundred and", "one thousand and",
        "one thousand and five hundred", "one hundred and and five", "one and hundred",
        # The mark without digits on both sides, or twice.
        "point five", "five point", "one point five point six", "one decimal twenty",
        "twenty nine point ninety two", "one point two thousand", "minus decimal five",
        # A sign out of place; "negative" is a word of its own in radiotelephony.
        "five minus", "minus minus five", "minus -5", "negative five",
        # Other words beside a number.
        "five please", "about five", "five degrees", "one six zero zero rpm", "drop eighty",
        "roger five", "four for", "oh", "five,", "one hundred, five", "six-", "-six",
    ],
)  # fmt: skip
def test_what_is_no_number(text: str) -> None:
    assert read_number(text) is None


@pytest.mark.parametrize(
    ("value", "said"),
    [
        # ICAO Annex 10 Vol II 5.2.1.4 and Doc 9432, as quoted in the trade notes.
        ("800", "EIGHT HUNDRED"),
        ("3400", "THREE THOUSAND FOUR HUNDRED"),
        ("13500", "ONE THREE THOUSAND FIVE HUNDRED"),
        # The same rule; from memory.
        ("12000", "ONE TWO THOUSAND"),
        ("1700", "ONE THOUSAND SEVEN HUNDRED"),
        ("100000", "ONE ZERO ZERO THOUSAND"),
        ("-300", "MINUS THREE HUNDRED"),
        # Not whole hundreds: digit by digit.
        ("0", "ZERO"),
        ("1650", "ONE SIX FIVE ZERO"),
        ("100.5", "ONE ZERO ZERO DECIMAL FIVE"),
        ("1000000", "ONE ZERO ZERO ZERO ZERO ZERO ZERO"),
    ],
)
def test_hundreds_are_said(value: str, said: str) -> None:
    assert say_hundreds(D(value)) == said
    assert read_number(said) == D(value)


@pytest.mark.parametrize(
    ("value", "decimals", "said"),
    [
        # QNH 1000 "one zero zero zero"; 29.92 with decimal: Annex 10 Vol II 5.2.1.4.
        ("1000", 0, "ONE ZERO ZERO ZERO"),
        ("29.92", 2, "TWO NINE DECIMAL NINE TWO"),
        ("29.9", 2, "TWO NINE DECIMAL NINE ZERO"),
        ("29.92", 0, "TWO NINE DECIMAL NINE TWO"),
        ("1600", 0, "ONE SIX ZERO ZERO"),
        ("1600.00", 0, "ONE SIX ZERO ZERO"),
        ("1.6E+3", 0, "ONE SIX ZERO ZERO"),
        ("-5", 0, "MINUS FIVE"),
        ("-0", 0, "ZERO"),
        ("0.5", 1, "ZERO DECIMAL FIVE"),
        ("7", 1, "SEVEN DECIMAL ZERO"),
    ],
)
def test_numbers_are_said_digit_by_digit(value: str, decimals: int, said: str) -> None:
    assert say_number(D(value), decimals) == said


@pytest.mark.parametrize(
    ("said", "digits"),
    [
        # Heading 080, QNH 1000, time 0920 and 29.92 without decimal: Annex 10 Vol II 5.2.1.4 and
        # AIM 4-2, as quoted in the trade notes.
        ("zero eight zero", "80"),
        ("one zero zero zero", "1000"),
        ("zero niner two zero", "920"),
        ("two niner niner two", "2992"),
    ],
)
def test_published_readings(said: str, digits: str) -> None:
    assert read_number(said) == D(digits)


def test_point_may_be_said_for_decimal() -> None:
    assert say_number(D("29.92"), 2, mark="POINT") == "TWO NINE POINT NINE TWO"


def test_every_whole_number_to_ten_thousand_comes_back() -> None:
    for number in range(10_001):
        value = D(number)
        assert read_number(say_number(value)) == value
        assert read_number(say_hundreds(value)) == value
        assert read_number(str(number)) == value


def test_every_everyday_form_to_ten_thousand_is_read() -> None:
    for number in range(10_001):
        for said in (num2words(number), num2words(number).replace(" and ", " ")):
            assert read_number(said.replace(",", "")) == number, said


@given(st.integers(10_000, 999_999))
def test_everyday_forms_of_larger_numbers_are_read(number: int) -> None:
    assert read_number(num2words(number).replace(",", "")) == number


def test_every_count_of_hundreds_is_read() -> None:
    for hundreds in range(11, 100):
        if hundreds % 10:
            assert read_number(f"{num2words(hundreds)} hundred") == 100 * hundreds


@given(st.integers(-99_999, 99_999), st.integers(1, 2))
def test_every_decimal_number_comes_back(units: int, decimals: int) -> None:
    value = D(units).scaleb(-decimals)
    said = say_number(value, decimals)
    assert read_number(said) == value
    assert read_number(say_number(value, decimals, mark="POINT")) == value
    assert read_number(format(value, "f")) == value
    assert len(said.rpartition("DECIMAL")[2].split()) == decimals


@given(st.integers(0, 9999), st.integers(0, 99))
def test_everyday_decimals_are_read(whole: int, hundredths: int) -> None:
    behind = " ".join(num2words(int(digit)) for digit in f"{hundredths:02}")
    said = f"{num2words(whole).replace(',', '')} point {behind}"
    assert read_number(said) == D(f"{whole}.{hundredths:02}")


PLAIN = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
RADIO = ["ze-ro", "wun", "too", "tree", "fower", "fife", "six", "seven", "ait", "niner"]


@given(st.lists(st.integers(0, 9), min_size=1, max_size=15), st.data())
def test_either_pronunciation_gives_the_same_number(digits: list[int], data: st.DataObject) -> None:
    words = [data.draw(st.sampled_from([PLAIN[d], RADIO[d]])) for d in digits]
    assert read_number(" ".join(words)) == int("".join(map(str, digits)))


WORDS = [*PLAIN, "ten", "eleven", "seventeen", "twenty", "ninety", "hundred", "thousand", "and",
         "decimal", "point", "minus", "niner", "5", "16"]  # fmt: skip


# Every form that num2words has for the numbers below 20,000, and the numbers that it stands for.
EVERYDAY: dict[str, set[int]] = {}
for _number in range(20_000):
    _said = num2words(_number).replace(",", "").replace("-", " ")
    for _form in {_said, _said.replace(" and ", " ")}:
        EVERYDAY.setdefault(_form, set()).add(_number)


@given(st.lists(st.sampled_from(WORDS), max_size=6).map(" ".join))
def test_whatever_is_read_is_one_of_the_accepted_forms(text: str) -> None:
    value = read_number(text)
    everyday = EVERYDAY.get(text, set())
    assert len(everyday) <= 1
    if everyday:
        assert value == next(iter(everyday))
    if value is not None:
        assert read_number(say_number(value)) == value
        assert "and decimal" not in text


@given(st.text(max_size=300))
def test_no_text_makes_trouble(text: str) -> None:
    value = read_number(text)
    assert value is None or value.is_finite()
    assert read_threshold(text) is None or text.strip().lower()[:5] in ("below", "above")


def test_texts_without_end_are_refused() -> None:
    assert read_number("one " * 1_000_000) is None
    assert read_number("9" * 1_000_000) is None
    assert read_number(" ".join(["one"] * 16)) is None


@given(st.integers(-9999, 9999), st.integers(1, 3))
def test_the_callers_decimal_context_is_without_effect(units: int, precision: int) -> None:
    value = D(units).scaleb(-2)
    said = say_number(value, 2)
    with decimal.localcontext() as context:
        context.prec = precision
        context.rounding = decimal.ROUND_UP
        assert say_number(value, 2) == said
        back = read_number(said)
    assert back == value


@pytest.mark.parametrize("bad", ["NaN", "Infinity", "-Infinity", "sNaN"])
def test_what_is_no_number_cannot_be_said(bad: str) -> None:
    for say in (say_number, say_hundreds):
        with pytest.raises(ValueError, match="cannot be said"):
            say(D(bad))


@pytest.mark.parametrize(
    ("text", "side", "value"),
    [
        ("below eighty", "below", 80),
        ("BELOW EIGHT ZERO", "below", 80),
        ("above 40", "above", 40),
        (" above  minus five ", "above", -5),
        ("below one hundred and fifty", "below", 150),
    ],
)
def test_threshold_calls(text: str, side: Literal["below", "above"], value: int) -> None:
    assert read_threshold(text) == Threshold(side, D(value))


@pytest.mark.parametrize(
    "text",
    ["", "below", "80", "eighty", "below eighty rpm", "below below 80", "beside 80", "at most 80",
     "below80", "eighty below", "not below eighty", "below one forty"],
)  # fmt: skip
def test_what_is_no_threshold_call(text: str) -> None:
    assert read_threshold(text) is None
