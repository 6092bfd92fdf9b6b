"""The ways in which people say a number: digit by digit, in whole hundreds, as in everyday speech.

Rules: every way reads back as this number and no other (`numbers.read_number`); the plain way,
digit by digit, comes first; words are lower case and standard English, "niner" and the like being
pronunciations of them; what nobody says ("twenty hundred") is not among them.
"""

from __future__ import annotations

from decimal import Decimal

from runner.words.numbers import say_hundreds, say_number

_SMALL = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
LARGEST_EVERYDAY = 999_999


def sayings(value: Decimal, decimals: int = 0) -> tuple[str, ...]:
    """Every way of saying `value` with at least so many digits behind the mark, the plain first.

    `ValueError` for a value that is not finite.
    """
    plain = say_number(value, decimals).lower()
    before, mark, behind = plain.partition(" decimal ")
    wholes = [before]
    number = int(value.copy_abs())
    sign = "minus " if before.startswith("minus ") else ""
    if not behind:
        wholes.append(say_hundreds(value).lower())
    if number <= LARGEST_EVERYDAY:
        wholes += [sign + way for way in everyday(number)]
    said = [whole + mark + behind for whole in dict.fromkeys(wholes)]
    if behind:
        said += [f"{whole} point {behind}" for whole in dict.fromkeys(wholes)]
    return tuple(dict.fromkeys(said))


def everyday(number: int) -> tuple[str, ...]:
    """A whole number as people say it: "one hundred and forty five", "seventeen hundred"."""
    if not 0 <= number <= LARGEST_EVERYDAY:
        raise ValueError(f"{number} is not said so; 0 to {LARGEST_EVERYDAY} are")
    if number < 20:
        return (_SMALL[number],)
    if number < 100:
        return (_below_hundred(number),)
    if number < 1000:
        return _with_rest(_SMALL[number // 100] + " hundred", number % 100)
    thousands, rest = divmod(number, 1000)
    said: list[str] = []
    for lead in everyday(thousands):
        if not rest:
            said.append(f"{lead} thousand")
        elif rest < 100:
            said += _with_rest(f"{lead} thousand", rest)
        else:
            said += [f"{lead} thousand {tail}" for tail in everyday(rest)]
    hundreds, tail = divmod(number, 100)
    if 10 < hundreds < 100 and hundreds % 10:
        said += _with_rest(f"{_below_hundred(hundreds)} hundred", tail)
    return tuple(said)


def _with_rest(lead: str, rest: int) -> tuple[str, ...]:
    """What stands before the last two digits, and these, with "and" and without."""
    if not rest:
        return (lead,)
    last = _below_hundred(rest)
    return (f"{lead} and {last}", f"{lead} {last}")


def _below_hundred(number: int) -> str:
    if number < 20:
        return _SMALL[number]
    tens, digit = divmod(number, 10)
    return f"{_TENS[tens - 2]} {_SMALL[digit]}" if digit else _TENS[tens - 2]
