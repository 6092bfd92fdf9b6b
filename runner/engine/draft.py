"""The working copy of a state inside one transition, and the few ways to change it.

Rules: a draft lives for one event; handlers change it only through these methods or by setting
its fields; a refusal throws the draft away, so the state stays equal; every change that others
may depend on goes through `give`, which remembers the name for *settle*.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_HALF_EVEN, Context, Decimal

from runner.engine.errors import Refused
from runner.engine.events import Event
from runner.engine.outcomes import Item
from runner.engine.state import (
    NEVER,
    Fields,
    How,
    Kept,
    Latch,
    Marked,
    Scalar,
    State,
    Timer,
    Visit,
    archive_digest,
    may_pass,
)
from runner.engine.table import Flow, Step, Table

# A named tuple's own way in costs a call of its own, at every answer.
_tuple = tuple.__new__
Place = tuple[int, int]
EXACT = Context(prec=60, rounding=ROUND_HALF_EVEN)
"""Sums of the engine's own never hang on the caller's decimal context."""


class Draft(Fields):
    """A loose copy of the state `before`; `tale` collects the outcome, `dirty` changed names.

    `branch` is the drill that a computed value out of limits opens, once values have settled.
    """

    # The fields of the state live in the dictionary, and nothing else does: see `State`.
    __slots__ = (
        "__dict__", "before", "branch", "consumed", "deciding", "dirty", "event", "table", "tale",
    )  # fmt: skip

    before: State
    table: Table
    event: Event
    tale: list[Item]
    dirty: set[str]
    deciding: set[str]
    branch: str
    consumed: bool

    def __init__(self, table: Table, state: State, event: Event) -> None:
        self.__dict__ = state.__dict__.copy()
        self.before = state
        self.table = table
        self.event = event
        self.tale = []
        self.dirty = set()
        self.deciding = set()
        self.branch = ""
        self.consumed = False
        self.at = event.at

    def freeze(self) -> State:
        """The next state, which takes the fields over: the draft has none from then on."""
        fields, self.__dict__ = self.__dict__, {}
        return State.holding(fields)

    def tell(self, *item: str) -> None:
        """Adds one item to the outcome."""
        self.tale.append(item)

    # places ---------------------------------------------------------------------------------

    def live(self) -> Iterator[Visit]:
        """The drill, if one is open, and every visit of the present group, in order."""
        if self.drill is not None:
            yield self.drill
        yield from self.visits

    def visit(self, number: int) -> Visit:
        """A live visit by its number; KeyError says a bug of ours."""
        drill = self.drill
        if drill is not None and drill.number == number:
            return drill
        for visit in self.visits:
            if visit.number == number:
                return visit
        raise KeyError(number)

    def active(self) -> Visit | None:
        """The visit the crew is in: the drill, else the list in focus."""
        if self.drill is not None:
            return self.drill
        for visit in self.visits:
            if visit.number == self.focus:
                return visit
        return None

    def flow(self, visit: Visit) -> Flow:
        """The list of a visit."""
        return self.table.flows[visit.flow]

    def put(self, visit: Visit) -> None:
        """Puts a changed live visit in place of the one with its number."""
        number, drill = visit.number, self.drill
        if drill is not None and drill.number == number:
            self.drill = visit
        elif len(self.visits) == 1 and self.visits[0].number == number:
            self.visits = (visit,)
        else:
            self.visits = tuple([visit if v.number == number else v for v in self.visits])

    def latch(self, number: int, step: int, latch: Latch) -> None:
        """Sets the latch of a place, stamped with this event."""
        if latch.entry != self.entries:
            latch = Latch(*latch[:-1], self.entries)
        self.put(self.visit(number).having(step, latch))

    def come(self, number: int, step: int, how: How, value: str, at: int, why: str = "") -> None:
        """What a place has come to, stamped with this event; that it came back before, stays."""
        visit = self.visit(number)
        latch = _tuple(Latch, (how, value, at, why, visit.latches[step].back, self.entries))
        self.put(visit.having(step, latch))

    def here(self) -> tuple[Visit, int, Step, Latch]:
        """The place of the present question; refuses where no step is asked."""
        _, number, index, _ = self.question
        if index < 0:
            raise Refused("nothing asked")
        visit = self.visit(number)
        return visit, index, self.table.flows[visit.flow].steps[index], visit.latches[index]

    # values ---------------------------------------------------------------------------------

    def give(self, name: str, value: Scalar | None) -> None:
        """Sets a value, or makes it unknown with None; what depends on it is decided again."""
        if value is None:
            if name in self.values:
                self.values = self.values.without(name)
                self.dirty.add(name)
        elif self.values.get(name) != value:
            self.values = self.values.having(name, value)
            self.dirty.add(name)

    def give_at(self, place: Place, name: str, value: Scalar) -> None:
        """Sets a value that the step at this place gives; it is the newest giver."""
        self.give(name, value)
        self.givers = self.givers.having(name, place)

    def gives_now(self, place: Place, name: str) -> bool:
        """Whether the value known by this name came from this place, not from a later one."""
        return bool(self.givers.get(name) == place)

    def take_back(self, place: Place, name: str) -> None:
        """Makes a value unknown if it is this place's; what a later step gave stands."""
        if self.gives_now(place, name):
            self.give(name, None)
            self.givers = self.givers.without(name)

    def count(self, name: str, by: int) -> None:
        """Adds to a counter."""
        self.give(name, EXACT.add(Decimal(self.values.get(name, 0)), Decimal(by)))

    # lists ----------------------------------------------------------------------------------

    def open_places(self, visits: tuple[Visit, ...] | None = None) -> list[str]:
        """The challenges of every step that may not pass, closings apart."""
        found = []
        for visit in self.visits if visits is None else visits:
            for step, latch in zip(self.flow(visit).steps, visit.latches, strict=True):
                if step.kind != "closing" and not may_pass(step, latch):
                    found.append(step.challenge)
        return found

    def shelve(self, visit: Visit) -> None:
        """Puts a visit that is over into the archive; its latches are never decided again."""
        self.archive = (*self.archive, visit)
        self.archive_hash = archive_digest(self.archive_hash, visit)

    def leave_all(self, why: str) -> None:
        """Leaves every live visit behind, the drill included, and raises the floor.

        What was done on paper of them is not done of a list entered anew.
        """
        self.paper = ()
        for visit in [*self.live()]:
            self.leave(visit, why)
        self.visits = ()
        self.drill = None
        self.memory = False
        self.mistake = None
        self.focus = 0
        self.floor = self.visits_made + 1
        self.clear_pending()

    def leave(self, visit: Visit, why: str) -> None:
        """Shelves one visit as left behind: what was open reads *not done*, never closed."""
        latches = tuple(
            latch
            if may_pass(step, latch)
            else latch._replace(how=How.NOT_DONE, why=why, entry=self.entries)
            for step, latch in zip(self.flow(visit).steps, visit.latches, strict=True)
        )
        self.shelve(visit._replace(latches=latches, wait=None, left=why))
        self.tell("left behind", visit.flow, why)

    def clear_pending(self) -> None:
        """Drops every half-made answer: read-back, choice, standby, who has looked, the trend."""
        self.pending = None
        self.choosing = None
        self.standby = None
        self.looks = ()
        self.trend = None

    def forget(self, number: int, step: int) -> None:
        """Drops what was read back or seen by one of two at this place."""
        if self.pending is not None and self.pending.spot[:2] == (number, step):
            self.pending = None
        self.looks = tuple(look for look in self.looks if look.spot[:2] != (number, step))

    def clear_pending_answer(self) -> None:
        """Drops a read-back and a first look; a choice that is offered stays."""
        self.pending = None
        self.looks = ()

    # things kept ----------------------------------------------------------------------------

    def defect(self, text: str, where: str, grounding: bool = False) -> None:
        """Opens a defect; the same text at the same place is kept once, grounding if once so."""
        for number, old in enumerate(self.defects):
            if old.open and old.text == text and old.where == where:
                kept = old._replace(grounding=old.grounding or grounding)
                self.keep_defects((*self.defects[:number], kept, *self.defects[number + 1 :]))
                return
        self.keep_defects((*self.defects, Kept(text, self.at, where, grounding=grounding)))
        self.tell("noted", "defect", text)

    def keep_defects(self, defects: tuple[Kept, ...]) -> None:
        """Sets the defects, and the counts of them that the documents may ask for."""
        self.defects = defects
        self.give("open_defects", Decimal(sum(d.open for d in defects)))
        self.give("grounding_defects", Decimal(sum(d.open and d.grounding for d in defects)))

    def flag(self, text: str, where: str) -> None:
        """Flags a consequence for the commander, once for one event."""
        if any(f.at == self.at and f.text == text and f.where == where for f in self.flags):
            return
        self.flags = (*self.flags, Kept(text, self.at, where))
        self.tell("flagged", text, where)

    def note(self, moment: str) -> None:
        """Remembers a moment; a wait that counts from it counts from now."""
        self.moments = self.moments.having(moment, self.at)
        for visit in list(self.live()):
            wait = visit.wait
            rule = self.flow(visit).steps[wait.step].wait if wait is not None else None
            if wait is None or rule is None or rule.since != moment or wait.began == NEVER:
                continue
            until = self.at + rule.length
            self.put(visit._replace(wait=wait._replace(began=self.at, until=until, ending=False)))

    def marked(self, what: str, when: int) -> None:
        """Keeps a mark of the present flight."""
        self.marks = (*self.marks, Marked(what, when, self.flight))

    def timer(self, name: str, timer: Timer) -> None:
        """Sets a by-time."""
        self.timers = self.timers.having(name, timer)

    def stop_timer(self, name: str, *, met: bool = False) -> None:
        """A by-time stops; `met` if by the value that had to come in time."""
        timer = self.timers.get(name)
        if timer is not None and timer.ended == NEVER:
            self.timer(name, timer._replace(ended=self.at, met=met and not timer.over))
            if not timer.over:
                self.tell("timer met", name)

    # people ---------------------------------------------------------------------------------

    def alone(self) -> bool:
        """Whether one person answers for every role."""
        return "solo" in self.modes or "single-pilot" in self.modes

    def monitoring(self) -> str:
        """The role that monitors: the pilot who does not handle."""
        return "copilot" if self.handling == "commander" else "commander"
