"""A response that does not say what is so: "set", "checked", "as required".

The response is the actual state or value, because a word that fits every state is said without
looking. That holds for several such words together, and for one of them with the name of the item.

Wrong:

    challenge: Mixture
    answer: MIXTURE SET

Right:

    challenge: Mixture
    answer: RICH
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from runner.flow.checks.answered import texts_of
from runner.flow.checks.findings import ERROR, Found, Level
from runner.flow.checks.subject import Subject

LEVEL: Final[Level] = ERROR
REASON: Final = "a word that fits every state is said without looking"

_SAID: Final = (
    "ADJUSTED CHECK CHECKED COMPLETE COMPLETED CONFIRMED DESIRED DONE NECESSARY NEEDED OK OKAY "
    "PERFORMED REQUIRED SET VERIFIED"
)
_SAYING: Final = frozenset(_SAID.split())
"""Words without which there is no such answer: "BOTH" alone is a state of a magneto switch."""
_EMPTY: Final = _SAYING | {"ALL", "AND", "AS", "BOTH", "IS", "ITEM", "ITEMS", "TO"}
_WORD: Final = re.compile(r"[^\W\d_]+|\d+")


def check(subject: Subject) -> Iterator[Found]:
    """Answers of nothing but empty words and the words of their own challenge."""
    for pair in subject.all_pairs():
        called = set(_WORD.findall(pair.words.upper()))
        for text, place in texts_of(pair.item):
            words = _WORD.findall(text.upper())
            if words and any(word in _SAYING for word in words):
                if all(word in _EMPTY or word in called for word in words):
                    yield Found(
                        place,
                        f"{text!r} does not say what is so",
                        "answer with the state or the value, as RELEASED or 1600 RPM",
                    )
