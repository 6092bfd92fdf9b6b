"""Standby, recovery after a stop, and the choice of where to take the list up again.

Rules: standby holds questions, never physical timers; a wait with conditions ends with it; after
a long standby, or when engine or rotor changed state, the section is offered from its top; after
a stop three facts are asked first (engine, rotor, airborne; what is other than the log knows is
read back and wants affirm), then the place, and a drill only delays them; readings that have become
too old are asked again. Where nobody knows how long a stop was, nothing that must cool, drain, stay
fresh or be met in time is taken to have done so.
"""

from __future__ import annotations

from decimal import Decimal

from runner.engine.asking import Choosing, Pending, Standing
from runner.engine.deciding import reopen
from runner.engine.draft import Draft
from runner.engine.drills import discontinue, outdated, void
from runner.engine.errors import Refused
from runner.engine.events import Recovered
from runner.engine.flights import first_not_closed, getting_ready, go_to, left_out
from runner.engine.passing import fly, run_out, turn
from runner.engine.state import NEVER, Fields, How, Visit
from runner.engine.table import Kind, Table
from runner.engine.waits import conditioned, interrupted

RESUME = ("RESUME HERE", "SECTION FROM ITS TOP")
FACTS = {
    "engine": ("ENGINE STOPPED", "ENGINE RUNNING"),
    "rotor": ("ROTOR STOPPED", "ROTOR TURNING"),
    "airborne": ("ON THE GROUND", "AIRBORNE"),
}
FACT = "fact|"
"""Before a fact that was read back: it answers the choice that stands, and no step."""
# A member through its class costs many times a name of its own (see `state`).
_ANSWERED = How.ANSWERED


STOPS = ("engine stopped", "rotor stopped")
"""Moments whose age matters by being long: unknown is the careful reading."""


def stand_by(draft: Draft) -> None:
    """An interruption: the run is held at its place."""
    draft.clear_pending_answer()
    interrupted(draft)
    draft.standby = Standing(draft.at, draft.engine, draft.rotor)
    draft.tell("standby")


def go_on(draft: Draft) -> None:
    """The interruption is over: the place is read again, or the section offered from its top."""
    held = draft.standby
    if held is None:
        raise Refused("not standing by")
    draft.standby = None
    long = draft.at - held.since >= draft.table.settings.standby_long
    changed = (held.engine, held.rotor) != (draft.engine, draft.rotor)
    draft.tell("resumed")
    if (long or changed) and draft.choosing is None and draft.active() is not None:
        offer_section(draft)
    stale(draft)


def offer_section(draft: Draft) -> None:
    """Offers to take the section up from its top."""
    visit = draft.active()
    if visit is not None and any(
        latch.how in (How.ANSWERED, How.ACCEPTED, How.UNMET) for latch in visit.latches
    ):
        draft.choosing = Choosing("resume", RESUME)
        draft.tell("choose", "resume", *RESUME)


def recovered(draft: Draft) -> None:
    """The run goes on after a stop: pending things are dropped, three facts are asked."""
    event = draft.event
    if not isinstance(event, Recovered):
        raise TypeError(event)
    draft.clear_pending_answer()
    draft.standby = None
    interrupted(draft)
    if not event.certain:
        _anew(draft)
    stale(draft)
    draft.owed = tuple(FACTS)
    _offer_fact(draft)
    draft.tell("recovered", str(event.gap), "certain" if event.certain else "uncertain")


def _anew(draft: Draft) -> None:
    for moment in list(draft.moments):
        draft.moments = (
            draft.moments.without(moment)
            if moment in STOPS
            else draft.moments.having(moment, draft.at)
        )
    for name, timer in list(draft.timers.items()):
        if timer.ended == NEVER and not timer.over:
            draft.timer(name, timer._replace(over=True))
            draft.tell("timer over", name)
            run_out(draft, name)
    for visit in list(draft.live()):
        # One with conditions was ended by the stop already, and is read anew.
        if visit.wait is not None and not conditioned(draft, visit):
            draft.put(visit._replace(wait=None))
        stale_visit(draft, draft.visit(visit.number), uncertain=True)


def ask_fact(draft: Draft) -> None:
    """Offers the facts that a drill has delayed, once no drill is open."""
    kind = draft.choosing.kind if draft.choosing is not None else ""
    if draft.owed and kind not in FACTS and draft.drill is None and draft.standby is None:
        _offer_fact(draft)


def _offer_fact(draft: Draft) -> None:
    kind = draft.owed[0]
    draft.choosing = Choosing(kind, FACTS[kind])


def _known(draft: Draft, kind: str) -> bool:
    """Whether the engine runs, the rotor turns, the aircraft flies: what the log says."""
    return {"engine": draft.engine, "rotor": draft.rotor, "airborne": draft.airborne}[kind]


def fact_heard(fields: Fields) -> str:
    """The fact that was read back and wants *affirm*, or an empty text."""
    pending = fields.pending
    told = pending is not None and fields.choosing is not None and pending.value.startswith(FACT)
    return pending.value[len(FACT) :] if told and pending is not None else ""


def chosen(draft: Draft, kind: str, option: str, *, affirmed: bool = False) -> bool:
    """An answer to one of the three facts, or to where the list is taken up; True if it is taken.

    A fact other than what the log knows is read back first.
    """
    if kind == "resume":
        draft.choosing = None
        if option == RESUME[1]:
            section_from_top(draft)
        return True
    now = option == FACTS[kind][1]
    if now != _known(draft, kind) and not affirmed:
        draft.pending = Pending(
            FACT + option, "", getattr(draft.event, "source", "key"), draft.question.place, draft.at
        )
        draft.tell("read back", kind, option)
        return False
    draft.choosing = None
    draft.owed = draft.owed[1:]
    if kind != "airborne" and now != _known(draft, kind):
        turn(draft, kind, now)
    elif kind == "airborne":
        fly(draft, "take-off" if now else "landing", draft.at)
    if draft.owed:
        _offer_fact(draft)
    elif not set_back(draft):
        offer_section(draft)
    return True


def set_back(draft: Draft) -> bool:
    """Leads away from a list that the three facts contradict; True if it did.

    What turns is shut down again; what stands is started again, with every list behind it.
    """
    visit = draft.active()
    ways = draft.table.discontinue
    if visit is None or draft.airborne or draft.only:
        return False
    turning = draft.engine or draft.rotor
    if turning and (visit.flow == ways["nothing"] or _shut_down(draft)):
        discontinue(draft, why="it is turning")
        return True
    if visit.flow in ways.values() or _shut_down(draft):
        return False
    if turning and not getting_ready(draft):
        # After a flight one of them may have been stopped in its turn.
        return False
    for flow_id in draft.table.order:
        for what, now in (("engine", draft.engine), ("rotor", draft.rotor)):
            turned = _began(draft, what, flow_id) > NEVER or _found_turning(draft, what, flow_id)
            if not now and turned:
                goal = first_not_closed(draft, flow_id, void(draft, outdated(draft)))
                draft.leave_all(f"{what} stopped")
                go_to(draft, goal)
                return True
    return False


def _shut_down(draft: Draft) -> bool:
    """Whether the shutdown list was closed in this flight after the engine was last started."""
    goal = draft.table.discontinue["rotor"]
    ended = [
        v.number
        for v in draft.archive
        if v.flow == goal and v.flight == draft.flight and not v.left
    ]
    return bool(ended) and ended[-1] > _began(draft, "engine")


def _began(draft: Draft, what: str, flow_id: str = "") -> int:
    """The newest visit of this flight that was answered to have it turning, or never."""
    newest = NEVER
    for visit in (*draft.archive, *draft.visits):
        if visit.flight != draft.flight or visit.left or (flow_id and visit.flow != flow_id):
            continue
        for step, latch in zip(draft.flow(visit).steps, visit.latches, strict=True):
            if (what, True) in step.turns and latch.how is How.ANSWERED:
                newest = max(newest, visit.number)
    return newest


def _found_turning(draft: Draft, what: str, flow_id: str) -> bool:
    """Whether the list that makes it turn was not required in this flight, since it turned."""
    newest = {v.flow: v for v in draft.archive if v.flight == draft.flight}.get(flow_id)
    return (
        newest is not None
        and left_out(draft, newest)
        and any((what, True) in step.turns for step in draft.flow(newest).steps)
    )


def section_from_top(draft: Draft) -> None:
    """Opens again every answered step of the section that is held, those behind it too."""
    visit = draft.active()
    if visit is None:
        return
    steps = draft.flow(visit).steps
    index = min(max(draft.question.step, 0), len(steps) - 1)
    # A heading stands at its first step only and holds for those behind it.
    heads = [i for i, step in enumerate(steps) if step.section and i <= index]
    first = heads[-1] if heads else 0
    while first > 0 and steps[first].section and steps[first - 1].section == steps[first].section:
        first -= 1
    name = steps[first].section
    last = index
    while last + 1 < len(steps) and steps[last + 1].section in ("", name):
        last += 1
    for position in range(first, last + 1):
        if visit.latches[position].how in (
            How.ANSWERED, How.ACCEPTED, How.UNMET, How.ON_PAPER
        ) and steps[position].kind not in (Kind.REMARK, Kind.COMPUTED):  # fmt: skip
            reopen(draft, visit.number, position)


def stale(draft: Draft) -> None:
    """Asks again every reading of the live lists that is older than its author allows."""
    for visit in list(draft.live()):
        stale_visit(draft, visit)


def stale_visit(draft: Draft, visit: Visit, *, uncertain: bool = False) -> bool:
    """Opens the readings of one visit that are, or may be, too old; True if there were any."""
    found = False
    for index, best_before in freshness(draft.table, visit):
        if uncertain or best_before <= draft.at:
            reopen(draft, visit.number, index)
            found = True
    return found


def freshness(table: Table, visit: Visit) -> list[tuple[int, int]]:
    """For each answered reading that ages: its position, and the time at which it is too old."""
    found = []
    latches = visit.latches
    for index, fresh in table.ageing[visit.flow]:
        latch = latches[index]
        if latch.how is _ANSWERED:
            found.append((index, latch.at + fresh))
    return found


def carried(draft: Draft, pairs: tuple[tuple[str, str], ...]) -> None:
    """Takes over what the run before left: counters, moments (as ages in ms), defects."""
    for key, text in pairs:
        what, _, name = key.partition(":")
        number = int(text) if text.isascii() and text.isdigit() else None
        if what == "counter" and name in draft.table.counters and number is not None:
            draft.give(name, Decimal(number))
        elif what == "moment" and number is not None:
            draft.moments = draft.moments.having(name, draft.at - number)
        elif what in ("defect", "grounded"):
            draft.defect(text, name, grounding=what == "grounded")
