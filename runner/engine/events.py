"""What can happen to a run: every event, frozen and checked when it is made.

Rules: an event that exists is well formed (no NaN, no control characters, no negative time), so
the engine never validates one again; `at` is run time in integer milliseconds; each event has one
wire form, a dictionary of plain values, which `read_event` turns back into an equal event. An event
to a question carries the `ask` that was shown when its key was pressed or its speech began.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, fields
from typing import ClassVar

from runner.engine.errors import BadEvent

LONGEST_TEXT = 200
SOURCES = ("key", "voice", "script", "touch", "host")


def _clean(name: str, text: object) -> None:
    if not isinstance(text, str):
        raise BadEvent(f"{name} must be text, found {type(text).__name__}")
    if text.isascii() and text.isprintable() and len(text) <= LONGEST_TEXT:
        return
    if len(text) > LONGEST_TEXT:
        raise BadEvent(f"{name} is {len(text)} characters long; at most {LONGEST_TEXT} are taken")
    if any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") for c in text):
        raise BadEvent(f"{name} holds a control character")
    if unicodedata.normalize("NFC", text) != text:
        raise BadEvent(f"{name} is not in composed form (NFC)")


def _check(name: str, kind: str, value: object) -> None:
    if kind == "str":
        _clean(name, value)
    elif kind == "int":
        if type(value) is not int or not -(2**53) < value < 2**53:
            raise BadEvent(f"{name} must be a whole number below 2^53, found {value!r}")
    elif kind == "bool":
        if type(value) is not bool:
            raise BadEvent(f"{name} must be true or false, found {value!r}")
    elif kind == "Pairs":
        if type(value) is not tuple:
            raise BadEvent(f"{name} must be a tuple of pairs")
        for pair in value:
            if type(pair) is not tuple or len(pair) != 2:
                raise BadEvent(f"{name} must be a tuple of pairs")
            _clean(name, pair[0])
            _clean(name, pair[1])
    elif kind == "Names":
        if type(value) is not tuple:
            raise BadEvent(f"{name} must be a tuple of names")
        for item in value:
            _clean(name, item)


Pairs = tuple[tuple[str, str], ...]
Names = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Event:
    """What every event has: `at`, run time in milliseconds."""

    wire: ClassVar[str] = ""
    shape: ClassVar[tuple[tuple[str, str], ...]] = ()
    at: int

    def __post_init__(self) -> None:
        for name, kind in self.shape:
            value = getattr(self, name)
            # What most fields of most events hold is seen to be well formed without a call.
            form = type(value)
            if form is str and kind == "str":
                if value.isascii() and value.isprintable() and len(value) <= LONGEST_TEXT:
                    continue
            elif form is bool and kind == "bool":
                continue
            _check(name, kind, value)
        if self.at < 0:
            raise BadEvent(f"at must not be negative, found {self.at}")


@dataclass(frozen=True, slots=True)
class Asked(Event):
    """An event to the question numbered `ask`; `role` is empty where nobody said who spoke."""

    ask: int = 0
    role: str = ""
    source: str = "key"
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Answer(Asked):
    """The state or value that answers: RELEASED, 1600, below 80, roger; `item` names a tick."""

    value: str = ""
    item: str = ""


@dataclass(frozen=True, slots=True)
class NotSo(Asked):
    """The answer is no: the item is not as it should be."""

    item: str = ""


class Affirm(Asked):
    """Yes, to what was read back or offered."""

    __slots__ = ()


class Disregard(Asked):
    """Drop what is pending; nothing is recorded but this."""

    __slots__ = ()


class PutOff(Asked):
    """Set the step aside; it comes back."""

    __slots__ = ()


class Unable(Asked):
    """The crew cannot do this: opens the choice of what to do instead."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Accept(Asked):
    """The commander goes on with an unmet limit or open item, with a reason."""

    reason: str = ""
    emergency: bool = False


@dataclass(frozen=True, slots=True)
class Spoken(Event):
    """An event that belongs to no question."""

    role: str = ""
    source: str = "key"


class SayAgain(Spoken):
    """Repeat the call."""

    __slots__ = ()


class Confirm(Spoken):
    """Say what was last recorded."""

    __slots__ = ()


class Standby(Spoken):
    """An interruption holds the run."""

    __slots__ = ()


class Continue(Spoken):
    """The interruption is over."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Correct(Spoken):
    """The right version of an earlier answer; an empty `step` means the last one."""

    step: str = ""
    value: str = ""


@dataclass(frozen=True, slots=True)
class ReadingSeen(Spoken):
    """A value somebody read out unasked."""

    name: str = ""
    value: str = ""


@dataclass(frozen=True, slots=True)
class OpenDrill(Spoken):
    """Open a drill, from anywhere."""

    drill: str = ""


class MemoryDone(Spoken):
    """The memory items have been done; they are verified one by one."""

    __slots__ = ()


class Discontinue(Spoken):
    """The way to the shutdown list, from every state."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Mark(Spoken):
    """Take-off or landing, `when` in run time (it may be earlier than `at`)."""

    what: str = ""
    when: int = 0


@dataclass(frozen=True, slots=True)
class StartTimer(Spoken):
    """Start a by-time, or note its moment again."""

    timer: str = ""


class ConditionLost(Spoken):
    """The condition of the running wait was lost; it starts again."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Snag(Spoken):
    """Something noticed, kept for later."""

    text: str = ""


@dataclass(frozen=True, slots=True)
class OnPaper(Spoken):
    """Steps `first` to `last` were done from the paper card of this revision."""

    first: int = 0
    last: int = 0
    revision: str = ""


@dataclass(frozen=True, slots=True)
class CrewChange(Spoken):
    """Somebody takes over a role; `key` is their public key line, if any."""

    seat: str = ""
    name: str = ""
    key: str = ""


class HandOver(Spoken):
    """Handling and monitoring change places."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Happened(Spoken):
    """Something that ends the validity of lists: refuelled, maintenance (with its entry) ..."""

    what: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class TurnTo(Spoken):
    """Turn to another list of the same group (stations in any order)."""

    flow: str = ""


class NextFlight(Spoken):
    """The next flight of the day begins."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Opened(Event):
    """The run begins. `carried` holds what the run before left, as text values."""

    modes: Names = ()
    crew: Pairs = ()
    fit: Names = ()
    carried: Pairs = ()
    only: str = ""


class PageRead(Spoken):
    """This role has read the first screen."""

    __slots__ = ()


class Wake(Event):
    """The engine's own deadline has come."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Recovered(Event):
    """The run goes on after a stop of `gap` ms; `certain` says whether the gap was measured."""

    gap: int = 0
    certain: bool = True


ALL: tuple[type[Event], ...] = (
    Answer, NotSo, Affirm, Disregard, PutOff, Unable, Accept, SayAgain, Confirm, Standby, Continue,
    Correct, ReadingSeen, OpenDrill, MemoryDone, Discontinue, Mark, StartTimer, ConditionLost,
    Snag, OnPaper, CrewChange, HandOver, Happened, TurnTo, NextFlight, Opened, PageRead, Wake,
    Recovered,
)  # fmt: skip

_WIRE_NAMES = {
    "NotSo": "not so", "PutOff": "put off", "SayAgain": "say again", "ReadingSeen": "reading",
    "OpenDrill": "drill", "MemoryDone": "memory items done", "StartTimer": "timer",
    "ConditionLost": "condition lost", "OnPaper": "on paper", "CrewChange": "crew change",
    "HandOver": "hand over", "TurnTo": "turn to", "NextFlight": "next flight",
    "PageRead": "page read",
}  # fmt: skip

for _cls in ALL:
    _cls.wire = _WIRE_NAMES.get(_cls.__name__, _cls.__name__.lower())
    _cls.shape = tuple((f.name, str(f.type)) for f in fields(_cls))
