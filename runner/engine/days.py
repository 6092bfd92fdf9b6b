"""The day as data: its lists, its flights, what was accepted, and the numbers of the card.

Rules: pure; of a list asked for more than once the newest visit tells; what ended the validity of a
list is said only as far as the state knows it; times are run time in milliseconds.
"""

from __future__ import annotations

from collections.abc import Iterable

from runner.engine.conditions import explain
from runner.engine.effects import CardRange, FlightLine, Line, ListLine
from runner.engine.reasons import why_not
from runner.engine.state import NEVER, Fields, How, State, Visit
from runner.engine.steplines import line
from runner.engine.table import Flow, Table

ENDS_ITSELF = {"stopped over 30 min": "stopped over 30 min", "flight": "the next flight"}
"""What ends a validity without being declared, and what it is called."""
_SHORT = 28


def lists(table: Table, state: State) -> list[ListLine]:
    """The lists of the present flight, in the order of the day."""
    live = {visit.flow: visit.number for visit in state.visits}
    last = {visit.flow: visit for visit in state.archive if visit.flight == state.flight}
    before = {
        visit.flow for visit in state.archive if visit.closed_at != NEVER and _required(visit)
    }
    found = []
    for flow_id in table.order:
        flow = table.flows[flow_id]
        over = last.get(flow_id)
        again = _again(table, flow) if flow_id in before and flow_id not in state.valid else ""
        if flow_id in live:
            status = "current" if live[flow_id] == state.focus else "open"
            found.append(ListLine(flow_id, flow.title, status, why=again))
        elif flow_id in state.plan:
            found.append(ListLine(flow_id, flow.title, "to come", why=again))
        elif over is not None:
            why = why_not(flow.when, state.values) if flow.when is not None else ""
            found.append(_over(table, state, over, why))
        elif flow_id in state.valid:
            since = state.valid[flow_id]
            found.append(
                ListLine(flow_id, flow.title, "still valid", since, until=until(table, flow))
            )
        elif state.only:
            found.append(ListLine(flow_id, flow.title, "not done"))
    return found


def flights(table: Table, state: State, present: Iterable[ListLine]) -> list[FlightLine]:
    """Every flight of the run, the present one (`present` are its lists) last."""
    found = []
    for number, begun in begins(state).items():
        now = number == state.flight
        marks = tuple((m.what, m.when) for m in state.marks if m.flight == number)
        shown = present if now else _past(table, state, number)
        found.append(FlightLine(number, begun, now, marks, tuple(shown)))
    return found


def begins(state: Fields) -> dict[int, int]:
    """When each flight began, in their order."""
    found: dict[int, int] = {}
    for visit in state.archive:
        if visit.entered < found.get(visit.flight, visit.entered + 1):
            found[visit.flight] = visit.entered
    if state.flight:
        found[state.flight] = state.flight_began
    return found


def accepted(table: Table, state: State) -> list[Line]:
    """What the commander accepted and what still stands so: no newer visit asks it anew."""
    drill = (state.drill,) if state.drill is not None else ()
    newest = {visit.flow: visit for visit in (*state.archive, *state.visits, *drill)}
    return [
        line(table, step, latch, state.values)
        for visit in newest.values()
        if any(latch.how is How.ACCEPTED for latch in visit.latches)
        for step, latch in zip(table.flows[visit.flow].steps, visit.latches, strict=True)
        if latch.how is How.ACCEPTED
    ]


def card(table: Table, present: Iterable[ListLine]) -> list[CardRange]:
    """The card's numbers of the lists of the present flight."""
    return [
        CardRange(one.title, steps[0].number, steps[-1].number)
        for one in present
        for steps in (table.flows[one.key].steps,)
    ]


def until(table: Table, flow: Flow) -> str:
    """What ends the validity of a list: "refuelled, maintenance or night stop"."""
    words = [what for what in table.happenings if what in flow.valid_until]
    words += [said for what, said in ENDS_ITSELF.items() if what in flow.valid_until]
    return " or ".join(part for part in (", ".join(words[:-1]), *words[-1:]) if part)


def _again(table: Table, flow: Flow) -> str:
    """Why a list is asked again that had stayed valid: which of these it was, no state keeps."""
    words = until(table, flow)
    return f"again after {words}" if words else ""


def _over(table: Table, state: State, visit: Visit, why: str) -> ListLine:
    """A visit that is over, as a list of its flight."""
    flow = table.flows[visit.flow]
    if visit.left:
        return ListLine(flow.id, flow.title, "not done", None, visit.left)
    if not _required(visit):
        return ListLine(flow.id, flow.title, "not required", visit.closed_at, why)
    holds = state.valid.get(flow.id) == visit.closed_at
    return ListLine(
        flow.id, flow.title, "closed", visit.closed_at, until=until(table, flow) if holds else ""
    )


def _past(table: Table, state: State, flight: int) -> list[ListLine]:
    last = {visit.flow: visit for visit in state.archive if visit.flight == flight}
    found = []
    for flow_id in table.order:
        if flow_id in last:
            when = table.flows[flow_id].when
            # The values of that flight are gone: a denial of several parts tells nothing any more.
            why = explain(when, False) if when is not None else ""
            found.append(_over(table, state, last[flow_id], why if len(why) <= _SHORT else ""))
    return found


def _required(visit: Visit) -> bool:
    return any(latch.how is not How.NOT_REQUIRED for latch in visit.latches)
