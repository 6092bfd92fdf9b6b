"""What the program says in a run: its voice, who calls the list, and when it is kept down.

Rules: silent until a voice is given, and then the call that stands comes first: a voice that comes
late, or a caller that was changed by a key, begins with the question on the screen; the question is
told to the voice before anything of it is said; a call that is repeated is said where it would be
said now; texts are rendered ahead once; keys pressed before there was a voice hold for it too; what
ends the voice is said once, and costs the run nothing.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from runner.conversation.calling import CALLS, Caller, Moment, ahead, spoken
from runner.engine.effects import Effect, Listen, Prompt, Say, View, Voice
from runner.speech.voice.lineup import Hold
from runner.words.calls import call

if TYPE_CHECKING:
    from runner.conversation.desk import Desk
    from runner.speech.voice.speaking import Speaking


class Mouth:
    """The program's side of a conversation. May be told anything from any thread; never waits."""

    def __init__(self, desk: Desk, caller: Caller) -> None:
        self.caller = caller
        self._desk = desk
        # Of its own, because a voice calls back with its own lock held: nothing of the run is
        # asked under it.
        self._lock = threading.RLock()
        self._view, self._before = desk.view(), desk.listen()
        self._call = call(self._view)
        self._speaking: Speaking | None = None
        self._closed = False
        self._held: set[Hold] = set()
        self._prepared: set[str] = set()
        self._fault = ""
        self._told: set[str] = set()

    def given(self, speaking: Speaking) -> None:
        """A voice to speak with. It is let go where nothing is said any more."""
        with self._lock:
            if not self._closed:
                self._speaking = speaking
                for why in self._held:
                    speaking.hold(why, holding=True)
                self._asked()
                self.call_again()
                return
        speaking.close()

    def stands(self, shown: View, before: Listen) -> None:
        """What is seen now, with nothing said of it."""
        with self._lock:
            if shown.ask != self._view.ask:
                self._call = call(shown)
            self._view, self._before = shown, before

    def heard(self, effects: tuple[Effect, ...], shown: View, before: Listen) -> None:
        """The effects of one event: what is seen after it, and what was listened for before."""
        with self._lock:
            fresh = shown.ask != self._view.ask
            self._view, self._before = shown, before
            calls = [one for one in effects if isinstance(one, Say) and self._waits(one)]
            if fresh or calls:
                self._call = calls[-1] if calls else None
            if fresh:
                self._asked()
            self._say(effects)

    def _waits(self, said: Say) -> bool:
        """Whether it is a call that waits for an answer: what was corrected is read back alike."""
        read_back = self._view.prompt is Prompt.READ_BACK
        return said.kind in CALLS and (said.kind is not Voice.READ_BACK or read_back)

    def call_again(self) -> None:
        """The call that waits, once more."""
        with self._lock:
            if self._call is not None:
                self._say((self._call,))

    def swap(self) -> str:
        """The program calls the list from now on, or the copilot reads it; which, in words."""
        with self._lock:
            if self.caller is Caller.PROGRAM:
                self.caller = Caller.COPILOT
            else:
                self.caller = Caller.PROGRAM
                self.call_again()
            return self.caller.value

    def barge_in(self) -> None:
        """The crew wants to speak."""
        with self._lock:
            if self._speaking is not None:
                self._speaking.barge_in()

    def hold(self, why: Hold, *, holding: bool) -> None:
        """Less is said from now on, for this reason; or that is over."""
        with self._lock:
            if holding == (why in self._held):
                return
            (self._held.add if holding else self._held.discard)(why)
            if self._speaking is not None:
                self._speaking.hold(why, holding=holding)

    def trouble(self) -> str:
        """What has become of the voice, each sentence once; empty for nothing new."""
        with self._lock:
            fault = self._fault or (self._speaking.fault if self._speaking is not None else "")
            if not fault or fault in self._told:
                return ""
            self._told.add(fault)
            return fault

    def close(self) -> None:
        """Silence, for good."""
        with self._lock:
            self._closed = True
            speaking, self._speaking = self._speaking, None
        if speaking is not None:
            speaking.close()

    def _asked(self) -> None:
        if self._speaking is None:
            return
        with self._noting():
            self._speaking.asked(self._view.ask)
            new = [text for text in ahead(self._view) if text not in self._prepared]
            self._prepared.update(new)
            self._speaking.prepare(new)

    def _say(self, effects: Iterable[Effect]) -> None:
        if self._speaking is None:
            return
        moment = Moment(self.caller, self._view, self._before, self._desk.now())
        for one in spoken(effects, moment):
            with self._noting():
                self._speaking.say(one.text, one.kind, self._view.ask)

    @contextmanager
    def _noting(self) -> Iterator[None]:
        """Our own bug costs a text, and is said: all that is spoken stands on the screen too."""
        try:
            yield
        except Exception as fault:
            self._fault = f"the voice has failed ({type(fault).__name__})"
