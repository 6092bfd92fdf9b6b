"""What a host and a shell are to each other; both shells implement `Shell`, the host `Desk`.

Rules: a shell answers only through `submit_text`, in the words that a script would hold, so that
keys, typed words and scripts stay one language; `ask` is the question that was on the screen when
the key was pressed; the desk may call back from any thread; ending a shell never ends a run: the
host leaves a run that is not closed open and resumable.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from typing import IO, NamedTuple, Protocol

from runner.engine.effects import Effect, Listen, View

Heard = Callable[[tuple[Effect, ...]], None]


class How(StrEnum):
    """How a shell ended."""

    CLOSED = "closed"
    LEFT = "left open"
    VANISHED = "terminal gone"


class Ended(NamedTuple):
    """Why the shell came back; `why` is a sentence for the person."""

    how: How
    why: str


class Document(NamedTuple):
    """A document of this run: its title, revision, the first eight hexadecimal digits of the
    SHA-256 of its bytes, for whom of the crew it is new or changed since their last run, and by
    whom and on what day (UTC, 2026-11-24; empty: not known) it was approved, if it was."""

    title: str
    revision: str
    code: str
    changed_for: tuple[str, ...] = ()
    approved_by: str = ""
    approved_on: str = ""


class Receipt(NamedTuple):
    """What the log has come to: the SHA-256 of its last line (`head`) in groups of four digits, how
    it stands (`state`, a sentence), and the `code` that somebody keeps elsewhere; that code as rows
    of cells for a camera, once with a filled cell `dark` and once with it `light`, none where it
    cannot be drawn; or, with no code, `why` there is none."""

    head: tuple[str, ...] = ()
    state: str = ""
    code: str = ""
    dark: tuple[str, ...] = ()
    light: tuple[str, ...] = ()
    why: str = ""


class Owed(NamedTuple):
    """Whose signatures are still to come, and what for, as the end of a sentence."""

    names: tuple[str, ...]
    what: str


class Desk(Protocol):
    """What a shell gets of a run. `now` and `utc_at_zero` are milliseconds."""

    @property
    def utc_at_zero(self) -> int:
        """UTC of run time zero, milliseconds since 1970-01-01."""

    @property
    def registration(self) -> str:
        """The registration of the aircraft as enrolled."""

    @property
    def head_code(self) -> str:
        """The short code of the last entry of the log; empty while nothing is written."""

    @property
    def finished(self) -> bool:
        """Whether the crew has ended the day: the shell then ends with `How.CLOSED`, and the host
        closes the log."""

    def now(self) -> int:
        """Run time in ms."""

    def view(self) -> View:
        """The last view shown; there is one before the shell starts."""

    def listen(self) -> Listen:
        """What may answer the current question."""

    def documents(self) -> tuple[Document, ...]:
        """The documents of this run, the aircraft's own first, then the lists as they are flown."""

    def machine(self) -> tuple[str, ...]:
        """What the crew should know of this machine before the start: battery, heat. Sentences,
        none where all is well or the system does not tell."""

    def owed(self) -> tuple[Owed, ...]:
        """The signatures that are still to be given."""

    def receipt(self) -> Receipt:
        """The receipt of the log as it stands; it is asked for only where no list is open."""

    def bands(self) -> tuple[str, ...]:
        """Fixed bands beside those of the view's modes: RECORDING LOST, LIST CONTINUES ..."""

    def submit_text(self, text: str, ask: int) -> None:
        """One input line as typed, to question `ask`; done, with its effects told, when it comes
        back. Never raises for what the text is: a text that is not understood comes back as
        `Say(..., Voice.REFUSED)`."""

    def subscribe(self, heard: Heard) -> None:
        """`heard` gets the effects of every event from now on, in order, from any thread."""


class Ear(Protocol):
    """What a shell tells the voice of a run by voice, and asks of it; no call waits."""

    def start(self, uncover: Callable[[], None]) -> None:
        """The first screen stands: the voice may begin; not at a second call. `uncover` puts the
        page away that lies over the question: what a pedal's press does, from its own thread."""

    def bands(self) -> tuple[str, ...]:
        """What is so of the voice for as long as it is so: LISTENING, NO MICROPHONE ..."""

    def talk(self) -> None:
        """A press of the talk-to-list key."""

    def transmit(self, *, down: bool) -> None:
        """The transmit key went down, or up."""

    def cover(self, *, covered: bool) -> None:
        """A page that nobody asked for lies over the question, or no more."""

    def call_again(self) -> None:
        """The call that stands is due once more."""

    def swap_caller(self) -> str:
        """The program calls the list from now on, or the copilot reads it; which, in words."""


class Shell(Protocol):
    """A way to work a run: the full screen or the plain linear mode."""

    def run(self, desk: Desk) -> Ended:
        """Works the run until it is closed, left or the terminal is gone. Main thread only."""


LEAVE_WORDS = "leave run open"
"""The typed words that leave a run open and resumable; no single key does."""


def is_terminal(*streams: IO[str]) -> bool:
    """Whether every stream is a terminal: without one an interactive run must not start."""
    for stream in streams:
        try:
            if not stream.isatty():
                return False
        except (AttributeError, ValueError):
            return False
    return True
