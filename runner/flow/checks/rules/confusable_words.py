"""Answers of one step that sound alike.

Through a cockpit's noise a recogniser, like a person, hears what two words have in common. Two
answers of one choice, or an answer and a word that steers the list, are told apart by more than one
sound, and by a good part of all their sounds. One answer that is the other with a word before or
behind it is the other as soon as the talk key is late or let go early.

Wrong:

    choices: [INCREASING, DECREASING]

Right:

    choices: [RISING, DROPPING]
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations
from typing import Final

from runner.flow.answers import STEERING, normal
from runner.flow.checks.answered import Texts, answers_of
from runner.flow.checks.findings import WARNING, Found, Level
from runner.flow.checks.subject import Subject
from runner.words.phonetics import alike

LEVEL: Final[Level] = WARNING
REASON: Final = "in noise a recogniser, like a person, hears what two words have in common"

_ORDERS: Final = sorted(STEERING)


def check(subject: Subject) -> Iterator[Found]:
    """The later one of two answers that sound alike, or an answer like a steering word."""
    for pair in subject.all_pairs():
        answers = answers_of(pair.item)
        told: set[int] = set()
        for (_, one), (number, other) in combinations(enumerate(answers), 2):
            found = _alike(one, other)
            if found is not None and number not in told:
                told.add(number)
                yield found
        for number, answer in enumerate(answers):
            if number not in told:
                yield from _steering(answer)


def _alike(one: Texts, other: Texts) -> Found | None:
    for first, place in one:
        for second, where in other:
            why = _why(first, second)
            if why:
                return Found(
                    where,
                    f"{second!r} {why} {first!r} on line {place.line}",
                    "say one of them in words that share no sound with the other",
                )
    return None


def _why(one: str, other: str) -> str:
    """How the other is too near to the one; empty where it is not."""
    words, others = _words(one), _words(other)
    short, long = sorted((words, others), key=len)
    if len(short) < len(long) and short in (long[: len(short)], long[-len(short) :]):
        return (
            "is, cut off at its beginning or end," if long is others else "is all that is left of"
        )
    if alike(normal(one), normal(other)):
        return "sounds like"
    return ""


def _words(phrase: str) -> list[str]:
    return normal(phrase).replace("-", " ").split()


def _steering(answer: Texts) -> Iterator[Found]:
    for text, place in answer:
        word = order_like(text)
        if word:
            yield Found(
                place,
                f"{text!r} sounds like {word!r}, which steers the list",
                "answer in other words",
            )
            return


@lru_cache(maxsize=4096)
def order_like(answer: str) -> str:
    """The first word that steers the list and sounds like an answer, or nothing."""
    return next((word for word in _ORDERS if alike(normal(answer), word)), "")
