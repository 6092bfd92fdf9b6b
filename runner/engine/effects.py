"""What the engine asks for: show, say, listen, sound. Data only; shells perform it.

Rules: every value is frozen and complete, so a shell needs nothing else to draw a screen or to
read a list aloud; texts are the words that the crew sees; times are run time in milliseconds
(the host turns them into UTC); nothing here decides anything.
"""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

WRONG_AIRCRAFT = "wrong aircraft"
"""Why a list is not done where the placard was another aircraft's."""


class Prompt(StrEnum):
    """What kind of question stands; the rows of the transition table."""

    FIRST_PAGE = "first page"
    ASKING = "asking"
    READ_BACK = "read back"
    UNMET = "unmet"
    WAITING = "waiting"
    CLOSING = "closing"
    CAUTION = "caution"
    STATION = "station"
    MEMORY_ITEMS = "memory items"
    STANDBY = "standby"
    CHOOSING = "choosing"
    CLOSED = "closed"


class Line(NamedTuple):
    """One step as a neighbour: `status` is open, answered, put off, not required, accepted ...

    A value that was `computed` is never corrected: what it comes from is.
    """

    number: int
    challenge: str
    expected: str
    answer: str
    status: str
    why: str = ""
    who: str = ""
    section: str = ""
    key: str = ""
    computed: bool = False


class Gauge(NamedTuple):
    """A reading against its limit: bounds may be missing, `value` is the last one given, `at` (run
    time, ms)."""

    label: str
    unit: str
    decimals: int
    limit: str
    value: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    distance: str = ""
    at: int | None = None


class Running(NamedTuple):
    """A wait or a by-time that runs: it ends at `ends`, was started at `began` (run time, ms)."""

    label: str
    began: int
    ends: int
    maximum: bool
    over: bool = False
    muted: bool = False
    key: str = ""


class ListLine(NamedTuple):
    """A list of the day: open, current, closed, not required, still valid, not done."""

    key: str
    title: str
    status: str
    closed_at: int | None = None
    why: str = ""
    until: str = ""


class FlightLine(NamedTuple):
    """A flight of the day: when it began (run time, ms), its marks, and how its lists stand.

    A list that still holds from a flight before says in `until` what would end that.
    """

    number: int
    begun: int
    now: bool
    marks: tuple[tuple[str, int], ...] = ()
    lists: tuple[ListLine, ...] = ()


class Figure(NamedTuple):
    """One figure for the paper technical log; `value` is empty while it is not known.

    A time of day has no value: its unit is UTC and `at` is its run time (ms), None while unknown.
    """

    label: str
    value: str = ""
    unit: str = ""
    flight: int = 0
    at: int | None = None


class CardRange(NamedTuple):
    """The card's numbers of one list: what "31 to 47 on paper" may name."""

    title: str
    first: int
    last: int


class KeptLine(NamedTuple):
    """A snag, a defect or a flag (`kind`): its text, when (run time, ms) and in which list it came,
    and the readings that stood in that list then; `grounding`: not to be flown with it. What came
    with the run from one before has no time (-1)."""

    kind: str
    text: str
    at: int
    title: str = ""
    readings: tuple[str, ...] = ()
    grounding: bool = False


class View(NamedTuple):
    """The whole of what the crew may see at this moment.

    `may_begin_next`: whether the next flight may begin, in place of what is asked.
    """

    at: int
    ask: int
    prompt: Prompt
    aircraft: str
    operator: str
    revision: str
    modes: tuple[str, ...]
    crew: tuple[tuple[str, str], ...]
    handling: str
    flight: int
    airborne: bool
    engine_running: bool
    rotor_turning: bool
    title: str
    flow: str
    is_drill: bool
    section: str
    number: int
    done: int
    required: int
    challenge: str
    response: str
    who: str
    waiting_for: tuple[str, ...]
    critical: bool
    gauge: Gauge | None
    unmet_why: str
    may_put_off: bool
    accept_class: str
    reasons: tuple[str, ...]
    options: tuple[str, ...]
    read_back: str
    blocked: str
    before: tuple[Line, ...]
    after: tuple[Line, ...]
    items: tuple[Line, ...]
    memory: tuple[str, ...]
    put_off: tuple[Line, ...]
    open_lines: tuple[Line, ...]
    running: tuple[Running, ...]
    standby_since: int | None
    standby_place: str
    lists: tuple[ListLine, ...]
    drills: tuple[tuple[str, str], ...]
    timers: tuple[tuple[str, str], ...]
    snags: tuple[str, ...]
    defects: tuple[str, ...]
    flags: tuple[str, ...]
    drill_hint: str
    unread: tuple[str, ...]
    marks: tuple[tuple[str, int], ...]
    accepted: tuple[Line, ...] = ()
    flights: tuple[FlightLine, ...] = ()
    figures: tuple[Figure, ...] = ()
    card: tuple[CardRange, ...] = ()
    happenings: tuple[str, ...] = ()
    way_out: str = ""
    notes: tuple[str, ...] = ()
    may_be_lost: bool = False
    stops: bool = False
    of_wait: str = ""
    kept: tuple[KeptLine, ...] = ()
    latest: Line | None = None
    may_begin_next: bool = False
    may_be_mistake: bool = False


class Show(NamedTuple):
    """Draw this."""

    view: View


class Voice(StrEnum):
    """What kind of call a text is; a shell may word, colour or speak them differently."""

    CALL = "call"
    ECHO = "echo"
    READ_BACK = "read back"
    OUTCOME = "outcome"
    REFUSED = "refused"
    TIMER = "timer"
    CAUTION = "caution"
    REMARK = "remark"
    DRILL = "drill"
    STATUS = "status"


class Say(NamedTuple):
    """Say this text; a screen shows it, a voice speaks it."""

    text: str
    kind: Voice


class Listen(NamedTuple):
    """What may answer question `ask`: closed sets of texts, and the form of a number.

    `meanings` are the responses, those that mean the same together; `critical`: words that were not
    surely heard are never taken; `both`: each pilot answers; `words_read_back`: words not surely
    heard are read back (elsewhere they are refused). `elsewhere` are the open items (id, challenge,
    response) of stations that somebody else may be at meanwhile; `critical_items` are the ids of
    all open items that are critical.
    """

    ask: int
    prompt: Prompt
    step: str = ""
    responses: tuple[str, ...] = ()
    items: tuple[tuple[str, str], ...] = ()
    number: bool = False
    decimals: int = 0
    unit: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    thresholds: bool = False
    drops: bool = False
    controls: tuple[str, ...] = ()
    meanings: tuple[tuple[str, ...], ...] = ()
    critical: bool = False
    both: bool = False
    words_read_back: bool = False
    elsewhere: tuple[tuple[str, str, str], ...] = ()
    critical_items: tuple[str, ...] = ()


class Sound(NamedTuple):
    """An attention sound: `attention`, `caution`, `warning`, `refused`."""

    attention: str


Effect = Show | Say | Listen | Sound
