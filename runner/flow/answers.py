"""The words that may answer a step.

Rules: an answer is the actual state, never a word that says nothing ("set"); it is none of the
words that steer the list, nor begins like one, so that a line of a script, a key or a voice is
never two things; two answers of one step differ when case and spaces are left out of account.
"""

from __future__ import annotations

import re
from typing import Final

from runner.flow.documents import Item
from runner.flow.faults import Faults, Place, quoted
from runner.flow.parts import ChoiceDoc
from runner.flow.steps import ByTimeDoc, CautionDoc, ChallengeDoc, ChooseDoc, TickDoc

STEERING: Final = frozenset(
    {
        "ACCEPT",
        "AFFIRM",
        "CONDITION LOST",
        "CONFIRM",
        "CONTINUE",
        "CORRECTION",
        "DISCONTINUE",
        "DISREGARD",
        "GO BACK",
        "HAND OVER",
        "MEMORY ITEMS DONE",
        "NEGATIVE",
        "NEXT FLIGHT",
        "NOT SO",
        "ON PAPER",
        "PAGE READ",
        "PUT OFF",
        "ROGER",
        "SAY AGAIN",
        "STAND BY",
        "STANDBY",
        "UNABLE",
        "WAIT ON",
        "WILCO",
    }
)
"""Words that steer the list: the radiotelephony ones and our own."""

BEGINNINGS: Final = frozenset(
    {
        "ABOVE",
        "ACCEPT",
        "ASK",
        "BELOW",
        "CORRECT",
        "CORRECTION",
        "CREW",
        "DRILL",
        "DROP",
        "FAULT",
        "HAPPENED",
        "LIST",
        "MAINTENANCE",
        "MARK",
        "ON",
        "READING",
        "SNAG",
        "TICK",
        "TIMER",
        "TURN",
    }
)
"""First words of lines that say more than an answer; alone they may be one."""

_TWO_WORDS: Final = {"ON": "PAPER", "TURN": "TO"}
_NUMBERED: Final = frozenset({"ABOVE", "ASK", "BELOW", "DROP"})

EMPTY_WORDS: Final = frozenset({"AS REQUIRED", "CHECK", "CHECKED", "DONE", "OK", "SET"})
"""Answers that do not say what is so."""

_SIGNS: Final = re.compile(r"[^\w .,/%°'()+&-]")


def normal(text: str) -> str:
    """Capitals and single spaces, as the engine compares answers."""
    return " ".join(text.upper().split())


def check_answers(item: Item, faults: Faults) -> None:
    """Note every text of a step that cannot be an answer, and answers that are the same."""
    taken: dict[str, Place] = {}
    for text, place in _texts(item):
        word = normal(text)
        if word in taken:
            faults.add(
                place,
                "two answers that are the same",
                found=quoted(text),
                todo=f"the other stands on line {taken[word].line}: keep one",
            )
        taken.setdefault(word, place)
        _check(text, word, place, faults)


def _texts(item: Item) -> list[tuple[str, Place]]:
    doc = item.doc
    match doc:
        case ChallengeDoc() | ByTimeDoc() | TickDoc():
            return [(doc.answer, item.at("answer")), *_list(item, doc.also, "also")]
        case CautionDoc():
            return _list(item, doc.key_words, "key words")
        case ChooseDoc():
            found: list[tuple[str, Place]] = []
            for index, choice in enumerate(doc.choices):
                if isinstance(choice, ChoiceDoc):
                    found.append((choice.answer, item.at("choices", index, "answer")))
                    found += _list(item, choice.also, "choices", index, "also")
                else:
                    found.append((choice, item.at("choices", index)))
            return found
        case _:
            return []


def _list(item: Item, words: list[str], *path: str | int) -> list[tuple[str, Place]]:
    return [(word, item.at(*path, index)) for index, word in enumerate(words)]


def _check(text: str, word: str, place: Place, faults: Faults) -> None:
    first, _, rest = word.partition(" ")
    if word in STEERING:
        faults.add(
            place,
            "a control word as an answer",
            found=quoted(text),
            allowed="the actual state, as RELEASED",
        )
    elif word in EMPTY_WORDS:
        faults.add(
            place,
            "an answer that does not say what is so",
            found=quoted(text),
            allowed="the actual state, as RELEASED",
        )
    elif rest and first in BEGINNINGS and _steers(first, rest):
        faults.add(
            place,
            f"an answer that begins like an order ({first} …)",
            found=quoted(text),
            todo="begin it with another word",
        )
    elif (sign := _SIGNS.search(text)) is not None:
        faults.add(
            place,
            "a sign that cannot be said or typed in an answer",
            found=quoted(sign[0]),
            allowed="letters, digits, spaces and . , / % ° ' ( ) + & -",
        )
    elif not any(letter.isalnum() for letter in text):
        faults.add(place, "an answer without a word", found=quoted(text))


def _steers(first: str, rest: str) -> bool:
    second = rest.partition(" ")[0]
    if first in _TWO_WORDS:
        return second == _TWO_WORDS[first]
    if first in _NUMBERED:
        return second[:1].isdigit()
    return True
