"""The desk: one run, joining engine, shells, clock and log.

Rules: one event at a time, under one lock; what was due before an event happens before it, at its
own time; transition, durable line, commit, show, in this order (a drill is shown first, and after
a lost recording all go on without it); words that are no event are refused aloud and not logged;
nothing a person types can raise here.
"""

from __future__ import annotations

import threading
import unicodedata
from collections.abc import Callable

from audit.errors import AuditError
from audit.people import Signer
from audit.stamps import Stamp
from runner.engine.effects import Effect, Listen, Prompt, Say, View, Voice
from runner.engine.events import CrewChange, Event, OpenDrill, Wake
from runner.engine.listening import listen, listen_to
from runner.engine.outcomes import Outcome
from runner.engine.state import State
from runner.engine.table import Table
from runner.engine.views import view
from runner.engine.waking import next_deadline
from runner.host.clips import Clips
from runner.host.clock import Clock
from runner.host.recording import Recorder
from runner.host.stepping import accepted, as_data, step
from runner.terminal.shell import Document, Owed, Receipt
from runner.words.calls import effects
from runner.words.spoken import Context, WordFault, read

Heard = Callable[[tuple[Effect, ...]], None]
KeyOf = Callable[[str], str]
END_OF_DAY = "end of day"
AGAIN = "say again"
LOST = "RECORDING LOST, LIST CONTINUES"
LONGEST_HEARD = 200


class Run:
    """A run in progress. `zero_ms` is the boot time, and `utc_at_zero` the UTC, of run time 0."""

    def __init__(
        self, table: Table, state: State, recorder: Recorder, clock: Clock, zero_ms: int,
        registration: str, *, source: str = "key", key_of: KeyOf | None = None,
    ) -> None:  # fmt: skip
        self.table = table
        self.state = state
        self.recorder = recorder
        self.clock = clock
        self.registration = registration
        self.finished = False
        self._source = source
        self._key_of = key_of
        self._zero = zero_ms
        self._heard: list[Heard] = []
        self._clips = Clips(recorder, self._attach)
        self._readback: tuple[Say, ...] = ()
        self.papers: tuple[Document, ...] = ()
        self.machine_notes: tuple[str, ...] = ()
        self.make_receipt: Callable[[], Receipt] | None = None
        self._receipt: tuple[str, Receipt] | None = None
        self._stuck: State | None = None
        self._lock = threading.RLock()
        self._bell = threading.Condition(self._lock)
        self._alarm: threading.Thread | None = None
        self._stopped = False
        stamp = clock.stamp()
        self.utc_at_zero = stamp.wall_ms - (stamp.mono_ms - zero_ms)

    # what shells ask ------------------------------------------------------------------------

    @property
    def head_code(self) -> str:
        """The first eight digits of the last durable line's hash, in two groups."""
        head = self.recorder.head
        return f"{head[:4]} {head[4:8]}".upper() if head else ""

    def now(self) -> int:
        """Run time in ms; never behind what has already happened."""
        return max(self.clock.stamp().mono_ms - self._zero, self.state.at)

    def view(self) -> View:
        """Everything the crew may see."""
        with self._lock:
            return view(self.table, self.state)

    def listen(self) -> Listen:
        """What may answer now."""
        with self._lock:
            return listen(self.table, self.state)

    def listen_to(self, step: str) -> Listen:
        """What may be the right version of the answer to this step."""
        with self._lock:
            return listen_to(self.table, self.state, step)

    def documents(self) -> tuple[Document, ...]:
        """The documents of this run."""
        return self.papers

    def machine(self) -> tuple[str, ...]:
        """What the crew should know of this machine before the start."""
        return self.machine_notes

    def owed(self) -> tuple[Owed, ...]:
        """The signatures that are still to be given: for what was taken up again, for the end."""
        if self.recorder.lost:
            return ()
        resumed, closing = self.recorder.owed()
        found = ((resumed, "for taking the run up again"), (closing, "for closing the log"))
        return tuple(Owed(names, what) for names, what in found if names)

    def receipt(self) -> Receipt:
        """The receipt of the log as it stands; made anew only when the log has grown."""
        if self.recorder.lost or self.make_receipt is None:
            return Receipt(why="There is no receipt: the log is not being written.")
        # Not under the lock: the code is drawn, and nothing may wait for it. Kept by the line that
        # is on the disk, for the head of one that is being written is not the receipt's yet.
        head = self.recorder.durable_head
        if self._receipt is None or self._receipt[0] != head:
            self._receipt = head, self.make_receipt()
        return self._receipt[1]

    def bands(self) -> tuple[str, ...]:
        """Fixed bands beside those of the modes."""
        return (LOST,) if self.recorder.lost else ()

    def subscribe(self, heard: Heard) -> None:
        """Hears the effects of every event from now on."""
        with self._lock:
            self._heard.append(heard)

    def read_back(self, said: tuple[Say, ...]) -> None:
        """Keeps what is read back once the three facts of a resumed run are known."""
        self._readback = said

    # what happens ---------------------------------------------------------------------------

    def submit_text(self, text: str, ask: int) -> None:
        """One line of words, to question `ask`."""
        self.say_line(text, ask)

    def submit_heard(self, line: str, ask: int, evidence: str) -> tuple[Event | None, Outcome]:
        """A line that was heard, to the question that stood when the speech began; the log keeps
        the evidence for it in place of the line itself."""
        return self.say_line(line, ask, source="voice", heard=evidence)

    def ask_again(self, ask: int, evidence: str) -> tuple[Event | None, Outcome]:
        """Calls question `ask` once more, for what was said was not understood; the log keeps what
        was heard."""
        return self.say_line(AGAIN, ask, source="host", heard=evidence)

    def announce(self, text: str, kind: Voice) -> None:
        """A sentence for the crew that is no event, and in no log."""
        with self._lock:
            self._emit((Say(text, kind),))

    def keep_clip(self, content: bytes) -> str:
        """Keeps a spoken answer beside the log; a sentence where it cannot be."""
        return self._clips.keep(content)

    def _attach(self, name: str, length: int, sha256: str) -> None:
        with self._lock:
            was_lost = bool(self.recorder.lost)
            self.recorder.attach(name, length, sha256, self.clock.stamp())
            if self.recorder.lost and not was_lost:
                self._emit((Say(LOST, Voice.STATUS),))

    def say_line(
        self, text: str, ask: int | None = None, *, source: str = "", heard: str = ""
    ) -> tuple[Event | None, Outcome]:
        """One line of words; the event it became and its outcome. A text that is no event is
        refused aloud, with no event and an empty outcome. `source` is the run's own unless given;
        `heard` is logged in place of the text."""
        with self._lock:
            if " ".join(text.lower().split()) == END_OF_DAY:
                self._end_of_day()
                return None, ()
            at = self.now()
            self.run_due(at)
            at = max(at, self.state.at)
            context = Context(self.table, self.state, at, source or self._source, ask)
            try:
                event = self._with_key(read(text, context))
            except (WordFault, AuditError, OSError) as fault:
                self._emit((Say(str(fault), Voice.REFUSED),))
                return None, ()
            return event, self._take(event, heard=heard or text)

    def take(self, make: Callable[[int], Event]) -> Outcome:
        """An event of the host, made for the present moment."""
        with self._lock:
            at = self.now()
            self.run_due(at)
            return self._take(make(max(at, self.state.at)))

    def run_due(self, at: int) -> None:
        """Wakes the engine for everything due up to a moment, each at its own time."""
        with self._lock:
            while self.state is not self._stuck:
                due = next_deadline(self.table, self.state)
                if due is None or due > at:
                    break
                before = self.state
                self._take(Wake(max(due, self.state.at)))
                if self.state is before:
                    # A deadline at which nothing changes is our bug: logged once, not for ever.
                    self._stuck = before
            self._bell.notify_all()

    def _with_key(self, event: Event) -> Event:
        if isinstance(event, CrewChange) and self._key_of is not None and event.name:
            return CrewChange(
                event.at, event.role, event.source, event.seat, event.name,
                self._key_of(event.name),
            )  # fmt: skip
        return event

    def _take(self, event: Event, heard: str = "") -> Outcome:
        before = self.state
        after, outcome = step(self.table, before, event)
        if outcome == (("due",),):
            return outcome
        kinds = {item[0] for item in outcome}
        shown = isinstance(event, OpenDrill) or "drill in" in kinds
        if shown:
            self._emit(self._told(before, event, outcome, after))
        data = as_data(event, outcome, after)
        evidence = _evidence(heard)
        if evidence:
            data["heard"] = evidence
        if isinstance(event, CrewChange) and "crew" in kinds and event.key:
            data["crew_change"] = {"role": event.seat, "name": event.name, "key": event.key}
        was_lost = bool(self.recorder.lost)
        try:
            entry = self.recorder.record(data, self.clock.stamp())
        except AuditError as fault:
            if isinstance(event, CrewChange):
                # Somebody who cannot stand on the roster (a name or key that is another's).
                self._emit((Say(f"not taken: {fault}", Voice.REFUSED),))
                return (("refused", "name"),)
            self.recorder.lose(str(fault))
            entry = None
        if entry is not None and accepted(outcome):
            self.recorder.acceptances.append(entry.seq)
        self.state = after
        said: tuple[Effect, ...] = ()
        if self.recorder.lost and not was_lost:
            said = (Say(LOST, Voice.STATUS),)
        if _facts_known(before, after):
            said = (*said, *self._readback)
        if not shown:
            said = (*said, *self._told(before, event, outcome, after))
        self._emit(said)
        self._bell.notify_all()
        return outcome

    def _told(
        self, before: State, event: Event, outcome: Outcome, after: State
    ) -> tuple[Effect, ...]:
        try:
            return effects(self.table, before, event, outcome, after)
        except Exception as fault:
            # Words that fail must not take the list away: what happened stands in the log.
            text = f"A FAULT OF THE PROGRAM ({type(fault).__name__}): look at the list itself"
            return (Say(text, Voice.REFUSED),)

    def _emit(self, said: tuple[Effect, ...]) -> None:
        if said:
            for heard in self._heard:
                heard(said)

    def _end_of_day(self) -> None:
        if self.state.question.prompt is Prompt.CLOSED and self.state.flight:
            self.finished = True
            text = "END OF DAY: the log is closed next"
            self._emit((Say(text, Voice.STATUS),))
        else:
            text = "The day does not end here: lists are still open. Close them, or discontinue."
            self._emit((Say(text, Voice.REFUSED),))

    # the bell -------------------------------------------------------------------------------

    def start_bell(self) -> None:
        """Wakes the engine by itself from here on (not for scripted runs)."""
        self._alarm = threading.Thread(target=self._ring, name="bell", daemon=True)
        self._alarm.start()

    def _ring(self) -> None:
        with self._bell:
            while not self._stopped:
                stuck = self.state is self._stuck
                due = None if stuck else next_deadline(self.table, self.state)
                now = self.now()
                if due is not None and due <= now:
                    self.run_due(now)
                    continue
                wait = None if due is None else max(0.02, (due - now) / 1000)
                self._bell.wait(wait)

    # the end --------------------------------------------------------------------------------

    def close(self, signers: list[Signer]) -> str:
        """Closes the log with these signatures; empty, or a sentence on what is missing."""
        with self._lock:
            if self.recorder.lost:
                return f"the log stays unclosed: {self.recorder.lost}"
            if self.state.question.prompt is not Prompt.CLOSED:
                return "the log stays unclosed: lists are still open"
            try:
                writer = self.recorder.writer
                stamp: Stamp = self.clock.stamp()
                for signer in signers:
                    if signer.name in writer.owed():
                        writer.sign_resume(signer, stamp)
                writer.close(self.recorder.acceptances, signers, stamp)
                owed = writer.owed()
            except AuditError as error:
                return f"the log stays unclosed: {error}"
        return f"signature owed by {', '.join(owed)}" if owed else ""

    def stop(self) -> None:
        """Lets the threads and the file go; a run that is not closed stays open."""
        with self._bell:
            self._stopped = True
            self._bell.notify_all()
        self.recorder.stop()


def _facts_known(before: State, after: State) -> bool:
    """Whether this event answered the last of the three facts that are asked after a stop."""
    was, now = before.choosing, after.choosing
    return was is not None and was.kind == "airborne" and (now is None or now.kind != "airborne")


def _evidence(text: str) -> str:
    """What was typed or heard, as the log may hold it: composed, no control characters."""
    shown = "".join(
        c if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Zl", "Zp") else " " for c in text
    )
    return unicodedata.normalize("NFC", " ".join(shown.split()))[:LONGEST_HEARD]
