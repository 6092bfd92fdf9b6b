"""What the crew's keys and pages do to the microphone, which may not be there yet.

Rules: a press of the talk key or the pedal silences the program; nothing is heard by the list while
the transmit key is down, nor while a page lies over the question that the crew has not asked for:
then no question stands, for a pedal and an open microphone too, a talk key that was open is let go,
and the pedal's press puts the page away and opens nothing; what was told before the microphone is
there holds from when it is. Called from any thread; no call waits.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

from runner.speech.voice.lineup import Hold

if TYPE_CHECKING:
    from runner.conversation.microphone import Listener
    from runner.conversation.mouth import Mouth


class Keyed:
    """Keys, pages and the question, told to one microphone."""

    def __init__(self, mouth: Mouth) -> None:
        self._mouth = mouth
        self._lock = threading.Lock()
        self._listener: Listener | None = None
        self._ask: int | None = None
        self._covered = False
        self._transmitting = False
        self._put_away = False
        self.uncover: Callable[[], None] = lambda: None
        """Puts the page away that lies over the question."""

    def given(self, listener: Listener, ask: int) -> None:
        """The microphone is there, and this question stands."""
        with self._lock:
            self._listener, self._ask = listener, ask
            self._tell_question()
            if self._transmitting:
                listener.transmit(down=True)

    def asked(self, ask: int) -> None:
        """This question stands now."""
        with self._lock:
            self._ask = ask
            self._tell_question()

    def cover(self, *, covered: bool) -> None:
        """A page lies over the question, or no more."""
        with self._lock:
            if covered != self._covered:
                self._covered = covered
                self._tell_question()
                if covered and self._listener is not None:
                    # What opens once the question is seen is a press of its own.
                    self._listener.let_go()

    def talk(self) -> None:
        """A press of the talk-to-list key: the program is silent, and listens or no more."""
        self._mouth.barge_in()
        if self._listener is not None:
            self._listener.talk()

    def hold(self, down: bool) -> None:
        """The talk pedal went down, or up."""
        if down:
            self._mouth.barge_in()
            if self._covered:
                self._put_away = True
                self.uncover()
                return
        elif self._put_away:
            # The release of a press that opened nothing would cut what was opened meanwhile.
            self._put_away = False
            return
        if self._listener is not None:
            self._listener.hold(down=down)

    def transmit(self, *, down: bool) -> None:
        """The transmit key went down, or up: silence and deafness."""
        self._mouth.hold(Hold.TRANSMITTING, holding=down)
        with self._lock:
            self._transmitting = down
            if self._listener is not None:
                self._listener.transmit(down=down)

    def _tell_question(self) -> None:
        if self._listener is not None:
            self._listener.asked(None if self._covered else self._ask)
