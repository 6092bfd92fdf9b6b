"""Numbers as a crew types and says them, and as they are spoken back.

One job: text to exact number and back. Rules: a text that could be two numbers, mixes two ways of
saying one, or holds any other word is no number (None), because a guess would become an answer;
nothing passes through binary floating point. Accepted are plain digits ("29.92"), digit by digit
("two niner decimal niner two"), digits before whole thousands and hundreds ("one three thousand
five hundred"), and the everyday form ("one hundred and forty five", "seventeen hundred", "twenty
nine point nine two"). Spoken back is digit by digit.

Source of the words and of the way to say whole hundreds and thousands: ICAO Annex 10 Volume II,
5.2.1.4, and Doc 9432; "point" for "decimal" is the FAA's (AIM 4-2).
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final, Literal

from runner.engine.limits import Threshold
from runner.engine.units import LONGEST, UnitFault, parse_number

_LONGEST_TEXT: Final = 200

_SAID: Final = (
    "ZERO", "ONE", "TWO", "THREE", "FOUR", "FIVE", "SIX", "SEVEN", "EIGHT", "NINE",
)  # fmt: skip
_DIGITS: Final = {word.lower(): digit for digit, word in enumerate(_SAID)}
_TEENS: Final = {
    word: number
    for number, word in enumerate(
        ("ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen",
         "eighteen", "nineteen"), 10)
}  # fmt: skip
_TENS: Final = {
    word: 10 * number
    for number, word in enumerate(
        ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"), 2)
}  # fmt: skip

# The pronunciations of Annex 10, with and without the hyphens of its table.
_SPELLED: Final = {
    "ze-ro": "zero", "wun": "one", "too": "two", "tree": "three", "fower": "four",
    "fow-er": "four", "fife": "five", "sev-en": "seven", "ait": "eight", "niner": "nine",
    "nin-er": "nine", "dayseemal": "decimal", "day-see-mal": "decimal", "point": "decimal",
    "hun-dred": "hundred", "tousand": "thousand", "tou-sand": "thousand",
}  # fmt: skip
_PIECE: Final = re.compile(r"[a-z]+(?:-[a-z]+)*")


def read_number(text: str) -> Decimal | None:
    """The number that `text` is, typed or spoken; None if it is none, or not surely one."""
    if len(text) > _LONGEST_TEXT:
        return None
    words = text.lower().split()
    if len(words) == 1 and words[0][0] in "-0123456789":
        return _typed(words[0])
    spoken = _spoken(words)
    negative = spoken[:1] == ["minus"]
    if negative:
        spoken = spoken[1:]
    whole, behind = spoken, None
    if "decimal" in spoken:
        place = spoken.index("decimal")
        whole, behind = spoken[:place], _run(spoken[place + 1 :])
        if behind is None:
            return None
    before = _whole(whole)
    if before is None or len(before) + len(behind or "") > LONGEST:
        return None
    number = Decimal(before if behind is None else f"{before}.{behind}")
    return number.copy_negate() if negative and number else number


def read_threshold(text: str) -> Threshold | None:
    """The call that "below eighty" or "above 40" is; None for anything else."""
    side, _, rest = text.strip().partition(" ")
    value = read_number(rest)
    if value is None:
        return None
    if side.lower() == "below":
        return Threshold("below", value)
    if side.lower() == "above":
        return Threshold("above", value)
    return None


def say_number(
    value: Decimal, decimals: int = 0, mark: Literal["DECIMAL", "POINT"] = "DECIMAL"
) -> str:
    """`value` digit by digit: "ONE SIX ZERO ZERO", "TWO NINE DECIMAL NINE TWO", "MINUS FIVE".

    At least `decimals` digits stand behind the mark, and never fewer than the value has.
    `ValueError` for a value that is not finite.
    """
    before, behind = _parts(value)
    behind = behind.ljust(decimals, "0")
    said = [_SAID[int(digit)] for digit in before]
    if behind:
        said += [mark, *(_SAID[int(digit)] for digit in behind)]
    return " ".join(["MINUS", *said] if value < 0 else said)


def say_hundreds(value: Decimal) -> str:
    """Whole hundreds and thousands as such ("THREE THOUSAND FOUR HUNDRED"), others by digits.

    `ValueError` for a value that is not finite.
    """
    before, behind = _parts(value)
    if behind or len(before) > 6 or not before.endswith("00") or not value:
        return say_number(value)
    thousands, hundreds = before[:-3], before[-3:-2]
    said = ["MINUS"] if value < 0 else []
    if thousands:
        said += [*(_SAID[int(digit)] for digit in thousands), "THOUSAND"]
    if hundreds != "0":
        said += [_SAID[int(hundreds)], "HUNDRED"]
    return " ".join(said)


def _parts(value: Decimal) -> tuple[str, str]:
    """The digits before the mark, and those behind it without trailing zeros."""
    if not value.is_finite():
        raise ValueError(f"{value} cannot be said")
    before, _, behind = format(value.copy_abs(), "f").partition(".")
    return before, behind.rstrip("0")


def _typed(word: str) -> Decimal | None:
    try:
        number = parse_number(word)
    except UnitFault:
        return None
    return number if number else number.copy_abs()


def _spoken(words: list[str]) -> list[str]:
    """The words in their plain spelling, compounds taken apart; empty if one cannot be."""
    found: list[str] = []
    for word in words:
        if word in _SPELLED:
            found.append(_SPELLED[word])
        elif _PIECE.fullmatch(word):
            found += [_SPELLED.get(part, part) for part in word.split("-")]
        else:
            return []
    return found


def _run(words: list[str]) -> str | None:
    """Digits said one by one; None for no word, or any other."""
    if not words or any(word not in _DIGITS for word in words):
        return None
    return "".join(str(_DIGITS[word]) for word in words)


def _whole(words: list[str]) -> str | None:
    """The digits of a whole number said in one of the accepted ways."""
    digits = _run(words)
    if digits is not None:
        return digits
    number = _scaled(words)
    if number is None:
        number = _everyday(words)
    return None if number is None else str(number)


def _scaled(words: list[str]) -> int | None:
    """Digits before "thousand", then perhaps one before "hundred", nothing else."""
    number = 0
    rest = words
    if "thousand" in rest:
        place = rest.index("thousand")
        digits = _run(rest[:place])
        if digits is None or len(digits) > 3 or digits[0] == "0":
            return None
        number = 1000 * int(digits)
        rest = rest[place + 1 :]
        if not rest:
            return number
    if len(rest) == 2 and rest[1] == "hundred" and _DIGITS.get(rest[0], 0):
        return number + 100 * _DIGITS[rest[0]]
    return None


def _everyday(words: list[str]) -> int | None:
    """ "one hundred and forty five", "two thousand and six", "seventeen hundred and ten"."""
    if "thousand" in words:
        place = words.index("thousand")
        thousands = _below_thousand(words[:place])
        rest = words[place + 1 :]
        if thousands is None:
            return None
        if not rest:
            return 1000 * thousands
        joined = rest[0] == "and"
        last = _below_hundred(rest[1:]) if joined else _below_thousand(rest)
        return None if last is None else 1000 * thousands + last
    if "hundred" in words:
        place = words.index("hundred")
        # Eleven to ninety-nine hundreds, but not whole tens: nobody says "twenty hundred".
        hundreds = _below_hundred(words[:place])
        if hundreds is not None and hundreds > 10 and hundreds % 10:
            return _with_rest(100 * hundreds, words[place + 1 :])
    return _below_thousand(words)


def _below_thousand(words: list[str]) -> int | None:
    if len(words) > 1 and words[1] == "hundred":
        hundreds = _DIGITS.get(words[0], 0)
        return _with_rest(100 * hundreds, words[2:]) if hundreds else None
    return _below_hundred(words)


def _with_rest(number: int, rest: list[str]) -> int | None:
    if not rest:
        return number
    last = _below_hundred(rest[1:] if rest[0] == "and" else rest)
    return None if last is None else number + last


def _below_hundred(words: list[str]) -> int | None:
    """One to ninety-nine as people say it; never zero, which nobody adds to a hundred."""
    if len(words) == 1:
        word = words[0]
        return _TEENS.get(word) or _TENS.get(word) or _DIGITS.get(word) or None
    if len(words) == 2 and words[0] in _TENS and _DIGITS.get(words[1], 0):
        return _TENS[words[0]] + _DIGITS[words[1]]
    return None
