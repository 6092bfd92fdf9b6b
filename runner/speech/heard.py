"""What a recogniser is asked and what it answers: the one interface behind which all of them stand.

Rules: a recogniser gets one utterance and the closed set of what may have been said; it ranks those
answers and adds nothing of its own; scores are natural logarithms, compared within one decoding
only; what it thinks that was said outside the set is told beside them, and decides nothing here.
"""

from __future__ import annotations

from decimal import Decimal
from enum import Enum
from typing import TYPE_CHECKING, NamedTuple, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Audio = NDArray[np.float32]
    """One utterance: mono, 16 kHz, within ±1."""

RATE = 16_000
"""Samples a second that every recogniser is given."""


class Sort(Enum):
    """What an answer is to the list."""

    RESPONSE = "response"
    ITEM = "item"
    CONTROL = "control"
    NUMBER = "number"


class Phrase(NamedTuple):
    """One answer of words: the line that it is, as the list reads it, and the ways of saying it in
    lower-case words, the plain one first."""

    line: str
    ways: tuple[str, ...]
    sort: Sort = Sort.RESPONSE


class NumberForm(NamedTuple):
    """The numbers that may be said: exact decimals within what the instrument can show."""

    decimals: int
    low: Decimal
    high: Decimal
    unit: str = ""
    thresholds: bool = False
    """"below eighty" and "above eighty" are answers too."""
    drops: bool = False
    """So is "drop eighty"."""
    before: tuple[str, ...] = ()
    """Words one of which stands before the number, and is no part of it: the address, with an open
    microphone. None: nothing stands before it."""


class AnswerSet(NamedTuple):
    """All that may be said to question `ask`."""

    ask: int
    phrases: tuple[Phrase, ...]
    number: NumberForm | None = None
    critical: bool = False
    critical_lines: frozenset[str] = frozenset()
    """The lines that are critical though the question as a whole is not: items of a station."""
    read_back: frozenset[Sort] = frozenset()
    """The sorts of answers that the list reads back when they were not surely heard; of others it
    takes none that was not."""


class Ranked(NamedTuple):
    """One answer with its score; a number's line is its plain decimal ("29.92", "below 80")."""

    line: str
    score: float
    sort: Sort


class Heard(NamedTuple):
    """What one recogniser made of an utterance: its answers, best first; none, if it rejects it."""

    recogniser: str
    ranked: tuple[Ranked, ...]
    free: str = ""
    """What it would have written down without the set, where it can."""
    free_score: float | None = None
    """The score of that, on the same scale: what the best answer is compared with."""

    @property
    def margin(self) -> float | None:
        """How far the best answer is before the second one; None where there is no second."""
        return self.ranked[0].score - self.ranked[1].score if len(self.ranked) > 1 else None


class Recogniser(Protocol):
    """What every recogniser does."""

    @property
    def name(self) -> str:
        """How the log calls it."""
        ...

    def decode(self, audio: Audio, answers: AnswerSet) -> Heard:
        """The answers ranked. Deterministic; raises ValueError for audio of another form."""
        ...
