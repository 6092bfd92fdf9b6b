"""What the keyboard holds between two keys, and what a key may ask of the shell.

Rules: frozen values; everything typed but not yet sent stands here and is on the screen; nothing
here knows a terminal. Times are run time in milliseconds. The times of this page are what tells a
deliberate key from any other: a sleeve over the pad for a second gives one answer at most, and
never one that takes two keys.
"""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

LONG_AGO = -(10**9)
GUARD_MS = 400
"""An answer sooner than this after its question, or after keys in a burst, is none."""
HELD_MS = 750
"""The same key again within this is a key that is held, at any rate of repeating from 2 Hz on."""
BURST_MS = 80
"""Two different keys within this are no two deliberate keys."""
BOUNCE_MS = 60
"""The same digit again within this is the contact of one key, or a key that is held."""
APART_MS = 1_000
"""Two answers are this far apart; so are the two keys of an answer that takes two, and the first
digit or letter of a typed one and its Enter."""
LONGEST_NUMBER = 9
LONGEST_LINE = 200

ACCEPT_KEYS = (" ", "+")
NOT_SO_KEYS = ("-", "n", "N")
BACK_KEYS = ("backspace", "escape")
DRILL_KEY = "*"
MORE_KEY = "/"


class Page(StrEnum):
    """A page that a key laid over the list; the list stays as it is behind it."""

    NONE = "none"
    DRILLS = "drills"
    MORE = "more"
    OPTIONS = "options"
    TIMERS = "timers"
    LISTS = "lists of this group"
    CORRECT = "correct"
    HAPPENED = "happened"
    FAULT = "fault"
    ACCEPT = "accept"
    ACCEPT_SURE = "accept, second key"
    DISCONTINUE = "discontinue, second key"
    LEAVE = "leave open, second key"
    WRONG = "wrong aircraft, second key"
    END = "end of day, second key"
    CREW = "crew"
    PAPER = "on paper"
    PAPER_SURE = "on paper, second key"
    OPEN = "open items"
    FLIGHTS = "flights"
    KEPT = "snags and defects"
    COPY = "copy"
    RECEIPT = "receipt"
    DOCUMENTS = "documents"
    KEYS = "keys"


ASK_BOUND = (Page.OPTIONS, Page.FAULT, Page.ACCEPT, Page.ACCEPT_SURE, Page.WRONG, Page.END)
"""Pages that belong to one question and close with it."""
SECOND = (
    Page.ACCEPT_SURE, Page.DISCONTINUE, Page.LEAVE, Page.WRONG, Page.END, Page.PAPER_SURE,
)  # fmt: skip
"""Pages of what is never one key: only a second, later key does it."""


class Command(NamedTuple):
    """One of: words to `send`, a word line to open (`line`), a `page` to open."""

    label: str
    send: str = ""
    line: str = ""
    page: Page = Page.NONE
    help: str = ""


class Cut(NamedTuple):
    """How the page on the screen is cut into sheets: up to the end of each sheet, how many lines
    answer to a digit, and how many of the lines that must be read have stood; and how many rows
    stand before each sheet."""

    picks: tuple[int, ...] = ()
    must: tuple[int, ...] = ()
    starts: tuple[int, ...] = ()


class Do(StrEnum):
    """What a shell does for a key."""

    SEND = "send"
    THEME = "theme"
    LEAVE = "leave"


class Action(NamedTuple):
    """`SEND`: `text` to question `ask`; `THEME`: the theme named `text`, or the next one;
    `LEAVE`: the shell ends and the run stays open."""

    do: Do
    text: str = ""
    ask: int = -1


class KeyState(NamedTuple):
    """`typed` digits, a word `line` (None: no line open), the `page` that stands over the list and
    the times that tell a deliberate key from a held or early one.

    `lines`: the numbered lines of that page as they were when it was opened (None: not opened by a
    key), which stay what its digits mean whatever changes behind it; `offset`: the row of the page
    that its sheet begins with, so that the same lines stay in view when the room for them changes.

    `place` and `sheet`: the page of the question itself and the sheet of it that is shown; `read`:
    how many of its lines that must be read have been shown; `flight`: the flight that is on;
    `begins`: the page of the flights lies there by itself, as a flight begins; `cut`: the sheets of
    what is on the screen, which a shell puts there before each key; `first`: the first card number
    on paper; `behind`: digits pressed while the answer before them was being recorded."""

    ask: int = -1
    asked_at: int = LONG_AGO
    typed: str = ""
    early: bool = False
    line: str | None = None
    line_ask: int = -1
    page: Page = Page.NONE
    offset: int = 0
    lines: tuple[Command, ...] | None = None
    place: str = ""
    sheet: int = 0
    sheet_at: int = LONG_AGO
    read: int = 0
    flight: int = 0
    begins: bool = False
    cut: Cut = Cut()
    first: str = ""
    reason: str = ""
    page_at: int = LONG_AGO
    sent: bool = False
    behind: str = ""
    last: str = ""
    last_at: int = LONG_AGO
    held: bool = False
    bounced: bool = False
    burst_at: int = LONG_AGO
    page_took_at: int = LONG_AGO
    typed_at: int = LONG_AGO
    edited_at: int = LONG_AGO
    answer_at: int = LONG_AGO
    denied: bool = False
    note: str = ""
    talk_at: int = LONG_AGO
    talk_until: int = LONG_AGO
    caller_at: int = LONG_AGO
    transmit: bool = False
    transmit_at: int = LONG_AGO


Result = tuple[KeyState, Action | None]


def say(keys: KeyState, note: str) -> Result:
    """The state with a note for the crew; nothing is sent."""
    return keys._replace(note=note), None


def open_page(keys: KeyState, page: Page, now: int) -> KeyState:
    """The state with a page laid over the list."""
    return shut(keys)._replace(page=page, page_at=now)


def shut(keys: KeyState) -> KeyState:
    """The state with the list in view again; card numbers typed on a page are dropped with it."""
    typed = "" if keys.page in (Page.PAPER, Page.PAPER_SURE) else keys.typed
    return keys._replace(
        page=Page.NONE, offset=0, lines=None, begins=False, reason="", first="", typed=typed
    )


def send(keys: KeyState, text: str, ask: int) -> Result:
    """Words to question `ask`; the keyboard waits for what comes of it."""
    return shut(keys)._replace(sent=True, typed="", early=False), Action(Do.SEND, text, ask)


def answer(keys: KeyState, text: str, ask: int, now: int) -> Result:
    """Words that answer the question; the next answer is a second away."""
    return send(keys._replace(answer_at=now), text, ask)


def not_accepted(keys: KeyState, now: int) -> str:
    """Why an answering key does not count; empty when it does."""
    if keys.sent:
        return "ANSWER BEING RECORDED"
    if now - keys.asked_at < GUARD_MS:
        return "TOO SOON AFTER THE CALL: PRESS AGAIN"
    if keys.held or now - keys.burst_at < GUARD_MS or now - keys.answer_at < APART_MS:
        return "KEY HELD OR TOO QUICK: PRESS AGAIN"
    return ""


def refuse(keys: KeyState, reason: str, now: int) -> Result:
    """The state after an answer that did not count; keys that follow at once do not either."""
    return say(keys._replace(burst_at=now), reason)
