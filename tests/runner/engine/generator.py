"""Runs of any kind: events drawn from what is being listened for, and from everything else.

Rules: a run is a function of its seed; three in four events answer what is asked (well, badly, too
late, as somebody else), the fourth is any event with any content; what is due before an event is
sent before it, as a host must; `Tally` remembers what all runs together have reached.
"""

from __future__ import annotations

import copy
import random
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from pathlib import Path

from runner.engine import events as ev
from runner.engine.draft import Draft
from runner.engine.effects import Prompt
from runner.engine.limits import Limit
from runner.engine.listening import listen
from runner.engine.outcomes import Outcome
from runner.engine.people import responders
from runner.engine.session import Session, transition
from runner.engine.state import State, initial
from runner.engine.table import AcceptClass, Kind, Step, Table
from runner.engine.views import current
from runner.flow.loader import load_aircraft
from runner.flow.proof.monitor import Monitor

ROOT = Path(__file__).resolve().parents[3]
TWO = (("commander", "A Holt"), ("copilot", "R Byrne"), ("ground", "S Ivey"))
ROLES = ("", "commander", "copilot", "ground")


@cache
def aircraft(name: str) -> Table:
    """The documents of an aircraft: a folder of tests/data, or of flows."""
    own = ROOT / "tests" / "data" / name
    return load_aircraft(own if own.is_dir() else ROOT / "flows" / name).table


@dataclass
class Tally:
    """What the runs have reached together."""

    closed: set[str] = field(default_factory=set)
    limits: set[tuple[str, str]] = field(default_factory=set)
    cells: set[tuple[Prompt, type[ev.Event]]] = field(default_factory=set)

    def see(self, table: Table, before: State, event: ev.Event, outcome: Outcome) -> None:
        """Counts one event."""
        if before.flight:
            self.cells.add((before.question.prompt, type(event)))
        for kind, *item in outcome:
            if kind in ("list closed", "drill out"):
                self.closed.add(item[0])
            elif kind in ("met", "unmet", "accepted", "computed") and table.steps[item[0]].limit:
                step = table.steps[item[0]]
                if kind == "computed" and step.limit is not None:
                    kind = "met" if step.limit.meets(Decimal(item[1])) else "unmet"
                self.limits.add((item[0], kind))

    def missing(self, table: Table) -> list[str]:
        """The list ends and limited steps that no run has reached in every way they can be."""
        wanted = set()
        for step in table.steps.values():
            if step.limit is not None:
                wanted |= {(step.id, "met"), (step.id, "unmet")}
                if step.accept not in (None, AcceptClass.MAINTENANCE):
                    wanted.add((step.id, "accepted"))
        ends = {flow for flow in table.flows if flow not in self.closed}
        return sorted(f"{step} {how}" for step, how in wanted - self.limits) + sorted(ends)


@dataclass
class Run:
    """One run under way; `watch` is called with the state before, the event and its outcome."""

    table: Table
    seed: int
    state: State = field(default_factory=initial)
    at: int = 0
    events: list[ev.Event] = field(default_factory=list)
    outcomes: list[Outcome] = field(default_factory=list)
    monitor: Monitor | None = None
    watch: Callable[[State, ev.Event, Outcome, State], None] | None = None
    wild: float = 0.25

    def __post_init__(self) -> None:
        self.dice = random.Random(self.seed)
        self.recent: deque[int] = deque([0], maxlen=4)
        if self.monitor is None:
            self.monitor = Monitor(self.table)

    def fork(self, seed: int) -> Run:
        """The same run so far, going on with other dice."""
        other = Run(self.table, seed, self.state, self.at, [*self.events], [*self.outcomes])
        other.monitor = copy.copy(self.monitor)
        for name, value in vars(self.monitor).items():
            if name != "table":
                setattr(other.monitor, name, copy.copy(value))
        other.watch, other.wild = self.watch, self.wild
        return other

    def open(self, fit: tuple[str, ...] | None = None, only: str = "", mode: str = "crew") -> Run:
        """Opens the run and reads its first page."""
        fit = tuple(self.table.fit) if fit is None else fit
        crew = TWO if mode == "crew" else TWO[:1]
        self.send(ev.Opened(0, modes=(mode,), crew=crew, fit=fit, only=only))
        while self.state.unread:
            self.send(ev.PageRead(self.at + 1000, role=self.state.unread[0]))
        return self

    def send(self, event: ev.Event) -> Outcome:
        """Sends an event with everything that is due before it."""
        while not isinstance(event, ev.Opened):
            due = Session(self.table, self.state).next_deadline()
            if due is None or due > event.at or isinstance(event, ev.Recovered):
                break
            self._send(ev.Wake(due))
        return self._send(event)

    def _send(self, event: ev.Event) -> Outcome:
        before = self.state
        self.state, outcome = transition(self.table, before, event)
        self.at = max(self.at, event.at)
        self.events.append(event)
        self.outcomes.append(outcome)
        if self.monitor is not None:
            self.monitor.see(event, outcome)
        if self.watch is not None:
            self.watch(before, event, outcome, self.state)
        return outcome

    # drawing --------------------------------------------------------------------------------

    def step(self) -> Outcome:
        """One event of any kind."""
        self.recent.append(self.state.ask)
        pause = self.dice.choice((300, 1000, 1000, 2000, 2000, 5000, 20_000, 61_000))
        if self.dice.random() < 0.02:
            pause = self.dice.choice((130_000, 310_000, 1_900_000))
        at = self.at + pause
        if self.dice.random() < self.wild:
            return self.send(self.anything(at))
        return self.send(self.fitting(at))

    def go(self, steps: int) -> Run:
        """That many events."""
        for _ in range(steps):
            self.step()
        return self

    def fitting(self, at: int) -> ev.Event:
        """An event that answers what is asked, well or badly."""
        dice, state, ask = self.dice, self.state, self.state.ask
        prompt = state.question.prompt
        found = current(self.table, state)
        role = self.role(found[2] if found else None)
        if prompt is Prompt.FIRST_PAGE:
            return ev.PageRead(at, role=dice.choice(state.unread))
        if prompt is Prompt.STANDBY:
            return ev.Continue(at, role=role)
        if prompt is Prompt.MEMORY_ITEMS:
            return ev.MemoryDone(at, role=role)
        if prompt is Prompt.CHOOSING and state.choosing is not None:
            return ev.Answer(at, ask, role, value=dice.choice(state.choosing.options))
        if prompt is Prompt.READ_BACK:
            if dice.random() < 0.8:
                return ev.Affirm(at, ask, role)
            return ev.Disregard(at, ask, role)
        if prompt is Prompt.CLOSED or found is None:
            return dice.choice((ev.NextFlight(at), ev.Discontinue(at)))
        if prompt is Prompt.WAITING:
            due = Session(self.table, state).next_deadline()
            return ev.SayAgain(at if due is None else due + 1)
        step = found[2]
        if prompt is Prompt.UNMET and step.accept is not None and dice.random() < 0.3:
            return self.accepting(at, step)
        return self.answering(at, step, role)

    def answering(self, at: int, step: Step, role: str) -> ev.Event:
        """An answer to the step in question."""
        dice, ask = self.dice, self.state.ask
        heard = listen(self.table, self.state)
        source, sure = dice.choice(("key", "key", "voice")), dice.random() < 0.95
        item = ""
        if step.kind is Kind.COMPUTED:
            return self.mending(at, step)
        if step.mark and dice.random() < 0.7:
            return ev.Mark(at, role, what=step.mark, when=at - dice.choice((0, 0, 30_000)))
        if heard.number:
            _, limit = reading_limit(self.table, self.state, step)
            value = self.value(step, limit, heard.low, heard.high, heard.decimals)
        elif heard.items and dice.random() < 0.7:
            item, value = dice.choice(heard.items)
            own = next(s for s in self.table.steps.values() if s.challenge == item)
            role = self.role(own)
        else:
            value = dice.choice(heard.responses or ("CLOSED",))
        return ev.Answer(at, ask, role, source, sure, value, item)

    def mending(self, at: int, step: Step) -> ev.Event:
        """What helps a computed value: acceptance, a maintenance entry, a corrected input."""
        inputs = [
            s for s in self.table.steps.values()
            if step.formula is not None and s.reading and s.gives in step.formula.names
        ]  # fmt: skip
        if step.accept is AcceptClass.MAINTENANCE and self.dice.random() < 0.3:
            return ev.Happened(at, what="maintenance", note="leads changed")
        if step.accept is not None and self.dice.random() < 0.4:
            return self.accepting(at, step)
        if not inputs:
            return ev.SayAgain(at)
        one = self.dice.choice(inputs)
        reading = self.table.readings[one.reading]
        value = self.value(one, one.limit, reading.low, reading.high, reading.decimals)
        return ev.Correct(at, step=one.id, value=value)

    def accepting(self, at: int, step: Step) -> ev.Event:
        """An acceptance, mostly the right one."""
        emergency = step.accept is AcceptClass.EMERGENCY
        if self.dice.random() < 0.2:
            emergency = not emergency
        reason = self.dice.choice((*self.table.reasons, *self.table.reasons, "no time", ""))
        role = self.dice.choice(("commander",) * 5 + ROLES)
        return ev.Accept(at, self.state.ask, role, reason=reason, emergency=emergency)

    def value(
        self, step: Step, limit: Limit | None, low: Decimal | None, high: Decimal | None,
        decimals: int,
    ) -> str:  # fmt: skip
        """A number as it may be said: in limits, at and beside each bound, anything, a drop."""
        dice = self.dice
        unit = Decimal(1).scaleb(-decimals)
        floor, top = low or Decimal(0), high or Decimal(100)
        if step.drop_from and dice.random() < 0.5:
            return f"drop {dice.choice((0, 24, 25, 40, 80, 95, 125, 126, 300))}"
        if limit is None:
            base = self.state.values.get(step.drop_from)
            if isinstance(base, Decimal) and dice.random() < 0.8:
                return str(max(floor, base - dice.choice((20, 50, 84, 100, 126))))
            return str(floor + unit * dice.randrange(int((top - floor) / unit) + 1))
        if dice.random() < 0.1:
            side = "below" if limit.low is None else "above"
            return f"{side} {limit.high if limit.low is None else limit.low}"
        bounds = [b for b in (limit.low, limit.high) if b is not None]
        if dice.random() < 0.35:
            return str(dice.choice(bounds) + dice.choice((-1, 0, 1)) * unit)
        inner = max(floor, limit.low if limit.low is not None else floor)
        outer = min(top, limit.high if limit.high is not None else top)
        if dice.random() < 0.6:
            return str(inner + unit * dice.randrange(int((outer - inner) / unit) + 1))
        return str(floor + unit * dice.randrange(int((top - floor) / unit) + 1))

    def role(self, step: Step | None) -> str:
        """Mostly one who may answer and has not looked yet."""
        if step is None or self.dice.random() < 0.07:
            return self.dice.choice(ROLES)
        right = responders(Draft(self.table, self.state, ev.Wake(self.at)), step)
        fresh = [role for role in right if role not in self.state.seen]
        return self.dice.choice(fresh or list(right))

    def anything(self, at: int) -> ev.Event:
        """Any event with any content."""
        dice, table = self.dice, self.table
        kind = dice.choice(ev.ALL)
        # The way out and the next flight end what a run is about; they come more seldom.
        if kind in (ev.Discontinue, ev.NextFlight, ev.Recovered) and dice.random() < 0.6:
            kind = ev.Answer
        fields: dict[str, object] = {}
        for name, form in kind.shape:
            if name != "at":
                fields[name] = self.any_field(name, form, at)
        if kind is ev.Opened:
            fields = {"modes": ("crew",)}
        event = kind(at=at, **fields)
        if isinstance(event, ev.Wake):
            due = Session(table, self.state).next_deadline()
            return event if due is None or due > at else ev.Wake(due)
        return event

    def any_field(self, name: str, form: str, at: int) -> object:
        """Something for one field of an event."""
        dice, table = self.dice, self.table
        found = current(table, self.state)
        flow = found[1] if found else dice.choice(list(table.flows.values()))
        own = [step.id for step in flow.steps]
        last = len(table.steps)
        drawn: dict[str, Callable[[], object]] = {
            "ask": lambda: dice.choice((self.state.ask,) * 3 + tuple(self.recent)),
            "role": lambda: dice.choice(ROLES), "source": lambda: dice.choice(ev.SOURCES),
            "sure": lambda: dice.random() < 0.8, "emergency": lambda: dice.random() < 0.5,
            "step": lambda: dice.choice(("", *own, dice.choice(list(table.steps)))),
            "drill": lambda: dice.choice((*table.drills, "no such drill")),
            "timer": lambda: dice.choice((*table.timers, "no such timer")),
            "flow": lambda: dice.choice((*(v.flow for v in self.state.visits), "nowhere")),
            "name": lambda: dice.choice((*table.readings, "T Moss", "")),
            "reason": lambda: dice.choice((*table.reasons, "because", "")),
            "what": lambda: dice.choice((*table.happenings, "take-off", "landing", "rain")),
            "when": lambda: at - dice.choice((0, 0, 120_000, -5)),
            "note": lambda: dice.choice(("leads changed", "")),
            "seat": lambda: dice.choice((*ROLES, "steward")),
            "revision": lambda: dice.choice((table.revision, table.revision, "0")),
            "first": lambda: dice.randrange(0, last + 2),
            "last": lambda: dice.randrange(0, last + 2),
            "item": lambda: dice.choice(("", "", *(s.challenge for s in flow.steps))),
            "gap": lambda: dice.choice((1000, 400_000)), "certain": lambda: dice.random() < 0.5,
            "text": lambda: dice.choice(("vibration, left pedal", "")),
            "value": lambda: self.any_value(),
        }  # fmt: skip
        if name in drawn:
            return drawn[name]()
        return "" if form == "str" else ()

    def any_value(self) -> str:
        """Anything that could be typed as an answer."""
        dice = self.dice
        heard = listen(self.table, self.state)
        return dice.choice((
            "roger", "CLOSED", "not so", "", "drop 80", "below 80", "above 40", "-5", "1e3", "NaN",
            str(dice.randrange(0, 200)), str(dice.randrange(900, 1800)), *heard.responses,
        ))  # fmt: skip


def reading_limit(table: Table, state: State, step: Step) -> tuple[str, Limit | None]:
    """The instrument a question asks for and its limit."""
    sub = state.question.sub
    if step.wait is not None and sub >= 0:
        return step.wait.conditions[sub]
    return step.reading, step.limit
