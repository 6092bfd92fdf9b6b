"""A call of the list in words that an engine speaks: "LIMIT 40 TO 60 PSI" as people say it.

Rules: signs and abbreviations are said as the language's lexicon has them, numbers digit by digit;
a unit behind a number is said in full, in its own spelling alone ("12 IN THIS LIST" has no inches);
what is spelled is spelled by the engine too; marks between phrases stay, because they make the
pauses. In English, digits get the sounds of radiotelephony (ICAO Annex 10 Volume II, 5.2.1.4.3:
TREE, FOW-er, FIFE, NIN-er, TOU-SAND), written so that an English engine makes them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Final

from runner.engine.units import UNITS
from runner.speech.lexicon import Lexicon, lexicon
from runner.speech.ways import ways

SAID_UNITS: Final[Mapping[str, str]] = {
    "rpm": "r p m", "%": "per cent", "°C": "degrees celsius", "°F": "degrees fahrenheit",
    "K": "kelvin", "Pa": "pascals", "hPa": "hectopascals", "kPa": "kilopascals", "bar": "bar",
    "psi": "p s i", "inHg": "inches", "kg": "kilograms", "lb": "pounds", "L": "litres",
    "US gal": "u s gallons", "m": "metres", "km": "kilometres", "mm": "millimetres",
    "in": "inches", "ft": "feet", "NM": "nautical miles", "m/s": "metres a second",
    "km/h": "kilometres an hour", "kt": "knots", "mph": "miles an hour",
    "ft/min": "feet a minute", "s": "seconds", "min": "minutes", "h": "hours", "V": "volts",
    "A": "amps", "°": "degrees", "turns": "turns", "strokes": "strokes", "count": "",
}  # fmt: skip
"""Every unit of the documents as English says it behind a number."""

_SIGNS: Final = {
    "≥": " at least ", ">=": " at least ", "≤": " at most ", "<=": " at most ", "<": " below ",
    ">": " above ", "\N{MINUS SIGN}": "-", "=": " is ", "×": " times ",
}  # fmt: skip
_SOUNDS: Final = {
    "three": "tree", "four": "foe-er", "five": "fife", "nine": "niner", "thousand": "tousand",
}  # fmt: skip
_MARK: Final = re.compile(r"\s*([.,:;?!])+(?=\s|$)|\s+([/–—|])\s+")
_SIGN: Final = re.compile("|".join(map(re.escape, sorted(_SIGNS, key=len, reverse=True))))
_UNIT: Final = re.compile(
    rf"(?<=\d)\s*({'|'.join(map(re.escape, sorted(UNITS, key=len, reverse=True)))})(?![\w°/])"
)
_LETTERS: Final = re.compile(r"\b[a-z](?: [a-z])+\b")
_WORD: Final = re.compile(r"[a-z]+")
_PAUSES: Final = {".": ".", "?": "?", "!": "!", ";": "."}


@lru_cache(maxsize=2048)
def wording(text: str, language: str = "en") -> str:
    """The text as it is given to an engine; empty if there is nothing to be said."""
    words = lexicon(language)
    english = words.language == "en"
    if english:
        text = _SIGN.sub(lambda m: _SIGNS[m[0]], text)
        text = _UNIT.sub(lambda m: f" {SAID_UNITS[m[1]]}", text)
    said: list[str] = []
    place = 0
    for mark in _MARK.finditer(text):
        _add(said, text[place : mark.start()], words, english=english)
        if said and said[-1][-1].isalnum():
            said[-1] += _PAUSES.get(mark[1] or mark[2], ",")
        place = mark.end()
    _add(said, text[place:], words, english=english)
    return " ".join(said)


def _add(said: list[str], phrase: str, words: Lexicon, *, english: bool) -> None:
    plain = ways(phrase, words, 1)
    if not plain:
        return
    spelled = _LETTERS.sub(lambda m: m[0].upper().replace(" ", "."), plain[0])
    if english:
        spelled = _WORD.sub(lambda m: _SOUNDS.get(m[0], m[0]), spelled)
    said.append(spelled)
