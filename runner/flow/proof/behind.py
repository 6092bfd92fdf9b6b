"""What a run can still be asked of the lists that are over: the part of a state's key behind it.

Rules: everything that the engine decides by a list which is over is here, and nothing else of it:
whether lists before the flight may still be asked, whether the next flight may begin, which lists
are closed since the last way down, which were left out as not required, what an answer has set
turning, whether the shutdown is behind; of a list that stays valid how its steps stand, and of one
that gave a value which a drill takes back, all of it. Times and numbers of visits are erased.
"""

from __future__ import annotations

from typing import Any

from runner.engine import events as ev
from runner.engine.deciding import gives, steps_passed
from runner.engine.draft import Draft
from runner.engine.flights import allows_next, getting_ready, ways_down
from runner.engine.state import NEVER, How, State, Visit, initial
from runner.engine.table import EndKind, Table
from runner.flow.proof.lately import Lately, Numbers

Key = tuple[Any, ...]
THIRTY_MINUTES = 30 * 60_000


class Behind:
    """The part behind it of the keys of one slice."""

    def __init__(self, table: Table, home: frozenset[str], stops: bool) -> None:
        """`home` are the lists of the slice's goal; `stops`: how long the engine stood is read."""
        self.table, self.home, self.stops = table, home, stops
        self.known: Lately[int] = Lately()
        self.begun: Lately[bool] = Lately()
        self.over: Lately[int] = Lately()
        self.alike: dict[Key, int] = {}
        self.equal = Numbers()
        # What it asks of the documents is all that is asked of this one.
        self.draft = Draft(table, initial(), ev.Wake(0))
        flows = table.flows.values()
        down = {flow for what, flow in table.discontinue.items() if what != "airborne"}
        ends = [e for f in flows for e in f.ends]
        if down.isdisjoint({e.flow for e in ends if e.kind is EndKind.RESTART}):
            # No way back leads there, so nothing asks what a way down has given.
            self.asked = {f.id for f in flows} - down
        else:
            self.asked = {f.id for f in flows}
        voids = {n for e in ends for n in e.voids}
        self.voided = {
            f.id: [n for n, s in enumerate(f.steps) if voids.intersection(gives(s))]
            if f.id in self.asked
            else []
            for f in flows
        }
        self.ordered = self.asked.intersection(table.order)
        self.ordered |= {f for f, given in self.voided.items() if given}
        self.more_flights = any(f.next_flight for f in flows)
        self.skipping = {f.id for f in flows if f.when is not None}
        self.turning = {
            f.id: [(n, what) for n, s in enumerate(f.steps) for what, on in s.turns if on]
            for f in flows
            if not f.drill
        }

    def of(self, state: State) -> int:
        """The number of the key of what is over in this state."""
        archive, valid, marks = state.archive, state.valid, state.marks
        same = (
            id(archive), id(valid), id(marks), state.flight, state.floor, state.airborne,
            tuple([(v.flow, v.number, v.flight, self._begun(v)) for v in state.visits]),
            self._stopped(state),
        )  # fmt: skip
        known = self.known.get(same)
        if known is not None:
            return known[1]
        # What was over before is over again and again, in other objects.
        alike = (
            tuple([self._over(v) for v in archive]), (*valid,),
            any(m.what == "take-off" and m.flight == state.flight for m in marks), same[3:],
        )  # fmt: skip
        found = self.alike.get(alike)
        if found is None:
            found = self.alike[alike] = self.equal.of(self._of(state))
        return self.known.keep(same, (archive, valid, marks), found)

    def _over(self, visit: Visit) -> int:
        """The number of all that is read of a list that is over."""
        known = self.over.get(id(visit))
        if known is not None:
            return known[1]
        held = (
            visit.flow, visit.number, visit.flight, visit.closed_at != NEVER, bool(visit.left),
            tuple([latch.how for latch in visit.latches]),
        )  # fmt: skip
        return self.over.keep(id(visit), visit, self.equal.of(held))

    def _begun(self, visit: Visit) -> bool:
        """Whether anything of a list in hand was passed, where a next flight asks for that."""
        if not self.more_flights:
            return False
        known = self.begun.get(id(visit.latches))
        if known is not None:
            return known[1]
        begun = steps_passed(self.draft, visit)
        return self.begun.keep(id(visit.latches), visit.latches, begun)

    def _of(self, state: State) -> Key:
        draft = Draft(self.table, state, ev.Wake(state.at))
        down = ways_down(draft)
        closed: dict[str, bool] = {}
        newest: dict[str, Visit] = {}
        began: set[tuple[str, str]] = set()
        shut = turned = NEVER
        for visit in state.archive:
            flow = visit.flow
            if flow not in self.turning:
                continue
            newest[flow] = visit
            if visit.flight != state.flight:
                continue
            if flow in down:
                closed.clear()
            closed.pop(flow, None)
            if visit.closed_at != NEVER and flow in self.ordered:
                closed[flow] = _left_out(visit)
            if visit.left:
                continue
            if flow == self.table.discontinue["rotor"]:
                shut = visit.number
            for index, what in self.turning[flow]:
                if visit.latches[index].how is How.ANSWERED:
                    began.add((flow, what))
                    turned = visit.number if what == "engine" else turned
        ready = getting_ready(draft)
        return (
            (ready or self.more_flights) and self._stopped(state),
            ready, allows_next(draft), tuple(sorted(closed.items())),
            tuple(sorted(began)), shut > turned,
            any(v.flow in self.home and not v.left for v in state.archive),
            tuple(sorted([
                (v.flow, self._kept(v, state, ready))
                for v in newest.values()
                if not v.left and self._asked(v.flow, state)
            ])),
        )  # fmt: skip

    def _stopped(self, state: State) -> bool:
        """Whether the engine has stood for so long that it matters."""
        at = state.moments.get("engine stopped")
        return self.stops and at is not None and state.at - at >= THIRTY_MINUTES

    def _asked(self, flow: str, state: State) -> bool:
        return flow in state.valid or bool(self.voided[flow]) or flow in self.skipping

    def _kept(self, visit: Visit, state: State, ready: bool) -> Key:
        """What of a list that is over may be read again: all of it where it may be asked again as
        it stands, else whether it, or a value that it gave, was left out."""
        flow = visit.flow
        voided = self.voided[flow]
        here = visit.flight == state.flight and visit.number >= state.floor
        if flow in state.valid or (voided and ready):
            return (here, *[v.how for v in visit.latches])
        given = [visit.latches[n].how is not How.NOT_REQUIRED for n in voided]
        return (here, _left_out(visit), *given)


def _left_out(visit: Visit) -> bool:
    return all(latch.how is How.NOT_REQUIRED for latch in visit.latches)
