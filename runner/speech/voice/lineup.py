"""What is said when: the calls that wait, and which of them the voice says next.

Rules: pure, one text at a time. A drill, a mark of time and a caution come first and break into
anything else, which is said again from its beginning; of equals the one that was given first. What
belongs to a question that stands no more is not said. While the transmit key is down nothing is
said, and what it broke into is said after it; while the crew answers only the first kind is. The
talk key ends what is being said and clears what waited, cautions, marks and drills apart.
"""

from __future__ import annotations

from enum import Enum
from typing import Final, NamedTuple

from runner.engine.effects import Voice

URGENT: Final = frozenset({Voice.DRILL, Voice.TIMER, Voice.CAUTION})
_OF_QUESTION: Final = frozenset({Voice.CALL, Voice.READ_BACK})
_RANKS: Final = {
    Voice.DRILL: 0, Voice.TIMER: 0, Voice.CAUTION: 1, Voice.READ_BACK: 2, Voice.REFUSED: 2,
    Voice.ECHO: 2, Voice.OUTCOME: 2, Voice.CALL: 3, Voice.REMARK: 4, Voice.STATUS: 4,
}  # fmt: skip
MOST: Final = 24
"""Texts that wait; beyond it the last of the least important is dropped."""


class Hold(Enum):
    """Why nothing, or almost nothing, is said now."""

    TRANSMITTING = "transmitting"
    ANSWERING = "answering"


class Saying(NamedTuple):
    """One text to be said: its number, as given, counts up; `ask` is the question it belongs to."""

    number: int
    text: str
    kind: Voice
    ask: int

    @property
    def urgent(self) -> bool:
        """Whether it breaks into others."""
        return self.kind in URGENT


class Lineup:
    """The texts that wait and the one that is said."""

    def __init__(self) -> None:
        self.current: Saying | None = None
        self._waiting: list[Saying] = []
        self._holds: set[Hold] = set()
        self._ask = 0

    @property
    def waiting(self) -> tuple[Saying, ...]:
        """What waits, in the order in which it will be said."""
        return tuple(self._waiting)

    def add(self, saying: Saying) -> bool:
        """Takes a text; True if what is said now must be stopped for it."""
        if saying.kind in _OF_QUESTION and saying.ask < self._ask:
            return False
        self._put(saying)
        if len(self._waiting) > MOST:
            self._waiting.pop()
        current = self.current
        breaks_in = (
            saying.urgent
            and current is not None
            and not current.urgent
            and Hold.TRANSMITTING not in self._holds
        )
        if breaks_in and current is not None:
            self._back()
        return breaks_in

    def asked(self, ask: int) -> bool:
        """Another question stands; True if what is said now belongs to one before."""
        self._ask = max(self._ask, ask)
        self._waiting = [one for one in self._waiting if not self._stale(one)]
        if self.current is not None and self._stale(self.current):
            self.current = None
            return True
        return False

    def hold(self, why: Hold) -> bool:
        """Less is said from now on; True if what is said now must be stopped."""
        self._holds.add(why)
        if why is Hold.TRANSMITTING and self.current is not None:
            self._back()
            return True
        return False

    def release(self, why: Hold) -> None:
        """That reason is over."""
        self._holds.discard(why)

    def barge_in(self) -> bool:
        """The crew wants to speak; True if something is said now, which must be stopped."""
        self._waiting = [one for one in self._waiting if one.urgent]
        stopped, self.current = self.current is not None, None
        return stopped

    def next(self) -> Saying | None:
        """What is to be said now, if anything: it is the current one from then on."""
        if self.current is not None or Hold.TRANSMITTING in self._holds or not self._waiting:
            return None
        if Hold.ANSWERING in self._holds and not self._waiting[0].urgent:
            return None
        self.current = self._waiting.pop(0)
        return self.current

    def ended(self, number: int) -> None:
        """A text was said, or could not be."""
        if self.current is not None and self.current.number == number:
            self.current = None

    def _stale(self, saying: Saying) -> bool:
        return saying.kind in _OF_QUESTION and saying.ask < self._ask

    def _back(self) -> None:
        current, self.current = self.current, None
        if current is not None:
            self._put(current)

    def _put(self, saying: Saying) -> None:
        self._waiting.append(saying)
        self._waiting.sort(key=lambda one: (_RANKS[one.kind], one.number))
