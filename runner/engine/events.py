"""What can happen to a run: every event, frozen and checked when it is made.

Rules: an event that exists is well formed (no NaN, no control characters, no negative time), so
the engine never validates one again; `at` is run time in integer milliseconds; each event has one
wire form, a dictionary of plain values, which `read_event` turns back into an equal event. An event
to a question carries the `ask` that was shown when its key was pressed or its speech began.
"""

from __future__ import annotations

import unicodedata
from typing import Any, ClassVar, Self, dataclass_transform

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
    elif kind == "bool" and type(value) is not bool:
        raise BadEvent(f"{name} must be true or false, found {value!r}")
    elif kind == "Pairs":
        if type(value) is not tuple or any(type(p) is not tuple or len(p) != 2 for p in value):
            raise BadEvent(f"{name} must be a tuple of pairs")
        for item in (text for pair in value for text in pair):
            _clean(name, item)
    elif kind == "Names":
        if type(value) is not tuple:
            raise BadEvent(f"{name} must be a tuple of names")
        for item in value:
            _clean(name, item)


Pairs = tuple[tuple[str, str], ...]
Names = tuple[str, ...]

_WIRE_NAMES = {
    "NotSo": "not so", "PutOff": "put off", "SayAgain": "say again", "ReadingSeen": "reading",
    "OpenDrill": "drill", "MemoryDone": "memory items done", "StartTimer": "timer",
    "ConditionLost": "condition lost", "OnPaper": "on paper", "CrewChange": "crew change",
    "HandOver": "hand over", "TurnTo": "turn to", "NextFlight": "next flight",
    "PageRead": "page read", "Mistaken": "drill opened by mistake",
}  # fmt: skip


_FORMS: dict[str, type] = {"str": str, "int": int, "bool": bool}
_set_whole = object.__setattr__


@dataclass_transform(frozen_default=True)
class _Checked:
    """Fields that are checked when they are given, and never change.

    A frozen dataclass in all but this: what was not given stands in the class, so that an event is
    made and checked in one go, and thirty classes are made without compiling a line.
    """

    wire: ClassVar[str] = ""
    shape: ClassVar[tuple[tuple[str, str], ...]] = ()
    _kinds: ClassVar[dict[str, str]] = {}
    _forms: ClassVar[dict[str, type]] = {}

    def __init_subclass__(cls) -> None:
        cls.shape = (*cls.shape, *((name, str(kind)) for name, kind in cls.__annotations__.items()))
        cls._kinds = dict(cls.shape)
        cls._forms = {name: _FORMS.get(kind, tuple) for name, kind in cls.shape}
        cls.wire = _WIRE_NAMES.get(cls.__name__, cls.__name__.lower())

    def __init__(self, *values: Any, **given: Any) -> None:
        kinds = self._kinds
        if values:
            named = dict(zip(kinds, values, strict=False))
            if len(values) > len(kinds) or named.keys() & given.keys():
                raise TypeError("a value too many, or one given twice")
            given = {**named, **given}
        self.take(given)

    def take(self, given: dict[str, Any]) -> None:
        """Makes a bare new event whole: checks its fields, by name, and keeps this dictionary."""
        # What most fields of most events hold is seen to be well formed without a call, and all
        # the texts of one event at once: short and plain together, each of them is.
        forms = self._forms
        texts = []
        for name, value in given.items():
            form = type(value)
            if form is str and forms.get(name) is str:
                texts.append(value)
            elif form is bool and forms.get(name) is bool:
                continue
            elif form is not int or forms.get(name) is not int or not 0 <= value < 2**53:
                self._check(name, value)
        text = "".join(texts)
        if not (text.isascii() and text.isprintable() and len(text) <= LONGEST_TEXT):
            for name, value in given.items():
                self._check(name, value)
        at = given.get("at")
        if type(at) is not int:
            raise TypeError("at is missing")
        if at < 0:
            raise BadEvent(f"at must not be negative, found {at}")
        _set_whole(self, "__dict__", given)

    def _check(self, name: str, value: object) -> None:
        kind = self._kinds.get(name)
        if kind is None:
            raise TypeError(f"unknown field {name!r}")
        _check(name, kind, value)

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"an event is frozen; {name} cannot be set")

    def __delattr__(self, name: str) -> None:
        raise AttributeError(f"an event is frozen; {name} cannot be taken away")

    @property
    def held(self) -> dict[str, object]:
        """Every field and what it holds, in the order of `shape`."""
        return {name: getattr(self, name) for name in self._kinds}

    def but(self, **changes: object) -> Self:
        """An equal event but for these fields."""
        return type(self)(**{**self.__dict__, **changes})

    def __eq__(self, other: object) -> bool:
        return type(other) is type(self) and self.held == other.held

    def __hash__(self) -> int:
        return hash((type(self), *self.held.values()))

    def __repr__(self) -> str:
        fields = ", ".join(f"{name}={value!r}" for name, value in self.held.items())
        return f"{type(self).__name__}({fields})"


class Event(_Checked):
    """What every event has: `at`, run time in milliseconds."""

    at: int


class Asked(Event):
    """An event to the question numbered `ask`; `role` is empty where nobody said who spoke."""

    ask: int = 0
    role: str = ""
    source: str = "key"
    sure: bool = True


class Answer(Asked):
    """The state or value that answers: RELEASED, 1600, below 80, roger; `item` names a tick."""

    value: str = ""
    item: str = ""


class NotSo(Asked):
    """The answer is no: the item is not as it should be."""

    item: str = ""


class Affirm(Asked):
    """Yes, to what was read back or offered."""


class Disregard(Asked):
    """Drop what is pending; nothing is recorded but this."""


class PutOff(Asked):
    """Set the step aside; it comes back."""


class Unable(Asked):
    """The crew cannot do this: opens the choice of what to do instead."""


class Accept(Asked):
    """The commander goes on with an unmet limit or open item, with a reason."""

    reason: str = ""
    emergency: bool = False


class Spoken(Event):
    """An event that belongs to no question."""

    role: str = ""
    source: str = "key"


class SayAgain(Spoken):
    """Repeat the call."""


class Confirm(Spoken):
    """Say what was last recorded."""


class Standby(Spoken):
    """An interruption holds the run."""


class Continue(Spoken):
    """The interruption is over."""


class Correct(Spoken):
    """The right version of an earlier answer; an empty `step` means the last one."""

    step: str = ""
    value: str = ""


class ReadingSeen(Spoken):
    """A value somebody read out unasked."""

    name: str = ""
    value: str = ""


class OpenDrill(Spoken):
    """Open a drill, from anywhere."""

    drill: str = ""


class Mistaken(Spoken):
    """The drill was opened by mistake: nothing of it has been done."""


class MemoryDone(Spoken):
    """The memory items have been done; they are verified one by one."""


class Discontinue(Spoken):
    """The way to the shutdown list, from every state."""


class Mark(Spoken):
    """Take-off or landing, `when` in run time (it may be earlier than `at`)."""

    what: str = ""
    when: int = 0


class StartTimer(Spoken):
    """Start a by-time, or note its moment again."""

    timer: str = ""


class ConditionLost(Spoken):
    """The condition of the running wait was lost; it starts again."""


class Snag(Spoken):
    """Something noticed, kept for later."""

    text: str = ""


class OnPaper(Spoken):
    """Steps `first` to `last` were done from the paper card of this revision."""

    first: int = 0
    last: int = 0
    revision: str = ""


class CrewChange(Spoken):
    """Somebody takes over a role; `key` is their public key line, if any."""

    seat: str = ""
    name: str = ""
    key: str = ""


class HandOver(Spoken):
    """Handling and monitoring change places."""


class Happened(Spoken):
    """Something that ends the validity of lists: refuelled, maintenance (with its entry) ..."""

    what: str = ""
    note: str = ""


class TurnTo(Spoken):
    """Turn to another list of the same group (stations in any order)."""

    flow: str = ""


class NextFlight(Spoken):
    """The next flight of the day begins."""


class Opened(Event):
    """The run begins. `carried` holds what the run before left, as text values."""

    modes: Names = ()
    crew: Pairs = ()
    fit: Names = ()
    carried: Pairs = ()
    only: str = ""


class PageRead(Spoken):
    """This role has read the first screen."""


class Wake(Event):
    """The engine's own deadline has come."""


class Recovered(Event):
    """The run goes on after a stop of `gap` ms; `certain` says whether the gap was measured."""

    gap: int = 0
    certain: bool = True


ALL: tuple[type[Event], ...] = (
    Answer, NotSo, Affirm, Disregard, PutOff, Unable, Accept, SayAgain, Confirm, Standby, Continue,
    Correct, ReadingSeen, OpenDrill, MemoryDone, Discontinue, Mark, StartTimer, ConditionLost,
    Snag, OnPaper, CrewChange, HandOver, Happened, TurnTo, NextFlight, Opened, PageRead, Wake,
    Recovered, Mistaken,
)  # fmt: skip
