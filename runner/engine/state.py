"""The state of a run, and `may_pass`: the one rule of progress.

Rules: a `State` is frozen and a function of the log, nothing else; handlers work on a `Draft`, a
loose copy, and `Draft.freeze` makes the next state; a step is passed only if `may_pass` says so,
and nobody else asks a latch what it means. Times are run time in milliseconds, -1 means never.
"""

from __future__ import annotations

import hashlib
from decimal import Decimal
from enum import StrEnum
from operator import attrgetter
from typing import Any, NamedTuple

from runner.engine.asking import Choosing, Look, Pending, Question, Standing, Trend
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
        return f"{how},{value!a},{at},{why!a},{back:d},{entry}"


OPEN = Latch()

# Under Python 3.11 a member costs nine times as much through its class as by a name of its own,
# and `may_pass` is asked ten times an event.
_OPEN, _ANSWERED, _ACCEPTED, _NOT_REQUIRED, _ON_PAPER = (
    How.OPEN, How.ANSWERED, How.ACCEPTED, How.NOT_REQUIRED, How.ON_PAPER,
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
    """One entry into a list or drill. `left` says why it was left behind, if it was."""

    @Once
    def text(self) -> str:
        """The text for digests."""
        latches = ";".join([latch.text for latch in self.latches])
        return (
            f"{self.number},{self.flow},{self.flight},{self.entered},{self.closed_at},"
            f"{self.left!a},{self.wait!a};{latches}"
        )


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
_SELDOM = attrgetter(
    *(n for n in FIELDS if n not in (*_BOOKS, *_OFTEN, "archive", "drill", "visits"))
)


class State(Fields):
    """A frozen state. Equal states have equal digests, under any hash seed."""

    # No slots for the fields: a dictionary is copied whole, thirty-nine slots one by one, and
    # every event of a replay copies a state twice.
    __slots__ = ("__dict__",)

    def __init__(self, source: Fields | None = None, **given: Any) -> None:
        if source is not None:
            self.__dict__.update(source.__dict__)
        if given:
            self.__dict__.update(given)
        if len(self.__dict__) != len(FIELDS):
            raise TypeError(f"a state has {len(FIELDS)} fields, {len(self.__dict__)} were given")

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
            f"{self.at},{self.entries},{self.ask},{prompt},{visit},{step},{sub},{self.trend!a}",
            _seldom(_SELDOM(self)),
            self.values.text,
            self.givers.text,
            self.moments.text,
            self.timers.text,
            self.valid.text,
            "" if drill is None else drill.text,
            *[entered.text for entered in self.visits],
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
        visits_made=0, floor=0, visits=(), focus=0, drill=None, memory=False, archive=(),
        archive_hash="", values=Book(), givers=Book(), moments=Book(), timers=Book(),
        valid=Book(), pending=None, choosing=None, standby=None, looks=(), owed=(), trend=None,
        marks=(), snags=(), defects=(), flags=(),
        engine=False, rotor=False, airborne=False, paper=(),
    )  # fmt: skip
