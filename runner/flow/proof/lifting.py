"""From a way through a slice to a run of the whole documents that comes to the same fault.

Rules: the way's events happen in their order, each where it happened in the slice; what the slice
left out is answered in between by a willing crew; the run is the engine's own, of all lists, and
the monitor judges it anew. A way that cannot be followed, or comes to no fault, is not shown as a
counterexample: it says that the slice left out what matters.
"""

from __future__ import annotations

from typing import NamedTuple

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.session import transition
from runner.engine.state import State, initial
from runner.engine.table import Table
from runner.engine.views import current
from runner.engine.waking import next_deadline
from runner.flow.proof.explore import step
from runner.flow.proof.keys import fork
from runner.flow.proof.monitor import Monitor
from runner.flow.proof.slices import Slice
from runner.flow.proof.willing import SECOND, leads_on

MOST_BETWEEN = 1500


class Lifted(NamedTuple):
    """A run of the whole day: its events, wake-ups apart, and what the monitor says of it."""

    events: tuple[ev.Event, ...]
    faults: tuple[str, ...]
    followed: bool


class Day:
    """One run under way, with its judge."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self.state: State = initial()
        self.monitor = Monitor(table)
        self.events: list[ev.Event] = []
        self.closed: set[str] = set()
        self.at, self.flights = 0, 1
        self.flown = False

    def fork(self) -> Day:
        """The same run so far, going on by itself."""
        other = Day(self.table)
        other.state, other.at, other.events = self.state, self.at, [*self.events]
        other.monitor = fork(self.monitor)
        return other

    def send(self, event: ev.Event) -> None:
        while not isinstance(event, (ev.Opened, ev.Recovered)):
            due = next_deadline(self.table, self.state)
            if due is None or due > event.at:
                break
            self._send(ev.Wake(due))
        self._send(event)
        self.events.append(event)
        self.at = event.at

    def _send(self, event: ev.Event) -> None:
        self.state, outcome = transition(self.table, self.state, event)
        self.monitor.see(event, outcome)
        ended = [item[1] for item in outcome if item[0] == "list closed"]
        self.closed.update(ended)
        self.flown = any(self.table.flows[flow].next_flight for flow in ended)

    def place(self) -> tuple[object, str]:
        return place(self.table, self.state)


def place(table: Table, state: State) -> tuple[object, str]:
    """What kind of question stands, and at which step."""
    found = current(table, state) if state.flight else None
    return state.question.prompt if state.flight else None, found[2].id if found else ""


def lift(
    table: Table, piece: Slice, way: tuple[ev.Event, ...], beginning: State | None = None
) -> Lifted:
    """The run of the whole documents that a way through a slice from a beginning stands for; one
    that begins at a later flight is led there through a whole one."""
    day = Day(table)
    state, judge, at = initial() if beginning is None else beginning, Monitor(piece.table), 0
    day.flights = 2 if state.marks else 1
    for event in way:
        wanted = place(piece.table, state)
        if isinstance(event, ev.Affirm) and day.place()[0] is not Prompt.READ_BACK:
            # The slice does not know what turns, and reads back what the whole day knows.
            state, judge, _ = step(piece.table, state, judge, event)
            at = event.at
            continue
        followed = isinstance(event, ev.Opened) or _lead(day, piece, wanted)
        if not followed:
            return Lifted(tuple(day.events), (), False)
        changes: dict[str, object] = {"at": day.at + event.at - at}
        if isinstance(event, ev.Asked):
            changes["ask"] = day.state.ask + event.ask - state.ask
        if isinstance(event, ev.Mark):
            changes["when"] = changes["at"]
        state, judge, _ = step(piece.table, state, judge, event)
        at = event.at
        day.send(event.but(**changes))
    faults = tuple(dict.fromkeys(f.split("): ", 1)[-1] for f in day.monitor.faults))
    return Lifted(tuple(day.events), faults, True)


def _lead(day: Day, piece: Slice, wanted: tuple[object, str]) -> bool:
    """Answers what the slice left out, until the same question stands as in the slice."""
    for _ in range(MOST_BETWEEN):
        here = day.place()
        if here == wanted and (not here[1] or day.state.flight >= day.flights):
            return True
        led = here[0] is not Prompt.READ_BACK and day.state.flight >= day.flights
        if led and here[1] in piece.table.steps and not here[1].endswith(_closings(piece)):
            return False
        before = day.state
        again = day.flown and day.state.flight < day.flights
        now = day.at
        day.send(ev.NextFlight(now + SECOND) if again else leads_on(day.table, day.state, now))
        if day.state is before:
            return False
    return False


def _closings(piece: Slice) -> tuple[str, ...]:
    return tuple(f.steps[-1].id for f in piece.table.flows.values())
