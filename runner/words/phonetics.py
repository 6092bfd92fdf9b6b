"""How alike two phrases sound through noise.

Rules: a phrase becomes a row of sounds by a table of English spelling, near enough to compare two
phrases, never to say them. What two rows differ in is weighed: in noise the place where a
consonant is formed is lost first (p, t and k; f and th; m and n), then whether it is voiced, last
its manner; vowels in between (Miller and Nicely, JASA 27, 1955, on consonants in noise: from
memory, the weights are ours). A distance of 1 is one sound wholly different. What is confusable
is said here once, for the check of the documents and for the recognisers.
"""

from __future__ import annotations

import math
import re
from functools import cache, lru_cache
from typing import Final

Sounds = tuple[str, ...]

ONE_SOUND: Final = 1.0
SHARE: Final = 0.28
"""Phrases nearer than one sound, or than this part of the longer one's sounds, are alike."""

# Longest first. Sounds: S sh, C ch, T th, N ng, Z as in vision; others, and vowels, as they look.
_SPELLED: Final = (
    ("rough", "raf"), ("tion", "Sun"), ("sion", "Zun"), ("ough", "o"), ("augh", "o"),
    ("eigh", "ei"), ("igh", "ai"),
    ("tch", "C"), ("dge", "j"), ("sch", "sk"), ("chr", "kr"), ("ch", "C"), ("sh", "S"),
    ("ph", "f"), ("th", "T"), ("ck", "k"), ("qu", "kw"), ("wh", "w"), ("wr", "r"), ("kn", "n"),
    ("gh", "g"), ("ng", "N"), ("nk", "Nk"), ("x", "ks"), ("ee", "i"), ("ea", "i"), ("ie", "i"),
    ("oo", "u"), ("ou", "au"), ("ow", "o"), ("oa", "o"), ("ai", "ei"), ("ay", "ei"), ("oi", "oi"),
    ("oy", "oi"), ("au", "o"), ("aw", "o"), ("ew", "u"), ("ue", "u"), ("ui", "u"), ("ce", "se"),
    ("ci", "si"), ("cy", "si"), ("ge", "je"), ("gi", "ji"), ("c", "k"), ("q", "k"), ("y", "i"),
)  # fmt: skip
_SAID: Final = {
    "one": "wan", "two": "tu", "eight": "eit", "zero": "ziro", "gear": "gir", "get": "get",
    "give": "giv", "gills": "gils", "ground": "graund", "down": "daun", "brown": "braun",
    "low": "lo", "rpm": "arpiem", "off": "of", "of": "ov", "once": "wans", "heavy": "hevi",
    "head": "hed", "steady": "stedi", "ready": "redi", "dead": "ded", "clear": "klir",
    "the": "Ta", "are": "ar", "fire": "fair", "firing": "fairiN", "engine": "enjin",
    "by": "bai", "niner": "nainer",
}  # fmt: skip
_LONG: Final = {"a": "ei", "i": "ai", "o": "o", "u": "u"}
_DIGITS: Final = ("ziro", "wan", "tu", "tri", "foer", "faif", "siks", "seven", "eit", "nainer")

_VOWELS: Final = frozenset("aeiou")
_ALIKE: Final = (
    ("ptk", 0.4), ("bdg", 0.4), ("fTs", 0.5), ("sSC", 0.5), ("vzZ", 0.5), ("mnN", 0.4),
    ("rlw", 0.6), ("Cj", 0.6), ("jZ", 0.5),
)  # fmt: skip
_VOICED: Final = ("pb", "td", "kg", "fv", "sz", "SZ", "Tv")
_VOICING: Final = 0.6
_VOWEL: Final = 0.5
_LOST: Final = 0.8
_FAINT: Final = 0.6
"""What a sound costs that one phrase has and the other has not; h and a vowel are lost sooner."""
LEAST: Final = _FAINT
"""What a sound more or less costs at least."""


@lru_cache(maxsize=4096)
def sounds(phrase: str) -> Sounds:
    """The row of sounds of a phrase; numbers digit by digit."""
    made: list[str] = []
    for word in re.findall(r"[a-z]+|\d", phrase.casefold().replace("'", "")):
        for sound in _DIGITS[int(word)] if word.isdigit() else _word(word):
            made.append(sound)
    return tuple(made)


def _word(word: str) -> str:
    if word in _SAID:
        return _SAID[word]
    if len(word) > 3 and word.endswith("ed"):
        stem = word[:-2]
        return _word(stem + "e" if stem[-1] in "cgsvz" else stem) + (
            "ed" if stem[-1] in "td" else "d"
        )
    if len(word) > 2 and word.endswith("e") and word[-2] not in "aeiou":
        # the last e is silent: c and g before it are soft, a single vowel before them is long
        body = word[:-2]
        tail = {"c": "s", "g": "j"}.get(word[-2], word[-2])
        if body[-1] in _LONG and body[-2:-1] not in ("a", "e", "i", "o", "u"):
            return _spelled(body[:-1]) + _LONG[body[-1]] + _spelled(tail)
        return _spelled(body + tail)
    return _spelled(word)


def _spelled(word: str) -> str:
    """The sounds of letters, longest spelling first."""
    made, at = "", 0
    while at < len(word):
        for spelling, sound in _SPELLED:
            if word.startswith(spelling, at):
                made += sound
                at += len(spelling)
                break
        else:
            made += word[at]
            at += 1
    return re.sub(r"(.)\1+", r"\1", made)


@cache
def _cost(one: str, other: str) -> float:
    """What one sound for another costs, from 0 to 1."""
    if one == other:
        return 0.0
    if one in _VOWELS and other in _VOWELS:
        return _VOWEL
    for group, cost in _ALIKE:
        if one in group and other in group:
            return cost
    if any(one in pair and other in pair for pair in _VOICED):
        return _VOICING
    return 1.0


@cache
def _lost(sound: str) -> float:
    return _FAINT if sound in _VOWELS or sound == "h" else _LOST


def distance(one: Sounds, other: Sounds, most: float = math.inf) -> float:
    """What it costs to hear one row of sounds as the other; the same in both directions.

    Beyond `most` it is not worked out: what is given is then only known to be more than that.
    """
    above = [0.0]
    for sound in other:
        above.append(above[-1] + _lost(sound))
    for heard in one:
        gone = _lost(heard)
        row = [above[0] + gone]
        for column, sound in enumerate(other):
            row.append(
                min(
                    above[column] + _cost(heard, sound),
                    above[column + 1] + gone,
                    row[column] + _lost(sound),
                )
            )
        above = row
        # no way leads past a row but through one of its values
        if min(above) > most:
            return min(above)
    return above[-1]


def alike(one: str, other: str) -> bool:
    """Whether two phrases sound alike; words that both begin or end with tell nothing apart."""
    words, others = _words(one), _words(other)
    while words and others and words[0] == others[0]:
        words, others = words[1:], others[1:]
    while words and others and words[-1] == others[-1]:
        words, others = words[:-1], others[:-1]
    first, second = sounds(" ".join(words)), sounds(" ".join(others))
    near = max(ONE_SOUND, SHARE * max(len(first), len(second)))
    if abs(len(first) - len(second)) * LEAST > near:
        return False
    return bool(first and second) and distance(first, second, near) <= near


def _words(phrase: str) -> list[str]:
    return phrase.casefold().replace("-", " ").split()
