"""What a recogniser would have written down without the set, word by word.

Rules: pure; signs and capitals are nothing; the address before an answer is no part of it; what is
nothing but a number is told, its unit behind it or not, but for one short word, of which nobody
knows: it may be any ("one", "on").
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Final

from runner.words.numbers import read_number

_WORD: Final = re.compile(r"[^\W\d_]+(?:'[^\W\d_]+)*|[0-9]+(?:\.[0-9]+)?")
_JOINING: Final = frozenset({"and", "point", "decimal", "minus", "hundred", "thousand"})
_SHORT: Final = frozenset(
    {"one", "wun", "two", "too", "three", "tree", "four", "five", "fife", "six", "eight", "ait",
     "nine", "ten"}
)  # fmt: skip


def words_of(text: str) -> list[str]:
    """The words of what was written freely, without its signs."""
    return _WORD.findall(text.lower().replace("’", "'"))


def find(words: Sequence[str], call: Sequence[str]) -> int:
    """Where a call stands last among words; -1 where it does not."""
    places = [i for i in range(len(words)) if call and words[i : i + len(call)] == call]
    return places[-1] if places else -1


def bare(words: Sequence[str], address: Iterable[str]) -> list[str]:
    """The words behind the address."""
    for call in map(words_of, address):
        if call and list(words[: len(call)]) == call:
            return list(words[len(call) :])
    return list(words)


def is_number(word: str) -> bool:
    """Whether a word is a number by itself."""
    return read_number(word) is not None


def number_alone(words: Sequence[str], address: Iterable[str]) -> bool:
    """Whether nothing but a number was said: digits, number words and what joins them, and behind
    them one other word at most, as a unit."""
    said = bare(words, address)
    numbers = [word for word in said if is_number(word)]
    others = [word for word in said if word not in numbers and word not in _JOINING]
    short = len(numbers) == 1 and (len(numbers[0]) == 1 or numbers[0] in _SHORT)
    return bool(numbers) and not short and others in ([], said[-1:])
