"""Every text by which a step may be answered, with its place.

Rules: in the order in which the author wrote them; what the engine adds by itself (ROGER, CLOSED)
is not among them, since the author cannot change it.
"""

from __future__ import annotations

from runner.flow.documents import Item
from runner.flow.faults import Place
from runner.flow.parts import ChoiceDoc
from runner.flow.steps import ByTimeDoc, CautionDoc, ChallengeDoc, ChooseDoc, TickDoc

Texts = list[tuple[str, Place]]


def texts_of(item: Item) -> Texts:
    """The answers of a step, other words for them included."""
    return [text for answer in answers_of(item) for text in answer]


def answers_of(item: Item) -> list[Texts]:
    """The answers of a step, each with the other words for it."""
    doc = item.doc
    match doc:
        case ChallengeDoc() | ByTimeDoc() | TickDoc():
            return [[(doc.answer, item.at("answer")), *_also(item, doc.also, "also")]]
        case CautionDoc():
            return [_also(item, doc.key_words, "key words")]
        case ChooseDoc():
            return [_choice(item, index, choice) for index, choice in enumerate(doc.choices)]
        case _:
            return []


def _choice(item: Item, index: int, choice: ChoiceDoc | str) -> Texts:
    if isinstance(choice, str):
        return [(choice, item.at("choices", index))]
    own = (choice.answer, item.at("choices", index, "answer"))
    return [own, *_also(item, choice.also, "choices", index, "also")]


def _also(item: Item, words: list[str], *path: str | int) -> Texts:
    return [(word, item.at(*path, index)) for index, word in enumerate(words)]
