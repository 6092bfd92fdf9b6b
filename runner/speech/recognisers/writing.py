"""How the model may write what may be said, letter by letter and token by token.

Rules: what is written is read without case; between two words stands a space, a hyphen, a mark with
or without a space, or nothing ("Standby", "1600"); a word may be written in one of its spellings (a
digit as a figure, as a word, in the radiotelephony pronunciation, or as a word that sounds the
same); a dot between two figures is the decimal mark and never a pause, so that no writing is two
numbers; what begins no writing of any answer is not followed. Places and the tokens that may follow
there are worked out once, when first needed, by one thread at a time; what was worked out never
changes a result, and is forgotten where it grows too large.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from threading import RLock
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from runner.speech.recognisers.answer_tree import Answer, Node
from runner.speech.recognisers.tokens import Tokens

_SPELLED: Final = {
    "zero": ("zero", "0"),
    "one": ("one", "1", "wun", "won"),
    "two": ("two", "2", "to", "too"),
    "three": ("three", "3", "tree"),
    "four": ("four", "4", "for", "fore", "fower"),
    "five": ("five", "5", "fife"),
    "six": ("six", "6", "sicks"),
    "seven": ("seven", "7"),
    "eight": ("eight", "8", "ate", "ait"),
    "nine": ("nine", "9", "niner", "minor", "miner"),
    "decimal": ("decimal", "dayseemal"),
    "and": ("and", "&"),
    "thousand": ("thousand", "tousand"),
    **{
        word: (word, str(number))
        for number, word in enumerate(
            ("ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen",
             "eighteen", "nineteen"), 10)
    },
}  # fmt: skip

_BETWEEN: Final = frozenset({"", " ", "-", ",", ", ", ". ", "! ", "? ", "; ", ": ", " - ", "... "})
_BEHIND: Final = frozenset({"", ".", "!", "?", ",", "..."})
_BEGUN: Final = frozenset(gap[:n] for gap in _BETWEEN | _BEHIND for n in range(len(gap) + 1))
_MARKS: Final = " -,.!?;:"
MOST_PLACES: Final = 20_000
"""Places of one set that are kept in memory: some 20 MB."""
_FIRST: Final = "^"
"""The gap before all words: the model begins with a space."""
_SIGNED: Final = "#"
"""The gap behind a dot that is the decimal mark, or a hyphen that is a minus: a figure comes at
once."""

_Position = tuple[Node, str, str]
"""Where a writing may stand: the node it leads to, what is left of the word, the gap so far."""

Vocabulary = dict[str, Any]
"""Tokens by their letters: each letter leads deeper, "" to the numbers of the tokens ending."""


@lru_cache(maxsize=2)
def vocabulary(tokens: Tokens) -> Vocabulary:
    """All tokens that could write an answer."""
    root: Vocabulary = {}
    for number in range(len(tokens)):
        text = tokens.text(number)
        if not text or not text.isascii():
            continue
        place = root
        for letter in text.lower():
            place = place.setdefault(letter, {})
        place.setdefault("", []).append(number)
    return root


class Writing:
    """The places that a writing of a closed set can be in, as numbers; the first is 0."""

    def __init__(self, roots: tuple[Node, ...], words: Vocabulary) -> None:
        self._words = words
        self._numbers: dict[frozenset[_Position], int] = {}
        self._places: list[frozenset[_Position]] = []
        self._leads: dict[int, dict[str, int]] = {}
        self._tokens: dict[int, tuple[NDArray[np.int64], NDArray[np.int64]]] = {}
        self._first = frozenset((root, "", _FIRST) for root in roots)
        self._lock = RLock()
        self._number(self._first)

    def step(self, place: int, letter: str) -> int | None:
        """Where one more letter leads; None if nothing is written so."""
        return self._following(place).get(letter)

    def trim(self) -> None:
        """Forgets all places, if there are many; their numbers are not to be used again."""
        with self._lock:
            if len(self._places) > MOST_PLACES:
                for known in (self._numbers, self._places, self._leads, self._tokens):
                    known.clear()
                self._number(self._first)

    def tokens(self, place: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """The tokens that may follow, in rising order, and where each leads."""
        with self._lock:
            found = self._tokens.get(place)
            if found is None:
                pairs: list[tuple[int, int]] = []
                self._walk(place, self._words, pairs)
                pairs.sort()
                rows = np.array(pairs, np.int64).reshape(-1, 2)
                found = self._tokens[place] = (rows[:, 0], rows[:, 1])
            return found

    def ends(self, place: int) -> tuple[Answer, ...]:
        """The answers that a writing is which ends here."""
        found = {
            answer
            for node, left, gap in self._places[place]
            if not left and gap in _BEHIND
            for answer in node.ends()
        }
        return tuple(sorted(found, key=lambda answer: (answer.line, answer.sort.value)))

    def read(self, text: str) -> tuple[Answer, ...]:
        """The answers that `text` is a writing of."""
        place = 0
        for letter in f" {text}".lower():
            after = self.step(place, letter)
            if after is None:
                return ()
            place = after
        return self.ends(place)

    def _walk(self, place: int, words: Vocabulary, pairs: list[tuple[int, int]]) -> None:
        pairs.extend((token, place) for token in words.get("", ()))
        for letter, after in self._following(place).items():
            deeper = words.get(letter)
            if deeper is not None:
                self._walk(after, deeper, pairs)

    def _following(self, place: int) -> dict[str, int]:
        """Where each letter that may follow leads."""
        with self._lock:
            found = self._leads.get(place)
            if found is None:
                after: dict[str, set[_Position]] = {}
                for position in self._places[place]:
                    for letter, lead in _after(position):
                        after.setdefault(letter, set()).add(lead)
                found = self._leads[place] = {
                    letter: self._number(frozenset(leads)) for letter, leads in after.items()
                }
            return found

    def _number(self, positions: frozenset[_Position]) -> int:
        number = self._numbers.get(positions)
        if number is None:
            number = self._numbers[positions] = len(self._places)
            self._places.append(positions)
        return number


def _after(position: _Position) -> Iterator[tuple[str, _Position]]:
    """The letters that may follow a position, and where each leads."""
    node, left, gap = position
    if left:
        yield left[0], (node, left[1:], "")
        return
    if gap == _FIRST:
        yield " ", (node, "", " ")
        return
    following = node.following()
    if gap in _BETWEEN or gap == _SIGNED:
        for word, deeper in following.items():
            for spelled in _SPELLED.get(word, (word,)):
                yield spelled[0], (deeper, spelled[1:], "")
    if gap == " " and "minus" in following:
        yield "-", (following["minus"], "", _SIGNED)
    if gap == "" and "point" in following:
        yield ".", (following["point"], "", _SIGNED)
    for letter in _MARKS:
        if gap + letter in _BEGUN:
            yield letter, (node, "", gap + letter)
