"""A run by voice: microphone, recognisers, program's voice and run, joined by their threads.

Rules: it begins when the first screen stands, and nothing waits for it: engines are loaded in a
thread, sound is read in another, one utterance is judged after the other in a third; a question is
told to the gate before anything said to it can be heard; while somebody answers only drills, marks
of time and cautions are spoken, and the talk key silences the rest at once; whatever part of the
voice cannot be had is named once, and the run goes on without it; what is still being made when the
run ends is let go as soon as it is there. Its lock is never held while the run is asked for
anything: the run calls back with its own.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING, Final, TypeVar

from runner.conversation.answering import Answering, waiting, wanted
from runner.conversation.calling import Caller
from runner.conversation.hearing import Clip, Judge
from runner.conversation.keyed import Keyed
from runner.conversation.microphone import NONE, Listener
from runner.conversation.mouth import Mouth
from runner.conversation.parts import Parts, Work, same_utterance
from runner.conversation.pedal import Pedal
from runner.conversation.standing import Standing, Way, now
from runner.engine.effects import Effect, Listen, Show, View, Voice
from runner.speech.decision import Verdict
from runner.speech.voice.lineup import Hold

if TYPE_CHECKING:
    from pathlib import Path

    from runner.conversation.desk import Desk
    from runner.speech.decision import Decision
    from runner.speech.ears.hearing import Clip as Taken
    from runner.speech.voice.speaking import Speaking

T = TypeVar("T")
LISTENING: Final = "LISTENING"
STARTING: Final = "VOICE STARTS"
_PATIENCE_S: Final = 2.0


class Conversation:
    """One run by voice. `start` once, `stop` at the end; keys may be told at any time."""

    def __init__(self, desk: Desk, parts: Parts, way: Way, caller: Caller) -> None:
        self._desk, self._parts, self._way = desk, parts, way
        self._mouth = Mouth(desk, caller)
        self._lock = threading.RLock()
        self._view, self._listen = desk.view(), desk.listen()
        self._order = ""
        self._listener: Listener | None = None
        self._judge: Judge | None = None
        self._pedal: Pedal | None = None
        self._work: queue.SimpleQueue[Work | None] = queue.SimpleQueue()
        self._judged: tuple[Taken, Standing, Decision] | None = None
        self._took, self._done = 0, 0
        self._keyed = Keyed(self._mouth)
        self._speaks = False
        # The voice tells with its own lock held that it speaks: nothing else is done under this.
        self._of_speaking = threading.Lock()
        self._ready = False
        self._stopped = threading.Event()
        self._threads: list[threading.Thread] = []

    # what a shell asks and tells ------------------------------------------------------------

    def bands(self) -> tuple[str, ...]:
        """What is so of the voice for as long as it is so."""
        if not self._ready:
            return () if self._stopped.is_set() or not self._threads else (STARTING,)
        listener = self._listener
        if listener is None or listener.fault:
            return (NONE,)
        if not listener.sounding:
            return (STARTING,)
        # Whatever is said now belongs to the order, as long as it waits.
        order = (waiting(self._order, self._view),) if self._order else ()
        return (LISTENING, *order) if listener.listening else order

    def start(self, uncover: Callable[[], None] = lambda: None) -> None:
        """Begins; comes back at once. A second call does nothing. `uncover`, called from any
        thread, puts the page away that lies over the question."""
        if self._threads:
            return
        self._keyed.uncover = uncover
        self._desk.subscribe(self._heard)
        self._caught_up()
        self._threads = [
            threading.Thread(target=self._begin, name="voice starts", daemon=True),
            threading.Thread(target=self._hold, name="voice holds", daemon=True),
        ]
        for thread in tuple(self._threads):  # a quick beginning adds one meanwhile
            thread.start()

    def stop(self) -> None:
        """Silence; every thread and device is let go."""
        with self._lock:
            self._stopped.set()
            listener, judge, pedal = self._listener, self._judge, self._pedal
        self._work.put(None)
        self._mouth.close()
        if pedal is not None:
            pedal.stop()
        if listener is not None:
            listener.stop()
        for thread in tuple(self._threads):
            thread.join(_PATIENCE_S)
        if judge is not None:
            judge.close()

    def talk(self) -> None:
        """A press of the talk-to-list key."""
        self._keyed.talk()

    def hold(self, down: bool) -> None:
        """The talk pedal went down, or up."""
        self._keyed.hold(down)

    def transmit(self, *, down: bool) -> None:
        """The transmit key went down, or up."""
        self._keyed.transmit(down=down)

    def cover(self, *, covered: bool) -> None:
        """A page lies over the question, or no more: while it does, nothing is said to the list."""
        self._keyed.cover(covered=covered)

    def call_again(self) -> None:
        """The call that waits, once more; while an order waits, what is wanted behind it."""
        order = self._order
        if order:
            self._desk.announce(wanted(order, self._desk), Voice.OUTCOME)
        else:
            self._mouth.call_again()

    def swap_caller(self) -> str:
        """The program calls the list from now on, or the copilot reads it."""
        return self._mouth.swap()

    # the beginning --------------------------------------------------------------------------

    def _begin(self) -> None:
        try:
            self._make()
        finally:
            self._ready = True
        self._work_ahead()

    def _make(self) -> None:
        """Makes the parts, the voice first: it may be heard before it can be answered."""
        speaking = self._made(lambda: self._voice(self._parts.speaking))
        if speaking is not None:
            self._mouth.given(speaking)
        judge = self._made(self._parts.judge)
        if judge is None:
            return
        for text in judge.lacking:
            self._desk.announce(text, Voice.STATUS)
        hearing = self._made(self._parts.hearing)
        device = self._made(self._parts.device) if hearing is not None else None
        if hearing is None or device is None:
            judge.close()
            return
        listener = Listener(device, hearing, self._taken, self._likely, self._desk.announce)
        if not self._begun(listener, judge):
            judge.close()
            return
        pedal = self._made(lambda: self._pedal_of(self._parts.pedal))
        with self._lock:
            self._pedal = pedal
            stopped = self._stopped.is_set()
        if stopped and pedal is not None:
            pedal.stop()

    def _begun(self, listener: Listener, judge: Judge) -> bool:
        """Listens and judges from now on; not where the run has ended meanwhile."""
        with self._lock:
            if self._stopped.is_set():
                return False
            self._judge = judge
            judging = threading.Thread(target=self._answer, name="voice judges", daemon=True)
            self._threads.append(judging)
            with self._of_speaking:
                self._listener = listener
                if self._speaks:
                    listener.own_voice(True)
            self._keyed.given(listener, self._view.ask)
            judging.start()
            listener.start()
        return True

    def _pedal_of(self, path: Path | None) -> Pedal | None:
        if path is None:
            return None
        pedal = Pedal(path, self.hold, lambda text: self._desk.announce(text, Voice.STATUS))
        pedal.start()
        return pedal

    def _voice(self, make: Callable[[Callable[[bool], None]], Speaking] | None) -> Speaking | None:
        """The program's voice, ready to be told what to say; one that is lacking says what."""
        if make is None:
            return None
        speaking = make(self._own_voice)
        if not speaking.connect():
            self._desk.announce(speaking.fault, Voice.STATUS)
            return None
        return speaking

    def _made(self, make: Callable[[], T]) -> T | None:
        try:
            return make()
        except Exception as fault:  # whatever an engine raises, the run goes on by keys
            text = str(fault) or type(fault).__name__
            self._desk.announce(f"NO VOICE: {text}", Voice.STATUS)
            return None

    def _own_voice(self, speaking: bool) -> None:
        with self._of_speaking:
            self._speaks = speaking
            if self._listener is not None:
                self._listener.own_voice(speaking)

    # what happens in the run ----------------------------------------------------------------

    def _caught_up(self) -> None:
        """What has happened since this was made and before it heard of the run."""
        view, listen = self._desk.view(), self._desk.listen()
        with self._lock:
            if view.at < self._view.at:
                return  # something newer was heard meanwhile
            before, self._view, self._listen = self._listen, view, listen
        self._mouth.stands(view, before)

    def _heard(self, effects: tuple[Effect, ...]) -> None:
        """The effects of one event. Called under the run's lock: nothing here waits."""
        with self._lock:
            before, ask = self._listen, self._view.ask
            for effect in effects:
                if isinstance(effect, Show):
                    self._view = effect.view
                elif isinstance(effect, Listen):
                    self._listen = effect
            view = self._view
            if view.ask != ask:
                self._order = ""
                self._keyed.asked(view.ask)
        self._mouth.heard(effects, view, before)
        if view.ask != ask:
            self._work_ahead()

    def _work_ahead(self) -> None:
        """Has the judging thread prepare for the question that stands."""
        if self._judge is not None:
            self._work.put(None)

    # an utterance ---------------------------------------------------------------------------

    def _taken(self, clip: Taken) -> None:
        self._took += 1
        self._work.put(Work(clip, whole=True))

    @property
    def _judging(self) -> bool:
        """Whether an utterance waits to be judged; each count is of one thread alone."""
        return self._took != self._done

    def _likely(self, clip: Taken) -> None:
        """What will be taken if nothing more is said: judged while the pause runs that ends it."""
        self._work.put(Work(clip, whole=False))

    def _answer(self) -> None:
        """The thread that judges: one utterance after the other, and ahead of them."""
        judge = self._judge
        assert judge is not None  # noqa: S101
        answering = Answering(self._desk, self._parts.clipper)
        while not self._stopped.is_set():
            work = self._work.get()
            if self._stopped.is_set():
                return
            try:
                if work is not None and work.whole:
                    self._one(work.clip, judge, answering)
                elif self._work.empty():
                    # What is worked out ahead is worth nothing once something waits.
                    self._ahead(work, judge)
            except Exception as fault:  # our own bug: said, and the keys go on
                text = f"A FAULT OF THE VOICE ({type(fault).__name__}): SAY AGAIN, OR USE THE KEYS"
                self._desk.announce(text, Voice.REFUSED)
            self._done += work is not None and work.whole

    def _ahead(self, work: Work | None, judge: Judge) -> None:
        stands, view = self._now()
        if work is None:
            judge.prepare(stands.answers)
        elif work.clip.utterance.ask == view.ask:
            self._judged = (work.clip, stands, self._decided(work.clip, stands, judge))

    def _one(self, clip: Taken, judge: Judge, answering: Answering) -> None:
        stands, view = self._now()
        said_to = clip.utterance.ask
        if said_to != view.ask:
            # Not worth the recognisers' time; the run would refuse it as it stands.
            if not self._way.open_microphone:  # what was not said to the list is not spoken about
                answering.too_late()
            return
        before, self._judged = self._judged, None
        if before is not None and before[1] == stands and same_utterance(before[0], clip):
            found = before[2]
        else:
            found = self._decided(clip, stands, judge)
        order = answering.carry_out(found, stands, clip.samples)
        with self._lock:
            if self._view.ask == said_to and found.verdict is not Verdict.NOTHING:
                self._order = order

    def _decided(self, clip: Taken, stands: Standing, judge: Judge) -> Decision:
        # A crew may have changed: one person's bars are for when nobody else may have spoken.
        judge.aboard({name for _, name in self._view.crew})
        found = judge.decide(Clip(clip.samples, clip.ratio, clip.utterance.cut), stands)
        return found._replace(ask=clip.utterance.ask)

    def _now(self) -> tuple[Standing, View]:
        """The question that stands, with the order that waits beside it."""
        with self._lock:
            view, listen, order = self._view, self._listen, self._order
        return now(self._desk, listen, view, order, self._way), view

    # holding --------------------------------------------------------------------------------

    def _hold(self) -> None:
        """Keeps the program's voice down while somebody answers, until it was judged; and says what
        has become of the voice."""
        while not self._stopped.wait(0.05):
            listener = self._listener
            answering = self._judging or (listener is not None and listener.answering)
            self._mouth.hold(Hold.ANSWERING, holding=answering)
            fault = self._mouth.trouble()
            if fault:
                self._desk.announce(fault, Voice.STATUS)
