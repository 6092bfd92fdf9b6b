"""The state of a run, and `may_pass`: the one rule of progress.

Rules: a `State` is frozen and a function of the log, nothing else; handlers work on a `Draft`, a
loose copy, and `Draft.freeze` makes the next state; a step is passed only if `may_pass` says so,
and nobody else asks a latch what it means. Times are run time in milliseconds, -1 means never.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from operator import attrgetter
from typing import Any, NamedTuple

from runner.engine.effects import Prompt
from runner.engine.table import Flow, Kind, Step, Table

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


class Latch(NamedTuple):
    """What holds a step: `why` is its ground, `back` that it came back, `entry` when it changed."""

    how: How = How.OPEN
    value: str = ""
    at: int = NEVER
    why: str = ""
    back: bool = False
    entry: int = 0


OPEN = Latch()


def may_pass(step: Step, latch: Latch) -> bool:
    """Whether the run may go behind this step: answered, accepted, on paper or not required."""
    how = latch.how
    if how is How.ON_PAPER:
        return ordinary(step)
    return how is How.ANSWERED or how is How.ACCEPTED or how is How.NOT_REQUIRED


def ordinary(step: Step) -> bool:
    """Whether paper satisfies the step: nothing measured, timed, critical, marked or counted."""
    return (
        step.kind in (Kind.CHALLENGE, Kind.TICK, Kind.CAUTION, Kind.REMARK)
        and step.limit is None
        and not step.critical
        and not step.timer
        and not step.within
        and not step.mark
        and not (step.turns or step.notes or step.adds or step.clears or step.ends)
    )


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

    # A visit that an event does not touch is the same object in the next state, so that its text
    # is made once; a changed copy has none yet.
    @cached_property
    def text(self) -> str:
        """The text for digests."""
        return _ENCODE(self)


class Timer(NamedTuple):
    """A by-time: `calls` are the calls made so far, `ended` when it was met."""

    began: int
    calls: int = 0
    over: bool = False
    ended: int = NEVER
    muted: bool = False


class Question(NamedTuple):
    """What stands before the crew: the place, and which condition of a wait (`sub`)."""

    prompt: Prompt
    visit: int = 0
    step: int = -1
    sub: int = -1


class Pending(NamedTuple):
    """A value that was read back and wants *affirm*; `corrects` names the step it corrects."""

    value: str
    role: str
    source: str
    corrects: str = ""


class Choosing(NamedTuple):
    """A choice the engine offers; `kind` says what the options mean."""

    kind: str
    options: tuple[str, ...]


class Standing(NamedTuple):
    """A standby: since when, and what was turning then."""

    since: int
    engine: bool
    rotor: bool


class Trend(NamedTuple):
    """The values read at one unmet limit, and from when its patience is counted."""

    visit: int
    step: int
    began: int
    points: tuple[tuple[int, str], ...] = ()
    noticed: int = NEVER


class Marked(NamedTuple):
    """A mark or a turning point of a flight: take-off, landing, engine and rotor start and stop."""

    what: str
    when: int
    flight: int


class Kept(NamedTuple):
    """A snag, a defect or a flag: text, time, and the step or phase where it arose."""

    text: str
    at: int
    where: str
    open: bool = True


class Book(Mapping[str, Any]):
    """A small frozen mapping with a cached text, so that digests stay cheap."""

    __slots__ = ("_held", "_text")

    def __init__(self, held: Mapping[str, Any] | None = None) -> None:
        self._held: dict[str, Any] = dict(held or {})
        self._text = ""

    def __getitem__(self, key: str) -> Any:
        return self._held[key]

    def get(self, key: str, default: Any = None) -> Any:
        """The value of a key, or the default."""
        return self._held.get(key, default)

    def __contains__(self, key: object) -> bool:
        return key in self._held

    def __iter__(self) -> Iterator[str]:
        return iter(self._held)

    def __len__(self) -> int:
        return len(self._held)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Book) and self._held == other._held

    __hash__ = None  # type: ignore[assignment]

    def having(self, key: str, value: Any) -> Book:
        """A copy with one key set."""
        book = Book(self._held)
        book._held[key] = value
        return book

    def without(self, key: str) -> Book:
        """A copy without one key."""
        if key not in self._held:
            return self
        book = Book(self._held)
        del book._held[key]
        return book

    @property
    def text(self) -> str:
        """All pairs in the order of their keys, unambiguous, independent of hash seeds."""
        if not self._text:
            self._text = _ENCODE(sorted(self._held.items()))
        return self._text


def _decimal(value: object) -> dict[str, str]:
    if isinstance(value, Decimal):
        return {"number": str(value)}
    raise TypeError(f"{type(value).__name__} has no place in a state")


_ENCODE = json.JSONEncoder(separators=(",", ":"), default=_decimal).encode
"""The text of a value for digests: plain JSON, tuples as lists, a `Decimal` marked as such."""


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
    moments: Book
    timers: Book
    valid: Book
    pending: Pending | None
    choosing: Choosing | None
    standby: Standing | None
    seen: tuple[str, ...]
    trend: Trend | None
    marks: tuple[Marked, ...]
    snags: tuple[Kept, ...]
    defects: tuple[Kept, ...]
    flags: tuple[Kept, ...]
    engine: bool
    rotor: bool
    airborne: bool
    paper: tuple[tuple[int, int], ...]


FIELDS: tuple[str, ...] = tuple(Fields.__annotations__)
_BOOKS = ("values", "moments", "timers", "valid")
_DIGESTED = attrgetter(
    *(name for name in FIELDS if name not in (*_BOOKS, "archive", "drill", "visits"))
)


class State(Fields):
    """A frozen state. Equal states have equal digests, under any hash seed."""

    # No slots for the fields: a dictionary is copied whole, thirty-nine slots one by one, and
    # every event of a replay copies a state twice.
    __slots__ = ("__dict__",)

    def __init__(self, source: Fields | None = None, **given: Any) -> None:
        if source is not None:
            self.__dict__.update(source.__dict__)
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
        lines = [
            _ENCODE(_DIGESTED(self)),
            *(getattr(self, name).text for name in _BOOKS),
            "null" if self.drill is None else self.drill.text,
            *(visit.text for visit in self.visits),
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
        archive_hash="", values=Book(), moments=Book(), timers=Book(), valid=Book(), pending=None,
        choosing=None, standby=None, seen=(), trend=None, marks=(), snags=(), defects=(), flags=(),
        engine=False, rotor=False, airborne=False, paper=(),
    )  # fmt: skip


def flow_of(table: Table, visit: Visit) -> Flow:
    """The list or drill of a visit."""
    return table.flows[visit.flow]
