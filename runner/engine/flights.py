"""Which list comes next: the plan of a flight, entering and closing lists, the next flight.

Rules: a list enters with every step decided; a list closes in one place, `close`, and only when
everything in it may pass; what stays valid is skipped by the plan and by nothing else; a list
that was not required is taken up again when its condition comes out otherwise; while the engine
stands the stop is counted anew with every list, and what it ends is planned again; going to shut
down undoes what was closed; an aircraft that is unserviceable does not begin the next flight.
"""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal

from runner.engine.deciding import decide_visit, steps_passed
from runner.engine.draft import Draft
from runner.engine.errors import Refused
from runner.engine.passing import end_left_over, flight_begins
from runner.engine.state import NEVER, OPEN, How, Visit, may_pass
from runner.engine.table import Flow

NO_STOP_KNOWN = Decimal(99999)
DISCONTINUED = "discontinued"
THIRTY_MINUTES = 30 * 60_000


def wanted(draft: Draft, flow: Flow) -> bool:
    """Whether the present flight has this list: by its number, and unless it is still valid."""
    if draft.only:
        return flow.id == draft.only
    if flow.flights == "first" and not first_flight(draft):
        return bool(flow.valid_until) and flow.id not in draft.valid
    if flow.flights == "later" and first_flight(draft):
        return False
    return flow.id not in draft.valid


def first_flight(draft: Draft) -> bool:
    """Whether nothing has flown yet in this run: no earlier flight has a take-off mark."""
    return not any(m.what == "take-off" and m.flight < draft.flight for m in draft.marks)


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
    flight_begins(draft)
    for name, count in (("accepted_items", 0), ("flight", draft.flight)):
        draft.give(name, Decimal(count))
    draft.give("first_flight", first_flight(draft))
    draft.give("stopped_minutes", _stopped_minutes(draft))
    draft.plan = plan_from(draft)


def _stopped_minutes(draft: Draft) -> Decimal:
    stopped = draft.moments.get("engine stopped")
    if draft.engine:
        return Decimal(0)
    if stopped is None:
        # With no stop on record the engine may have stood for months: the careful reading.
        return NO_STOP_KNOWN
    return Decimal((draft.at - stopped) // 60_000)


def ways_down(draft: Draft) -> set[str]:
    """The lists that *discontinue* leads to on the ground: going there undoes what was closed."""
    return {flow for what, flow in draft.table.discontinue.items() if what != "airborne"}


def getting_ready(draft: Draft) -> bool:
    """Whether lists before the flight may still be asked: not flown yet, not shutting down."""
    if draft.airborne:
        return False
    if any(m.what == "take-off" and m.flight == draft.flight for m in draft.marks):
        return False
    down = ways_down(draft)
    return not any(
        v.flow in down and v.flight == draft.flight and v.number >= draft.floor
        for v in (*draft.archive, *draft.visits)
    )


def count_stop(draft: Draft) -> None:
    """Counts the stop anew while the engine stands; over thirty minutes it ends validity, once.

    What was closed when the stop had lasted so long already stays valid.
    """
    if draft.engine or not getting_ready(draft):
        return
    before = draft.values.get("stopped_minutes", NO_STOP_KNOWN)
    minutes = _stopped_minutes(draft)
    if minutes == before:
        return
    draft.give("stopped_minutes", minutes)
    stopped = draft.moments.get("engine stopped")
    over = draft.at if stopped is None else stopped + THIRTY_MINUTES
    what = "stopped over 30 min"
    if draft.at > over or stopped is None:
        ended = [f for f, closed in draft.valid.items() if closed <= over]
        if any(what in draft.table.flows[f].valid_until for f in ended):
            happened(draft, what, closed_by=over)
    # Before the next list is chosen: what is wanted now comes in front of it.
    take_up_again(draft, {"stopped_minutes"})


def enter_visit(draft: Draft, flow_id: str) -> Visit:
    """Makes a visit: values it gives are unknown, marks and paper count, steps are decided."""
    flow = draft.table.flows[flow_id]
    draft.visits_made += 1
    for step in flow.steps:
        if step.gives:
            draft.give(step.gives, None)
        timer = draft.timers.get(step.timer) if step.timer else None
        if timer is None:
            continue
        runs = timer.ended == NEVER and not timer.over
        if not (flow.drill and runs):
            # A by-time met on an earlier flight must not vouch for this one; one that runs when
            # a drill is opened over it runs on.
            draft.timers = draft.timers.without(step.timer)
    visit = Visit(draft.visits_made, flow_id, draft.flight, draft.at, (OPEN,) * len(flow.steps))
    draft.tell("entered", flow_id)
    return visit


def enter_next(draft: Draft) -> None:
    """Enters the next list of the plan, with all its neighbours of the same group."""
    count_stop(draft)
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
    end_left_over(draft)
    count_stop(draft)
    decide_visit(draft, visit.number)


def first_not_closed(draft: Draft, goal: str, undone: Collection[str] = ()) -> str:
    """The first list of this flight up to `goal` that is not closed: a way back, never on.

    What is `undone` counts as not closed. The stop is counted anew first, since it may have ended
    the validity of a list before `goal`.
    """
    count_stop(draft)
    order = draft.table.order
    if goal not in order:
        return goal
    # A goal on the way down wants nothing closed that stands before the way down.
    down = ways_down(draft)
    first = next((i for i, f in enumerate(order) if f in down), len(order))
    start = first if order.index(goal) >= first else 0
    closed = closed_lists(draft).difference(undone)
    for flow_id in order[start : order.index(goal)]:
        if flow_id not in closed and wanted(draft, draft.table.flows[flow_id]):
            return flow_id
    return goal


def closed_lists(draft: Draft) -> set[str]:
    """The lists closed in this flight since it last went to shut down."""
    down = ways_down(draft)
    closed: set[str] = set()
    for visit in (*draft.archive, *draft.visits):
        if visit.flight != draft.flight:
            continue
        if visit.flow in down:
            # What was closed before has been undone by going there, by whichever way.
            closed.clear()
        if visit.closed_at != NEVER and not _required_by_now(draft, visit):
            closed.add(visit.flow)
        else:
            closed.discard(visit.flow)
    return closed


def left_out(draft: Draft, visit: Visit) -> bool:
    """Whether a list that has a condition was not required, whole."""
    return draft.flow(visit).when is not None and all(
        latch.how is How.NOT_REQUIRED for latch in visit.latches
    )


def _required_by_now(draft: Draft, visit: Visit) -> bool:
    """Whether a list that was closed as not required would be required now."""
    when = draft.flow(visit).when
    return when is not None and left_out(draft, visit) and when.decide(draft.values) is not False


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
    if draft.airborne or names.isdisjoint(draft.table.skipping):
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


def happened(
    draft: Draft, what: str, closed_by: int | None = None, *, beginning: bool = False
) -> None:
    """Ends the validity of every list that is valid until this, or of those closed by a time.

    A list that this flight has skipped as still valid is planned again while the engine stands;
    any other that has lapsed is asked by the next flight only, or by the one that is `beginning`.
    """
    lost = [
        flow_id
        for flow_id, closed in draft.valid.items()
        if what in draft.table.flows[flow_id].valid_until
        and (closed_by is None or closed <= closed_by)
    ]
    for flow_id in lost:
        draft.valid = draft.valid.without(flow_id)
    again = set(lost) if beginning else set()
    place = len(draft.tale)
    if lost and not beginning and not draft.engine and getting_ready(draft):
        again = set(plan_again(draft, set(lost) - closed_lists(draft)))
    told = [("happened", what, *sorted(again))]
    if later := sorted(set(lost) - again):
        told.append(("lapsed", *later))
    draft.tale[place:place] = told


def plan_again(draft: Draft, flows: set[str]) -> list[str]:
    """Puts lists back into the plan, in the order of the day; the names of those put back."""
    known = {*draft.plan, *(visit.flow for visit in draft.visits)}
    back = [
        flow_id
        for flow_id in draft.table.order
        if flow_id in flows - known and wanted(draft, draft.table.flows[flow_id])
    ]
    if back:
        # What was taken up again from before the present list keeps its place in front.
        draft.plan = tuple(sorted((*draft.plan, *back), key=draft.table.order.index))
    for flow_id in back:
        draft.tell("reopened", flow_id)
    return back


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
        if left_out(draft, visit):
            continue
        return flow.next_flight
    return False


def no_next_flight(draft: Draft) -> Refused | None:
    """Why the next flight does not begin: in flight, in a drill, where lists still stand open, and
    in an aircraft that is unserviceable."""
    if draft.airborne:
        return Refused("airborne")
    if draft.only or draft.drill is not None or not allows_next(draft):
        names = [f.title for f in draft.table.flows.values() if f.next_flight]
        return Refused("not next flight", ", ".join(names))
    grounding = [d.text for d in draft.defects if d.open and d.grounding]
    return Refused("unserviceable", "; ".join(grounding)) if grounding else None


def next_flight(draft: Draft) -> None:
    """Begins the next flight, or refuses."""
    refused = no_next_flight(draft)
    try:
        if refused is not None:
            raise refused
    finally:
        # A frame that names what it raised holds itself, and all frames and states before it.
        del refused
    for visit in draft.visits:
        draft.shelve(visit._replace(wait=None, left="next flight"))
    draft.visits = ()
    draft.clear_pending()
    draft.tell("flight", str(draft.flight + 1))
    happened(draft, "flight", beginning=True)
    stopped = draft.moments.get("engine stopped")
    if not draft.engine and (stopped is None or draft.at - stopped > THIRTY_MINUTES):
        happened(draft, "stopped over 30 min", beginning=True)
    begin_flight(draft)
    enter_next(draft)
