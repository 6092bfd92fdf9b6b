"""How an answer is said: the words that a synthesised voice is given, by a way that a seed picks.

Rules: what is said here is not written by what reads it: everyday numbers come from `num2words`,
the others are spelled digit by digit from the text of the value; radiotelephony has its own
pronunciations (ICAO Annex 10 Volume II, 5.2.1.4); every text is lower-case words without marks.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final

from num2words import num2words  # type: ignore[import-untyped]

_DIGITS: Final = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
)  # fmt: skip
_RADIO: Final = {"three": "tree", "four": "fower", "five": "fife", "nine": "niner"}

NUMBER_WAYS: Final = ("radio", "digits", "point", "everyday", "and", "hundreds")
"""Digit by digit as in radiotelephony, in plain words, with "point"; as people say it, without and
with "and"; in hundreds ("seventeen hundred"), where the value has them."""


def words_of(text: str) -> str:
    """A phrase as it is said: marks and hyphens are not spoken, digits are.

    >>> words_of("CUT-OFF, CLOSED")
    'cut off closed'
    """
    spoken = re.sub(r"\d+", lambda m: f" {' '.join(_DIGITS[int(d)] for d in m[0])} ", text.lower())
    spoken = spoken.replace("°", " degrees ").replace("%", " percent ")
    return " ".join(re.sub(r"[^a-z' ]", " ", spoken).split())


def number_said(value: Decimal, way: str) -> str:
    """A value said in a way of `NUMBER_WAYS`; its digits behind the mark are said as written.

    >>> number_said(Decimal("29.92"), "radio")
    'two niner decimal niner two'
    >>> number_said(Decimal(1700), "hundreds")
    'seventeen hundred'
    """
    before, _, behind = format(value.copy_abs(), "f").partition(".")
    if way in ("radio", "digits", "point"):
        said = [_DIGITS[int(digit)] for digit in before]
        if behind:
            said += ["point" if way == "point" else "decimal", *(_DIGITS[int(d)] for d in behind)]
        if way == "radio":
            said = [_RADIO.get(word, word) for word in said]
    else:
        said = [_whole(int(before), way)]
        if behind:
            said += ["point", *(_DIGITS[int(digit)] for digit in behind)]
    return " ".join(["minus", *said] if value < 0 else said)


def _whole(number: int, way: str) -> str:
    if way == "hundreds" and 1000 < number < 10_000 and number % 100 == 0 and number % 1000:
        return f"{_plain(number // 100)} hundred"
    said = _plain(number)
    return said if way == "and" else said.replace(" and ", " ")


def _plain(number: int) -> str:
    """num2words writes "one thousand, seven hundred and forty-five"."""
    return str(num2words(number)).replace("-", " ").replace(",", "")


_SWAPS: Final = {
    "on": "off", "off": "on", "open": "closed", "closed": "open", "released": "engaged",
    "locked": "unlocked", "unlocked": "locked", "left": "right", "right": "left", "up": "down",
    "down": "up", "in": "out", "out": "in", "rich": "lean", "armed": "safe", "safe": "armed",
    "joined": "split", "split": "joined", "running": "stopped", "stopped": "running",
    "clear": "closed", "free": "stiff", "both": "left", "green": "red", "full": "empty",
    "empty": "full", "fuel": "oil", "brake": "clutch", "clutch": "brake", "rotor": "engine",
    "within": "outside", "light": "heavy", "shut": "open", "valid": "invalid",
}  # fmt: skip


def near_misses(text: str) -> list[str]:
    """What is nearly `text` and is not: a word turned round, "not" before it, a part of it."""
    words = words_of(text).split()
    found = [
        " ".join([*words[:n], _SWAPS[word], *words[n + 1 :]])
        for n, word in enumerate(words)
        if word in _SWAPS
    ]
    found.append(" ".join(["not", *words]))
    if len(words) > 1:
        found += [" ".join(words[:-1]), " ".join(words[1:])]
        found.append(" ".join([*words[:-1], "not", words[-1]]))
    return list(dict.fromkeys(found))
