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
        "DRILL OPENED BY MISTAKE",
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
        "WRONG AIRCRAFT",
    }
)
"""Words that steer the list: the radiotelephony ones and our own."""

BEGINNINGS: Final = (
    "ACCEPT",
    "ANSWER",
    "CORRECT",
    "CORRECTION",
    "CREW",
    "DRILL",
    "FAULT",
    "HAPPENED",
    "LIST",
    "MAINTENANCE",
    "MARK",
    "ON PAPER",
    "READING",
    "SNAG",
    "TICK",
    "TIMER",
    "TURN TO",
)
"""How a line begins that says more than an answer."""
_BEGUN: Final = tuple(order + " " for order in BEGINNINGS)

_NUMBERS: Final = (
    "ZERO ONE TWO THREE FOUR FIVE SIX SEVEN EIGHT NINE TEN ELEVEN TWELVE THIRTEEN FOURTEEN "
    "FIFTEEN SIXTEEN SEVENTEEN EIGHTEEN NINETEEN TWENTY THIRTY FORTY FIFTY SIXTY SEVENTY "
    "EIGHTY NINETY HUNDRED THOUSAND AND MINUS DECIMAL POINT ZE-RO WUN TOO TREE FOWER FOW-ER "
    "FIFE SEV-EN AIT NINER NIN-ER DAYSEEMAL DAY-SEE-MAL HUN-DRED TOUSAND TOU-SAND"
)
NUMBER_WORDS: Final = frozenset(_NUMBERS.split())
"""Words of spoken numbers, in both pronunciations: what consists of them is heard as a number."""

_SIDES: Final = ("ABOVE", "BELOW", "DROP")
_TYPED: Final = re.compile(r"[-+]?[0-9][0-9.]*")
_PLAIN_NUMBER: Final = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?")

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
                rule="duplicate-name",
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
    bare = word.rstrip(".")
    if bare in STEERING:
        faults.add(
            place,
            "a control word as an answer",
            found=quoted(text),
            allowed="the actual state, as RELEASED",
            rule="answer-words",
        )
    elif bare in EMPTY_WORDS:
        faults.add(
            place,
            "an answer that does not say what is so",
            found=quoted(text),
            allowed="the actual state, as RELEASED",
            rule="empty-response",
        )
    elif (order := _order(word)) is not None:
        faults.add(
            place,
            f"an answer that begins like an order ({order} …)",
            found=quoted(text),
            todo="begin it with another word",
            rule="answer-words",
        )
    elif _is_number(word) and not _PLAIN_NUMBER.fullmatch(word):
        faults.add(
            place,
            "an answer that is heard as a number",
            found=quoted(text),
            allowed="a state in words, or the number in plain digits",
            todo="add a word, or make it a reading",
            rule="answer-words",
        )
    elif (sign := _SIGNS.search(text)) is not None:
        faults.add(
            place,
            "a sign that cannot be said or typed in an answer",
            found=quoted(sign[0]),
            allowed="letters, digits, spaces and . , / % ° ' ( ) + & -",
            rule="answer-words",
        )
    elif not any(letter.isalnum() for letter in text):
        faults.add(place, "an answer without a word", found=quoted(text), rule="answer-words")


def _order(word: str) -> str | None:
    """The beginning of an order that an answer has, if it has one."""
    whole = word + " "
    if whole.startswith(_BEGUN):
        return next(order for order in BEGINNINGS if whole.startswith(order + " "))
    side, _, rest = word.partition(" ")
    return side if side in _SIDES and rest and _is_number(rest) else None


def _is_number(word: str) -> bool:
    return all(part in NUMBER_WORDS or _TYPED.fullmatch(part) for part in word.split())
