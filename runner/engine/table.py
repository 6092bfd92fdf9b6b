"""The compiled documents of one aircraft: everything the engine knows of its lists, frozen.

Rules: nothing here is computed after `Table.build`; every name that a step may use stands in
`names`; every condition, limit and formula is compiled already; `dependents` holds, for each name,
the steps that must be decided again when it changes. Times are integer milliseconds, numbers are
exact `Decimal`s. The loader makes these values, the engine only reads them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Any, NamedTuple

from runner.engine.conditions import Condition, Formula, NameType
from runner.engine.limits import Limit


class Kind(StrEnum):
    """What a step is; the words of the vocabulary."""

    CHALLENGE = "challenge"
    READING = "reading"
    CHOICE = "choice"
    WAIT = "wait"
    BY_TIME = "by-time"
    COMPUTED = "computed"
    CAUTION = "caution"
    REMARK = "remark"
    TICK = "tick"
    CLOSING = "closing"


class Who(StrEnum):
    """Who answers: two duties, three people, or both pilots on a key of their own."""

    HANDLING = "handling"
    MONITORING = "monitoring"
    COMMANDER = "commander"
    COPILOT = "copilot"
    GROUND = "ground"
    BOTH = "both"


class Unmet(StrEnum):
    """What an unmet limit does: asks again, opens another list, or stops the list."""

    WAIT = "wait"
    BRANCH = "branch"
    STOP = "stop"


class AcceptClass(StrEnum):
    """Who may let an unmet limit or an open item go by."""

    COMMANDER = "commander"
    EMERGENCY = "emergency only"
    MAINTENANCE = "maintenance only"


class EndKind(StrEnum):
    """Where the end of a drill leads."""

    CONTINUE = "continue here"
    RESTART = "restart"
    DISCONTINUE = "discontinue"
    UNSERVICEABLE = "unserviceable"


class Plateau(NamedTuple):
    """A value that stops moving: over `over` ms it got better by less than `less_than`."""

    less_than: Decimal
    over: int


class Reading(NamedTuple):
    """A measured value: unit, decimals and plausible range of one instrument of the aircraft."""

    name: str
    label: str
    unit: str
    decimals: int
    low: Decimal
    high: Decimal
    near: Decimal = Decimal(0)
    ask_every: int | None = None
    plateau: Plateau | None = None
    notice_after: int | None = None
    fresh_for: int | None = None


class Counter(NamedTuple):
    """A number that steps add to, carried from run to run (start attempts, prime strokes)."""

    name: str
    label: str


class Choice(NamedTuple):
    """One answer of a choice step, and what it does beside being recorded.

    Unless `when` holds it is refused; `turns` is what is found turning, and not made to.
    """

    text: str
    variants: tuple[str, ...] = ()
    back_to: str = ""
    drill: str = ""
    adds: tuple[tuple[str, int], ...] = ()
    when: Condition | None = None
    turns: tuple[tuple[str, bool], ...] = ()


class WaitRule(NamedTuple):
    """A minimum time, from the step or from the moment `since` was noted, with conditions."""

    length: int
    since: str = ""
    conditions: tuple[tuple[str, Limit], ...] = ()
    ask_every: int | None = None


class TimerRule(NamedTuple):
    """A by-time: a maximum that runs beside the list and calls unasked."""

    name: str
    label: str
    length: int
    calls: tuple[int, ...] = ()
    says: str = ""
    drill: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One line of a list. `id` is `list.step`; `number` is the one printed on the paper card.

    `when` joins the condition of the whole list with the step's own, which is `own_when`.
    """

    id: str
    number: int
    kind: Kind
    challenge: str
    who: Who
    section: str = ""
    response: str = ""
    variants: tuple[str, ...] = ()
    choices: tuple[Choice, ...] = ()
    reading: str = ""
    gives: str = ""
    when: Condition | None = None
    own_when: Condition | None = None
    limit: Limit | None = None
    unmet: Unmet = Unmet.WAIT
    branch: str = ""
    accept: AcceptClass | None = None
    critical: bool = False
    may_put_off: bool = False
    back_before: str = ""
    meanwhile: bool = False
    memory: bool = False
    wait: WaitRule | None = None
    timer: str = ""
    within: str = ""
    ends: tuple[str, ...] = ()
    formula: Formula | None = None
    drop_from: str = ""
    key_words: tuple[str, ...] = ()
    turns: tuple[tuple[str, bool], ...] = ()
    adds: tuple[tuple[str, int], ...] = ()
    clears: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    mark: str = ""
    drill: str = ""
    place: str = ""

    @property
    def asked(self) -> bool:
        """Whether the crew is asked: remarks are only read, computed values come by themselves."""
        return self.kind not in (Kind.REMARK, Kind.COMPUTED)


class End(NamedTuple):
    """One declared end of a drill; `grounding`: its defect grounds (unserviceable always does)."""

    label: str
    kind: EndKind
    flow: str = ""
    when: Condition | None = None
    voids: tuple[str, ...] = ()
    defect: str = ""
    grounding: bool = False


@dataclass(frozen=True, slots=True)
class Flow:
    """One list or drill. `flights` says for which flights of a day it stands in the order."""

    id: str
    title: str
    steps: tuple[Step, ...]
    drill: bool = False
    method: str = "challenge and response"
    phase: str = ""
    group: str = ""
    flights: str = "every"
    valid_until: frozenset[str] = frozenset()
    when: Condition | None = None
    next_flight: bool = False
    any_order: bool = False
    ends: tuple[End, ...] = ()
    mutes: tuple[str, ...] = ()
    likely: tuple[str, ...] = ()

    def index(self, step_id: str) -> int:
        """Position of a step by its whole id; raises KeyError for a step of another list."""
        for position, step in enumerate(self.steps):
            if step.id == step_id:
                return position
        raise KeyError(step_id)


class Need(NamedTuple):
    """What the author states must hold: before a step, a reading in limits or another step."""

    before: str
    reading: str = ""
    limit: Limit | None = None
    within: int | None = None
    step: str = ""

    @property
    def what(self) -> str:
        """What must hold, in the words of the documents."""
        limit = self.limit.text() if self.limit is not None else ""
        return self.step or f"{self.reading} {limit}".strip()


class Copied(NamedTuple):
    """One entry of the copy page: a `figure` of the engine's own, or a value by `name`, given by
    the steps at `places` (list and position); a counter has no places."""

    label: str
    figure: str = ""
    name: str = ""
    unit: str = ""
    places: tuple[tuple[str, int], ...] = ()


class Settings(NamedTuple):
    """The operator's times, in milliseconds."""

    standby_long: int = 120_000
    quiet_after_takeoff: int = 120_000


def _derived() -> Any:
    return field(init=False, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Table:
    """All lists of one aircraft type, ready for the engine.

    `ageing` holds, for each list, the positions of the readings that grow too old and the time
    for which each is fresh; `readers` holds, for each name, the positions by list of the steps in
    `dependents`; `skipping` are the names that decide whole lists, `allowing` those that decide
    which answers of a choice are possible. They follow from the fields.
    """

    aircraft: str
    title: str
    operator: str
    revision: str
    readings: Mapping[str, Reading]
    names: Mapping[str, NameType]
    flows: Mapping[str, Flow]
    order: tuple[str, ...]
    drills: tuple[str, ...]
    discontinue: Mapping[str, str]
    reasons: tuple[str, ...]
    counters: Mapping[str, Counter]
    timers: Mapping[str, TimerRule]
    fit: tuple[str, ...]
    happenings: tuple[str, ...]
    needs: tuple[Need, ...] = ()
    copied: tuple[Copied, ...] = ()
    settings: Settings = field(default_factory=Settings)
    steps: Mapping[str, Step] = field(default_factory=dict)
    dependents: Mapping[str, frozenset[str]] = field(default_factory=dict)
    ageing: Mapping[str, tuple[tuple[int, int], ...]] = _derived()
    readers: Mapping[str, Mapping[str, tuple[int, ...]]] = _derived()
    skipping: frozenset[str] = _derived()
    allowing: frozenset[str] = _derived()

    def __post_init__(self) -> None:
        fresh = {name: reading.fresh_for for name, reading in self.readings.items()}
        ageing: dict[str, tuple[tuple[int, int], ...]] = {}
        places: dict[str, list[tuple[str, int]]] = {}
        skipping: set[str] = set()
        for key, flow in self.flows.items():
            found = []
            for position, step in enumerate(flow.steps):
                places.setdefault(step.id, []).append((key, position))
                if step.kind is Kind.READING:
                    until = fresh.get(step.reading)
                    if until is not None:
                        found.append((position, until))
            ageing[key] = tuple(found)
            if flow.when is not None:
                skipping |= flow.when.names
        readers: dict[str, dict[str, tuple[int, ...]]] = {}
        for name, ids in self.dependents.items():
            by_flow = readers[name] = {}
            for key, position in sorted(place for step in ids for place in places.get(step, ())):
                by_flow[key] = (*by_flow.get(key, ()), position)
        object.__setattr__(self, "ageing", ageing)
        object.__setattr__(self, "readers", readers)
        object.__setattr__(self, "skipping", frozenset(skipping))
        choices = (c for flow in self.flows.values() for step in flow.steps for c in step.choices)
        allowing = [choice.when.names for choice in choices if choice.when is not None]
        object.__setattr__(self, "allowing", frozenset().union(*allowing))

    @staticmethod
    def index(flows: Mapping[str, Flow]) -> tuple[dict[str, Step], dict[str, frozenset[str]]]:
        """`steps` by id, and for each name the ids of the steps whose decision reads it."""
        steps: dict[str, Step] = {}
        reads: dict[str, set[str]] = {}
        for flow in flows.values():
            for step in flow.steps:
                steps[step.id] = step
                used: set[str] = set()
                if step.when is not None:
                    used |= step.when.names
                if step.formula is not None:
                    used |= step.formula.names
                if step.drop_from:
                    used.add(step.drop_from)
                for choice in step.choices:
                    if choice.when is not None:
                        used |= choice.when.names
                for name in used:
                    reads.setdefault(name, set()).add(step.id)
        return steps, {name: frozenset(ids) for name, ids in reads.items()}
