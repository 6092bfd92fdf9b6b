"""Standby, recovery after a stop, and the choice of where to take the list up again.

Rules: standby holds questions, never physical timers; a wait with conditions ends with it; after
a long standby, or when engine or rotor changed state, the section is offered from its top; after
a stop three facts are asked first (engine, rotor, airborne), then the place; readings that have
become too old are asked again.
"""

from __future__ import annotations

from decimal import Decimal

from runner.engine.deciding import reopen
from runner.engine.draft import Draft
from runner.engine.errors import Refused
from runner.engine.events import Recovered
from runner.engine.passing import turn
from runner.engine.state import Choosing, How, Standing, Visit
from runner.engine.table import Kind
from runner.engine.waits import interrupted

RESUME = ("RESUME HERE", "SECTION FROM ITS TOP")
FACTS = {
    "engine": ("ENGINE STOPPED", "ENGINE RUNNING"),
    "rotor": ("ROTOR STOPPED", "ROTOR TURNING"),
    "airborne": ("ON THE GROUND", "AIRBORNE"),
}


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
    draft.choosing = None
    interrupted(draft)
    if not event.certain:
        # Nobody knows how long it was: whatever must cool or drain starts anew.
        for moment in draft.moments:
            draft.moments = draft.moments.having(moment, draft.at)
        for visit in list(draft.live()):
            if visit.wait is not None:
                draft.put(visit._replace(wait=None))
    stale(draft)
    draft.choosing = Choosing("engine", FACTS["engine"])
    draft.tell("recovered", str(event.gap), "certain" if event.certain else "uncertain")


def chosen(draft: Draft, kind: str, option: str) -> None:
    """An answer to one of the three facts, or to where the list is taken up."""
    if kind == "resume":
        draft.choosing = None
        if option == RESUME[1]:
            section_from_top(draft)
        return
    now = option == FACTS[kind][1]
    if kind == "engine":
        if now != draft.engine:
            turn(draft, "engine", now)
        draft.choosing = Choosing("rotor", FACTS["rotor"])
    elif kind == "rotor":
        if now != draft.rotor:
            turn(draft, "rotor", now)
        draft.choosing = Choosing("airborne", FACTS["airborne"])
    else:
        if now != draft.airborne:
            draft.airborne = now
            draft.give("airborne", now)
            draft.marked("take-off" if now else "landing", draft.at)
        draft.choosing = None
        offer_section(draft)


def section_from_top(draft: Draft) -> None:
    """Opens again every answered step of the section up to the place that is held."""
    visit = draft.active()
    if visit is None:
        return
    steps = draft.flow(visit).steps
    index = min(max(draft.question.step, 0), len(steps) - 1)
    first = index
    while first > 0 and steps[first - 1].section == steps[index].section:
        first -= 1
    for position in range(first, index + 1):
        if visit.latches[position].how in (
            How.ANSWERED, How.ACCEPTED, How.UNMET, How.ON_PAPER
        ) and steps[position].kind not in (Kind.REMARK, Kind.COMPUTED):  # fmt: skip
            reopen(draft, visit.number, position)


def stale(draft: Draft) -> None:
    """Asks again every reading of the live lists that is older than its author allows."""
    for visit in list(draft.live()):
        stale_visit(draft, visit)


def stale_visit(draft: Draft, visit: Visit) -> bool:
    """Opens the readings of one visit that have become too old; True if there were any."""
    found = False
    for index, step in enumerate(draft.flow(visit).steps):
        latch = visit.latches[index]
        if step.kind is not Kind.READING or latch.how is not How.ANSWERED:
            continue
        fresh = draft.table.readings[step.reading].fresh_for
        if fresh is not None and draft.at - latch.at > fresh:
            reopen(draft, visit.number, index)
            found = True
    return found


def carried(draft: Draft, pairs: tuple[tuple[str, str], ...]) -> None:
    """Takes over what the run before left: counters, moments (as ages in ms), defects."""
    for key, text in pairs:
        what, _, name = key.partition(":")
        if what == "counter" and name in draft.table.counters:
            draft.give(name, Decimal(text))
        elif what == "moment" and text.lstrip("-").isdigit():
            draft.moments = draft.moments.having(name, draft.at - int(text))
        elif what == "defect":
            draft.defect(text, name)
