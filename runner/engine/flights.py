"""Which list comes next: the plan of a flight, entering and closing lists, the next flight.

Rules: a list enters with every step decided; a list closes in one place, `close`, and only when
everything in it may pass; what stays valid is skipped by the plan and by nothing else; a list
that was not required is taken up again when its condition comes out otherwise.
"""

from __future__ import annotations

from decimal import Decimal

from runner.engine.deciding import decide_visit, gives, steps_passed
from runner.engine.draft import Draft
from runner.engine.errors import Refused
from runner.engine.state import NEVER, OPEN, How, Visit, may_pass
from runner.engine.table import Flow

NO_STOP_KNOWN = Decimal(99999)
DISCONTINUED = "discontinued"
THIRTY_MINUTES = 30 * 60_000


def wanted(draft: Draft, flow: Flow) -> bool:
    """Whether the present flight has this list: by its number, and unless it is still valid."""
    if draft.only:
        return flow.id == draft.only
    if flow.flights == "first" and draft.flight > 1:
        return bool(flow.valid_until) and flow.id not in draft.valid
    if flow.flights == "later" and draft.flight == 1:
        return False
    return flow.id not in draft.valid


def plan_from(draft: Draft, after: str = "") -> tuple[str, ...]:
    """The lists of this flight in order, those behind `after` only."""
    order = draft.table.order
    if after and after not in order:
        # A list outside the day is the way out of it: nothing follows.
        return ()
    start = order.index(after) + 1 if after else 0
    return tuple(f for f in order[start:] if wanted(draft, draft.table.flows[f]))


def begin_flight(draft: Draft) -> None:
    """Counts the flight, takes what is known at its beginning, and plans its lists."""
    draft.flight += 1
    draft.flight_began = draft.at
    draft.paper = ()
    draft.give("flight", Decimal(draft.flight))
    draft.give("first_flight", draft.flight == 1)
    stopped = draft.moments.get("engine stopped")
    if draft.engine:
        minutes = Decimal(0)
    elif stopped is None:
        # With no stop on record the engine may have stood for months: the careful reading.
        minutes = NO_STOP_KNOWN
    else:
        minutes = Decimal((draft.at - stopped) // 60_000)
    draft.give("stopped_minutes", minutes)
    draft.plan = plan_from(draft)


def enter_visit(draft: Draft, flow_id: str) -> Visit:
    """Makes a visit: values it gives are unknown, marks and paper count, steps are decided."""
    flow = draft.table.flows[flow_id]
    draft.visits_made += 1
    for step in flow.steps:
        for name in gives(step):
            draft.give(name, None)
        if step.timer:
            # A by-time met on an earlier flight must not vouch for this one.
            draft.timers = draft.timers.without(step.timer)
    visit = Visit(draft.visits_made, flow_id, draft.flight, draft.at, (OPEN,) * len(flow.steps))
    draft.tell("entered", flow_id)
    return visit


def enter_next(draft: Draft) -> None:
    """Enters the next list of the plan, with all its neighbours of the same group."""
    if not draft.plan:
        draft.visits = ()
        draft.focus = 0
        draft.tell("day closed")
        return
    group = draft.table.flows[draft.plan[0]].group
    entering = [draft.plan[0]]
    rest = draft.plan[1:]
    while group and rest and draft.table.flows[rest[0]].group == group:
        entering.append(rest[0])
        rest = rest[1:]
    draft.plan = rest
    draft.visits = tuple(enter_visit(draft, flow_id) for flow_id in entering)
    draft.focus = draft.visits[0].number
    for visit in draft.visits:
        decide_visit(draft, visit.number)


def go_to(draft: Draft, flow_id: str) -> None:
    """Leads to a list named by a drill's end or by *discontinue*, and plans what follows it."""
    visit = enter_visit(draft, flow_id)
    draft.visits = (visit,)
    draft.focus = visit.number
    draft.plan = plan_from(draft, flow_id)
    decide_visit(draft, visit.number)


def first_not_closed(draft: Draft, goal: str) -> str:
    """The first list of this flight up to `goal` that is not closed: a way back, never on."""
    order = draft.table.order
    closed: set[str] = set()
    for visit in draft.archive:
        if visit.left == DISCONTINUED:
            # What was closed before the way to shutdown has been undone on it.
            closed.clear()
        elif visit.flight == draft.flight and visit.closed_at != NEVER:
            closed.add(visit.flow)
    for flow_id in order[: order.index(goal)] if goal in order else ():
        if flow_id not in closed and wanted(draft, draft.table.flows[flow_id]):
            return flow_id
    return goal


def close(draft: Draft, visit: Visit) -> None:
    """Shelves a list whose every step may pass; the next open list of the group has the focus."""
    flow = draft.flow(visit)
    if not all(may_pass(s, v) for s, v in zip(flow.steps, visit.latches, strict=True)):
        raise Refused("open", ", ".join(draft.open_places((visit,))))
    required = flow.when is None or any(v.how is not How.NOT_REQUIRED for v in visit.latches)
    draft.shelve(visit._replace(closed_at=draft.at, wait=None))
    draft.visits = tuple(v for v in draft.visits if v.number != visit.number)
    if required:
        draft.tell("list closed", flow.id)
        if flow.valid_until:
            draft.valid = draft.valid.having(flow.id, draft.at)
    else:
        draft.tell("not required", flow.id, flow.when.source if flow.when else "")
    if draft.focus == visit.number or not any(v.number == draft.focus for v in draft.visits):
        draft.focus = draft.visits[0].number if draft.visits else 0
    if not draft.visits:
        enter_next(draft)


def take_up_again(draft: Draft, names: set[str]) -> None:
    """Plans a list again that was not required and now is, by a value that changed."""
    # What the condition of a list reads, its steps depend on.
    if draft.airborne or names.isdisjoint(draft.table.dependents):
        return
    newer: set[str] = set()
    for visit in reversed(draft.archive):
        if visit.flight != draft.flight or visit.number < draft.floor:
            return
        if visit.flow in newer:
            continue
        newer.add(visit.flow)
        flow = draft.flow(visit)
        if flow.when is None or not flow.when.names & names or visit.left:
            continue
        if any(v.how is not How.NOT_REQUIRED for v in visit.latches):
            continue
        known = flow.id in draft.plan or any(v.flow == flow.id for v in draft.visits)
        if not known and flow.when.decide(draft.values) is not False:
            draft.plan = (flow.id, *draft.plan)
            draft.tell("reopened", flow.id)


def happened(draft: Draft, what: str) -> None:
    """Ends the validity of every list that is valid until this."""
    lost = [f for f in draft.valid if what in draft.table.flows[f].valid_until]
    for flow_id in lost:
        draft.valid = draft.valid.without(flow_id)
    draft.tell("happened", what, *sorted(lost))


def allows_next(draft: Draft) -> bool:
    """Whether the last closed list lets the next flight begin, nothing having begun since."""
    for visit in draft.visits:
        if steps_passed(draft, visit):
            return False
    for visit in reversed(draft.archive):
        if visit.flight != draft.flight or visit.number < draft.floor:
            return False
        flow = draft.flow(visit)
        if flow.drill:
            continue
        if visit.left:
            return False
        if flow.when is not None and all(v.how is How.NOT_REQUIRED for v in visit.latches):
            continue
        return flow.next_flight
    return False


def next_flight(draft: Draft) -> None:
    """Begins the next flight; refuses in flight, in a drill, and where lists still stand open."""
    if draft.airborne:
        raise Refused("airborne")
    if draft.only or draft.drill is not None or not allows_next(draft):
        names = [f.title for f in draft.table.flows.values() if f.next_flight]
        raise Refused("not next flight", ", ".join(names))
    for visit in draft.visits:
        draft.shelve(visit._replace(wait=None, left="next flight"))
    draft.visits = ()
    draft.clear_pending()
    draft.tell("flight", str(draft.flight + 1))
    happened(draft, "flight")
    stopped = draft.moments.get("engine stopped")
    if not draft.engine and (stopped is None or draft.at - stopped > THIRTY_MINUTES):
        happened(draft, "stopped over 30 min")
    begin_flight(draft)
    enter_next(draft)
