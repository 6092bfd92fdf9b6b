"""Drills and *discontinue*: the ways out of the list that are open in every state.

Rules: opening a drill never asks anything first; a drill opened in a drill replaces it; a drill
ends only in one of the ends that its author wrote; every end but *continue here* leaves all
lists behind and raises the floor; one opened by a person by mistake is left, as if it had not been
opened, while nothing of it is done; *discontinue* leads by what is turning and wants no acceptance.
"""

from __future__ import annotations

from runner.engine.asking import Choosing
from runner.engine.deciding import decide_visit, gives, reopen
from runner.engine.draft import Draft
from runner.engine.errors import Refused
from runner.engine.events import OpenDrill
from runner.engine.flights import (
    DISCONTINUED,
    closed_lists,
    enter_visit,
    first_not_closed,
    getting_ready,
    go_to,
    plan_again,
)  # fmt: skip
from runner.engine.mistakes import BY_MISTAKE, may_be_mistake, put_back, taken_along
from runner.engine.state import NEVER, How, Visit, may_pass
from runner.engine.table import End, EndKind
from runner.engine.waits import interrupted
from runner.engine.words import nearest


def open_drill(draft: Draft, drill_id: str) -> None:
    """Opens a drill over whatever stands."""
    if drill_id not in draft.table.drills:
        raise Refused("unknown drill", nearest(drill_id, draft.table.drills))
    flow = draft.table.flows[drill_id]
    trend = draft.trend
    mistake = taken_along(draft, flow) if isinstance(draft.event, OpenDrill) else None
    if draft.drill is not None:
        mute(draft, draft.flow(draft.drill).mutes, muted=False)
        draft.leave(draft.drill, f"drill {flow.title}")
        draft.drill = None
    draft.clear_pending()
    draft.trend = trend
    interrupted(draft)
    draft.drill = enter_visit(draft, drill_id)
    draft.mistake = mistake._replace(drill=draft.drill.number) if mistake is not None else None
    decide_visit(draft, draft.drill.number)
    draft.memory = any(
        step.memory and latch.how is How.OPEN
        for step, latch in zip(flow.steps, draft.drill.latches, strict=True)
    )
    mute(draft, flow.mutes, muted=True)
    draft.tell("drill in", drill_id)


def opened_by_mistake(draft: Draft) -> None:
    """Leaves a drill of which nothing is done: what it took goes back, what it came over stands."""
    mistake, drill = draft.mistake, draft.drill
    if drill is None or mistake is None or not may_be_mistake(draft):
        raise Refused("not by mistake")
    trend = draft.trend
    mute(draft, draft.flow(drill).mutes, muted=False)
    draft.leave(drill, BY_MISTAKE)
    draft.drill = draft.mistake = None
    draft.memory = False
    draft.clear_pending()
    draft.trend = trend
    draft.consumed = True
    put_back(draft, mistake)
    draft.tell("drill undone", drill.flow)
    if mistake.replaced:
        open_drill(draft, mistake.replaced)
        if mistake.before is not None:
            # It stands anew, in a visit of its own: the newest.
            draft.mistake = mistake.before._replace(drill=draft.visits_made)
    else:
        draft.choosing, draft.standby = mistake.choosing, mistake.standby


def mute(draft: Draft, names: tuple[str, ...], *, muted: bool) -> None:
    """Mutes by-times, or lets them be heard."""
    for name in names:
        timer = draft.timers.get(name)
        if timer is not None:
            draft.timer(name, timer._replace(muted=muted))


def memory_done(draft: Draft) -> None:
    """The memory items have been done: from here they are verified one by one."""
    if not draft.memory:
        raise Refused("no memory items")
    draft.memory = False
    draft.mistake = None
    draft.consumed = True
    draft.tell("memory done")


def end_drill(draft: Draft, visit: Visit) -> None:
    """The closing call of a drill was answered: takes its end, or offers those that apply."""
    steps = draft.flow(visit).steps
    if not all(may_pass(s, v) for s, v in zip(steps, visit.latches, strict=True)):
        raise Refused("open", ", ".join(draft.open_places((visit,))))
    ends = applicable(draft, visit)
    if not ends:
        take_end(draft, visit, End("discontinue", EndKind.DISCONTINUE))
    elif len(ends) == 1:
        take_end(draft, visit, ends[0])
    else:
        offer_ends(draft, visit)
        draft.tell("choose", "end", *[end.label for end in ends])


def offer_ends(draft: Draft, visit: Visit) -> None:
    """Offers the ends that apply."""
    options = tuple(end.label.upper() for end in applicable(draft, visit))
    draft.choosing = Choosing("end", options)


def keep_ends(draft: Draft) -> None:
    """Ends that are offered fall away when the drill is open again, and follow their conditions."""
    visit, choosing = draft.drill, draft.choosing
    if choosing is None or choosing.kind != "end":
        return
    steps = draft.flow(visit).steps if visit is not None else ()
    latches = visit.latches if visit is not None else ()
    if visit is None or not all(may_pass(s, v) for s, v in zip(steps, latches, strict=True)):
        draft.choosing = None
        if visit is not None:
            reopen(draft, visit.number, len(steps) - 1)
        return
    offer_ends(draft, visit)


def applicable(draft: Draft, visit: Visit) -> list[End]:
    """The ends whose condition is true now; an unknown one is not offered."""
    return [
        end
        for end in draft.flow(visit).ends
        if end.when is None or end.when.decide(draft.values) is True
    ]


def chosen_end(draft: Draft, option: str) -> None:
    """One of several ends was chosen."""
    visit = draft.drill
    if visit is None:
        raise Refused("nothing asked")
    keep_ends(draft)
    for end in applicable(draft, visit) if draft.choosing is not None else ():
        if end.label.upper() == option:
            draft.choosing = None
            take_end(draft, visit, end)
            return
    raise Refused("choose", ", ".join(e.label.upper() for e in applicable(draft, visit)))


def take_end(draft: Draft, visit: Visit, end: End) -> None:
    """Performs an end: voided values, a defect, and where the run goes from here."""
    flow = draft.flow(visit)
    draft.shelve(visit._replace(closed_at=draft.at, wait=None))
    draft.drill = None
    draft.memory = False
    draft.mistake = None
    draft.tell("drill out", flow.id, end.kind.value, end.label)
    if end.defect:
        grounding = end.grounding or end.kind is EndKind.UNSERVICEABLE
        draft.defect(end.defect, flow.id, grounding=grounding)
    again = outdated(draft) if end.kind is EndKind.RESTART else ()
    undone = void(draft, (*end.voids, *again))
    if end.kind is EndKind.CONTINUE:
        mute(draft, flow.mutes, muted=False)
        _ask_again(draft, undone, end.voids)
        return
    if end.kind is EndKind.RESTART:
        # Found before leaving: a restart never leads past a list that has not been closed.
        goal = first_not_closed(draft, end.flow, undone)
        draft.leave_all(f"drill {flow.title}")
        go_to(draft, goal)
        return
    discontinue(draft, why=f"drill {flow.title}")


def void(draft: Draft, names: tuple[str, ...]) -> set[str]:
    """Makes values unknown, and asks again the live steps that gave them.

    The lists behind the crew that gave one are flagged, no longer valid, and returned.
    """
    undone: set[str] = set()
    for name in names:
        undone |= _void_behind(draft, name)
        draft.give(name, None)
        for visit in list(draft.live()):
            for index, step in enumerate(draft.flow(visit).steps):
                if name in gives(step):
                    reopen(draft, visit.number, index)
    return undone


def outdated(draft: Draft) -> tuple[str, ...]:
    """The values computed while something turned that stands now: they would come out otherwise."""
    standing = {
        name
        for name, now in (("engine_running", draft.engine), ("rotor_turning", draft.rotor))
        if not now
    }
    return tuple([
        step.gives
        for step in draft.table.steps.values()
        if step.formula is not None
        and not standing.isdisjoint(step.formula.names)
        and step.gives in draft.values
        and step.formula.value(draft.values) != draft.values[step.gives]
    ])  # fmt: skip


def _void_behind(draft: Draft, name: str) -> set[str]:
    """Flags the lists, closed or skipped as still valid, that gave this value; they are neither."""
    closed = closed_lists(draft)
    newest = {visit.flow: visit for visit in draft.archive}
    found = set()
    for visit in newest.values():
        flow = draft.flow(visit)
        if flow.drill or (flow.id not in closed and flow.id not in draft.valid):
            continue
        for step, latch in zip(flow.steps, visit.latches, strict=True):
            if name in gives(step) and latch.how is not How.NOT_REQUIRED:
                draft.flag(f"{flow.title}: {step.challenge}, no longer known", step.id)
                draft.valid = draft.valid.without(flow.id)
                found.add(flow.id)
    return found


def _ask_again(draft: Draft, undone: set[str], names: tuple[str, ...]) -> None:
    """Before the flight, takes lists behind the crew up again at once, in front of the present one.

    What gave a void value is open, and their end; the rest stands: nobody starts a running engine
    again for one gauge. A list that was skipped as still valid is asked whole.
    """
    if not undone or not getting_ready(draft):
        return
    order = draft.table.order
    here = min((order.index(v.flow) for v in draft.visits if v.flow in order), default=0)
    newest = {visit.flow: visit for visit in draft.archive}
    taken: list[Visit] = []
    for flow_id in (f for f in order[:here] if f in undone and f not in draft.plan):
        old = newest[flow_id]
        if old.flight == draft.flight:
            draft.visits_made += 1
            taken.append(old._replace(number=draft.visits_made, entered=draft.at, closed_at=NEVER))
        else:
            taken.append(enter_visit(draft, flow_id))
        draft.tell("reopened", flow_id)
    plan_again(draft, undone - {visit.flow for visit in taken})
    if not taken:
        return
    draft.visits = (*taken, *draft.visits)
    draft.focus = taken[0].number
    draft.tell("turned", taken[0].flow)
    for visit in taken:
        steps = draft.flow(visit).steps
        for index, step in enumerate(steps):
            for name in gives(step):
                if draft.gives_now((newest[visit.flow].number, index), name):
                    draft.givers = draft.givers.having(name, (visit.number, index))
            if set(names).intersection(gives(step)) or index == len(steps) - 1:
                reopen(draft, visit.number, index)
        decide_visit(draft, visit.number)


def target(draft: Draft) -> str:
    """The list that *discontinue* leads to, by what is turning."""
    ways = draft.table.discontinue
    if draft.owed:
        # Nobody has said yet what turns after a stop: the list that shuts down asks for it.
        return ways["rotor"]
    if draft.airborne:
        return ways["airborne"]
    if draft.rotor:
        return ways["rotor"]
    if draft.engine:
        return ways["engine"]
    return ways["nothing"]


def discontinue(draft: Draft, why: str = DISCONTINUED) -> None:
    """Leaves everything and goes to the shutdown list; on the way there already, it stays there."""
    goal = target(draft)
    draft.unread = ()
    visit = draft.active()
    if draft.drill is None and visit is not None and visit.flow == goal:
        draft.clear_pending()
        draft.tell("turned", goal)
        return
    draft.leave_all(why)
    go_to(draft, goal)
