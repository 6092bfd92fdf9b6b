"""The state of a run, and `may_pass`: the one rule of progress.

Rules: a `State` is frozen and a function of the log, nothing else; handlers work on a `Draft`, a
loose copy, and `Draft.freeze` makes the next state; a step is passed only if `may_pass` says so,
and nobody else asks a latch what it means. Times are run time in milliseconds, -1 means never.
"""

from __future__ import annotations

import hashlib
from decimal import Decimal
from enum import StrEnum
from operator import attrgetter, itemgetter
from typing import Any, NamedTuple

from runner.engine.asking import Choosing, Look, Mistake, Pending, Question, Standing, Trend
from runner.engine.book import Book, Once
from runner.engine.effects import Prompt
from runner.engine.table import Kind, Step, Who

Scalar = Decimal | str | bool
NEVER = -1


class How(StrEnum):
    """The status of a step."""

    OPEN = "open"
    ANSWERED = "answered"
    UNMET = "unmet"
    PUT_OFF = "put off"
    ACCEPTED = "accepted"
    ON_PAPER = "on paper"
    NOT_REQUIRED = "not required"
    NOT_DONE = "not done"


class _Latch(NamedTuple):
    how: How = How.OPEN
    value: str = ""
    at: int = NEVER
    why: str = ""
    back: bool = False
    entry: int = 0


class Latch(_Latch):
    """What holds a step: `why` is its ground, `back` that it came back, `entry` when it changed."""

    @Once
    def text(self) -> str:
        """The text for digests."""
        how, value, at, why, back, entry = self
        return f"{how._value_},{value!a},{at},{why!a},{'1' if back else '0'},{entry}"


OPEN = Latch()

# Under Python 3.11 a member costs nine times as much through its class as by a name of its own,
# and `may_pass` is asked ten times an event.
_OPEN, _ANSWERED, _ACCEPTED, _NOT_REQUIRED, _ON_PAPER, _PUT_OFF = (
    How.OPEN, How.ANSWERED, How.ACCEPTED, How.NOT_REQUIRED, How.ON_PAPER, How.PUT_OFF,
)  # fmt: skip


def may_pass(step: Step, latch: Latch) -> bool:
    """Whether the run may go behind this step: answered, accepted, on paper or not required."""
    how = latch.how
    if how is _ON_PAPER:
        return ordinary(step)
    return how is _ANSWERED or how is _ACCEPTED or how is _NOT_REQUIRED


def ordinary(step: Step) -> bool:
    """Whether paper satisfies the step: nothing measured, timed, critical, marked or counted."""
    return (
        step.kind in (Kind.CHALLENGE, Kind.TICK, Kind.CAUTION, Kind.REMARK)
        and step.limit is None
        and not step.critical
        and not step.timer
        and not step.within
        and not step.mark
        and step.who is not Who.BOTH
        and not (step.turns or step.notes or step.adds or step.clears or step.ends)
    )


def blocked(latch: Latch) -> bool:
    """Whether the step stands open for want of a value: `why` names what is not known yet."""
    return latch.how is _OPEN and bool(latch.why)


class Wait(NamedTuple):
    """A wait of a visit: `pending` are the conditions to be read, `until` its end."""

    step: int
    began: int = NEVER
    until: int = NEVER
    next_ask: int = NEVER
    pending: tuple[int, ...] = ()
    ending: bool = False
    last: str = ""


class _Visit(NamedTuple):
    number: int
    flow: str
    flight: int
    entered: int
    latches: tuple[Latch, ...]
    wait: Wait | None = None
    closed_at: int = NEVER
    left: str = ""


class Visit(_Visit):
    """One entry into a list or drill. `left` says why it was left behind, if it was.

    So many of its first steps were `seen` to pass, some may stand `aside`, put off: that follows
    from the latches and the table, and spares reading a long list from its top for every line.
    """

    seen: int = 0
    aside: bool = True
    _texts: list[str] | None = None

    def having(self, index: int, latch: Latch) -> Visit:
        """The visit with another latch at one place."""
        number, flow, flight, entered, before, wait, closed_at, left = self
        latches = list(before)
        latches[index] = latch
        # Made as tuples are: a named tuple's own way in costs a call of its own, at every answer.
        fields = (number, flow, flight, entered, tuple(latches), wait, closed_at, left)
        made: Visit = tuple.__new__(Visit, fields)
        texts = self._texts
        if texts is not None:
            texts = texts.copy()
            texts[index] = latch.text
        made.__dict__ = {
            "seen": self.seen if self.seen < index else index,
            "aside": self.aside or latch.how is _PUT_OFF,
            "_texts": texts,
        }
        return made

    @Once
    def text(self) -> str:
        """The text for digests."""
        number, flow, flight, entered, latches, wait, closed_at, left = self
        texts = self._texts
        if texts is None:
            texts = self._texts = [latch.text for latch in latches]
        return f"{number},{flow},{flight},{entered},{closed_at},{left!a},{wait!a};{';'.join(texts)}"


class Timer(NamedTuple):
    """A by-time: `calls` are the calls made so far, `ended` when it stopped running.

    `met` says that it stopped because what it timed was met, not because something else ended it;
    `again` says that its step is open once more: the clock runs on until the next answer.
    """

    began: int
    calls: int = 0
    over: bool = False
    ended: int = NEVER
    muted: bool = False
    again: bool = False
    met: bool = False


class Marked(NamedTuple):
    """A mark or a turning point of a flight: take-off, landing, engine and rotor start and stop."""

    what: str
    when: int
    flight: int


class Kept(NamedTuple):
    """A snag, a defect or a flag: text, time, and the step or phase where it arose.

    `grounding` says that the aircraft is unserviceable until a maintenance entry clears it.
    """

    text: str
    at: int
    where: str
    open: bool = True
    grounding: bool = False


_last: tuple[tuple[object, ...], list[str], str] = ((), [], "()")


def _seldom(values: tuple[object, ...]) -> str:
    """`ascii(values)`, made anew only of what is no longer the same object."""
    global _last
    before, parts, text = _last
    if values != before:
        if len(parts) != len(values):
            parts = [ascii(value) for value in values]
        else:
            rows = zip(values, before, parts, strict=True)
            parts = [part if value is was else ascii(value) for value, was, part in rows]
        text = f"({', '.join(parts)})"
        _last = (values, parts, text)
    return text


class Fields:
    """The fields that a `State` and its `Draft` share."""

    __slots__ = ()

    at: int
    entries: int
    ask: int
    question: Question
    modes: tuple[str, ...]
    fit: tuple[str, ...]
    only: str
    unread: tuple[str, ...]
    crew: tuple[tuple[str, str], ...]
    handling: str
    flight: int
    flight_began: int
    plan: tuple[str, ...]
    visits_made: int
    floor: int
    visits: tuple[Visit, ...]
    focus: int
    drill: Visit | None
    memory: bool
    mistake: Mistake | None
    archive: tuple[Visit, ...]
    archive_hash: str
    values: Book
    givers: Book
    moments: Book
    timers: Book
    valid: Book
    pending: Pending | None
    choosing: Choosing | None
    standby: Standing | None
    looks: tuple[Look, ...]
    owed: tuple[str, ...]
    trend: Trend | None
    marks: tuple[Marked, ...]
    snags: tuple[Kept, ...]
    defects: tuple[Kept, ...]
    flags: tuple[Kept, ...]
    engine: bool
    rotor: bool
    airborne: bool
    paper: tuple[tuple[int, int], ...]

    @property
    def seen(self) -> tuple[str, ...]:
        """The roles that have looked at what is asked now."""
        return tuple(look.role for look in self.looks if look.spot == self.question.place)


FIELDS: tuple[str, ...] = tuple(Fields.__annotations__)
_BOOKS = ("values", "givers", "moments", "timers", "valid")
_OFTEN = ("at", "entries", "ask", "question", "trend")
_SELDOM = itemgetter(
    *(n for n in FIELDS if n not in (*_BOOKS, *_OFTEN, "archive", "drill", "visits"))
)


_TEXT, _WHOLE = attrgetter("text"), len(FIELDS)
_new, _set_whole = object.__new__, object.__setattr__


class State(Fields):
    """A frozen state. Equal states have equal digests, under any hash seed."""

    # No slots for the fields: a dictionary is copied whole, slots one by one, at every event.
    __slots__ = ("__dict__",)

    def __init__(self, source: Fields | None = None, **given: Any) -> None:
        self.__dict__.update({**(source.__dict__ if source is not None else {}), **given})
        if len(self.__dict__) != _WHOLE:
            raise TypeError(f"a state has {_WHOLE} fields, {len(self.__dict__)} were given")

    @classmethod
    def holding(cls, fields: dict[str, Any]) -> State:
        """A state that holds this very dictionary, which nobody may change from then on."""
        if len(fields) != _WHOLE:
            raise TypeError(f"a state has {_WHOLE} fields, {len(fields)} were given")
        state: State = _new(cls)
        _set_whole(state, "__dict__", fields)
        return state

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"a state is frozen; {name} cannot be set")

    def __eq__(self, other: object) -> bool:
        return isinstance(other, State) and self.__dict__ == other.__dict__

    __hash__ = None  # type: ignore[assignment]

    def digest(self) -> str:
        """SHA-256, in hex, over every field; the archive enters by its own running hash."""
        # A list that an event does not touch is the same object in the next state, and its text
        # is made once; so is that of what seldom changes.
        prompt, visit, step, sub = self.question
        drill = self.drill
        lines = [
            f"{self.at},{self.entries},{self.ask},{prompt._value_},{visit},{step},{sub},"
            f"{self.trend!a}",
            _seldom(_SELDOM(self.__dict__)),
            self.values.text,
            self.givers.text,
            self.moments.text,
            self.timers.text,
            self.valid.text,
            "" if drill is None else drill.text,
            *map(_TEXT, self.visits),
        ]
        return hashlib.sha256("\n".join(lines).encode()).hexdigest()

    def visit(self, number: int) -> Visit | None:
        """The live visit of this number, the drill's included."""
        if self.drill is not None and self.drill.number == number:
            return self.drill
        for visit in self.visits:
            if visit.number == number:
                return visit
        return None


def archive_digest(previous: str, visit: Visit) -> str:
    """The running hash of the visits that are over."""
    return hashlib.sha256((previous + visit.text).encode()).hexdigest()


def initial() -> State:
    """The state before anything has happened."""
    return State(
        at=0, entries=0, ask=0, question=Question(Prompt.CLOSED), modes=(), fit=(), only="",
        unread=(), crew=(), handling="commander", flight=0, flight_began=0, plan=(),
        visits_made=0, floor=0, visits=(), focus=0, drill=None, memory=False,
        mistake=None, archive=(),
        archive_hash="", values=Book(), givers=Book(), moments=Book(), timers=Book(), paper=(),
        valid=Book(), pending=None, choosing=None, standby=None, looks=(), owed=(), trend=None,
        marks=(), snags=(), defects=(), flags=(), engine=False, rotor=False, airborne=False,
    )  # fmt: skip
