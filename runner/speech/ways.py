"""A text of the lists as it is spoken: "FULL / OPEN", "R.P.M.", "WITHIN 60 FEET".

Rules: what comes out are words of lower-case letters alone, the plain way first; signs,
abbreviations and numbers are said as the lexicon has it; what has several ways is varied in one
place at a time, so that a long text does not grow a hundred ways.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal
from functools import lru_cache

from runner.speech.lexicon import Lexicon
from runner.words.sayings import sayings

MOST = 6
"""Ways of one text at most; the plain ones come first."""
_DOTTED = re.compile(r"\b(?:[^\W\d_]\.){2,}(?:[^\W\d_]\b)?")
_NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?")
_PIECE = re.compile(r"[0-9]+(?:\.[0-9]+)?|[^\W\d_]+(?:['’][^\W\d_]+)*")
_LONGEST_ABBREVIATION = 5


@lru_cache(maxsize=4096)
def ways(text: str, lexicon: Lexicon, most: int = MOST) -> tuple[str, ...]:
    """The ways of saying a text, the plain one first; none for a text without a word."""
    pieces = [found for token in _tokens(text) for found in _ways(token, lexicon)]
    if not pieces:
        return ()
    plain = [found[0] for found in pieces]
    said = [" ".join(plain)]
    for place, found in enumerate(pieces):
        said += [" ".join((*plain[:place], way, *plain[place + 1 :])) for way in found[1:]]
    return tuple(dict.fromkeys(said))[:most]


def joined(first: Iterable[str], then: Iterable[str], most: int = MOST) -> tuple[str, ...]:
    """Every way of the one before every way of the other, the plain ones first."""
    after = tuple(then)
    return tuple(f"{one} {other}" for one in first for other in after)[:most]


def _tokens(text: str) -> list[str]:
    """The words of a text as it is written, abbreviations with dots closed up."""
    # What is no letter but is written like one ("²", "Ⅷ") has no sound of its own.
    folded = "".join(
        c if c.isascii() or c.isalpha() or not c.isalnum() else " " for c in text.lower()
    )
    folded = _DOTTED.sub(lambda m: m[0].replace(".", "") + " ", folded)
    return folded.split()


def _ways(token: str, lexicon: Lexicon) -> list[tuple[str, ...]]:
    """The ways of each piece of one written word."""
    bare = token.strip(".,;:!?()/\"'")
    if bare in lexicon.words:
        return [lexicon.words[bare]]
    if _NUMBER.fullmatch(bare):
        return [_number(bare, lexicon)]
    found: list[tuple[str, ...]] = []
    rest = bare
    while rest:
        sign = next((s for s in _longest_first(lexicon) if rest.startswith(s)), "")
        piece = _PIECE.match(rest)
        if sign:
            found.append(lexicon.words.get(sign) or (lexicon.signs[sign],))
            rest = rest[len(sign) :]
        elif piece is not None:
            found.append(_piece(piece[0].replace("’", "'"), lexicon))
            rest = rest[piece.end() :]
        else:
            rest = rest[1:]
    return found


def _longest_first(lexicon: Lexicon) -> list[str]:
    """What is no letter and has a way of its own ("°c" before "°")."""
    odd = [word for word in lexicon.words if not word[0].isalnum()]
    return sorted((*odd, *lexicon.signs), key=len, reverse=True)


def _piece(piece: str, lexicon: Lexicon) -> tuple[str, ...]:
    if piece[0].isdigit():
        return _number(piece, lexicon)
    if piece in lexicon.words:
        return lexicon.words[piece]
    if lexicon.vowels and 1 < len(piece) <= _LONGEST_ABBREVIATION:
        if piece.isascii() and not set(piece) & set(lexicon.vowels):
            return (" ".join(piece.replace("'", "")),)
    return (piece,)


def _number(text: str, lexicon: Lexicon) -> tuple[str, ...]:
    """A number digit by digit, and where the language has it in the everyday way."""
    by_digits = " ".join(
        {"-": lexicon.minus, ".": lexicon.decimal}.get(sign) or lexicon.digits[int(sign)]
        for sign in text
    )
    if not lexicon.everyday or len(text) > 12:
        return (by_digits,)
    decimals = len(text.partition(".")[2])
    return tuple(dict.fromkeys((by_digits, *sayings(Decimal(text), decimals))))
