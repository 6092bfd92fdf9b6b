"""What of a step is called and what answers it, as the card has it.

Rules: a reading without words of its own is called by the label of its instrument; what answers is
what the crew says or meets: the state, the limit, the choices, the time.
"""

from __future__ import annotations

from collections.abc import Mapping

from runner.flow.comparing.values import text, time_text
from runner.flow.documents import Item
from runner.flow.parts import ChoiceDoc
from runner.flow.steps import (
    ByTimeDoc,
    CautionDoc,
    ChallengeDoc,
    ChooseDoc,
    ComputeDoc,
    ReadingDoc,
    StepDoc,
    TickDoc,
    WaitDoc,
)


def called(item: Item, labels: Mapping[str, str]) -> str:
    """What is called; `labels` name the readings of the aircraft."""
    doc = item.doc
    if isinstance(doc, ReadingDoc) and not doc.words:
        return labels.get(doc.reading, doc.reading)
    return doc.words


def choice_text(choice: ChoiceDoc | str) -> str:
    """One answer of a choice."""
    return choice if isinstance(choice, str) else choice.answer


def answer_of(doc: StepDoc) -> str:
    """What answers a step, empty where its kind says it all."""
    match doc:
        case ChallengeDoc() | TickDoc() | ByTimeDoc():
            return doc.answer
        case ReadingDoc() | ComputeDoc():
            return text(doc.limit) if doc.limit else ""
        case ChooseDoc():
            return " / ".join(choice_text(one) for one in doc.choices)
        case WaitDoc():
            return time_text(doc.for_)
        case CautionDoc():
            return " / ".join(doc.key_words)
    return ""
