"""Deadlines: when the engine wants to be woken, and what it does then.

Rules: `next_deadline` names only moments at which something changes, and none before the state's
own time; waking earlier changes nothing; what is due is done at its own time, before any later
event. A reading of the list in hand that grows too old is asked again, in flight not before
landing.
"""

from __future__ import annotations

from runner.engine.draft import Draft
from runner.engine.effects import Prompt
from runner.engine.interruptions import freshness, stale_visit
from runner.engine.passing import timer_deadlines, timers_due
from runner.engine.readings import notice, notice_deadline
from runner.engine.state import Fields, How, State
from runner.engine.table import Kind, Reading, Step, Table, Unmet
from runner.engine.waits import deadlines, due


def wake(draft: Draft) -> None:
    """Does what is due: by-times, waits, and a limit that has waited too long."""
    changed = timers_due(draft)
    changed = due(draft) or changed
    active = draft.active()
    if active is not None and any(when <= draft.at for when in _ageing(draft.table, draft)):
        changed = stale_visit(draft, active) or changed
    found = _watched(draft.table, draft)
    if found is not None:
        step, when = found
        if when <= draft.at:
            notice(draft, step)
            changed = True
    if not changed:
        draft.tell("due")


def _ageing(table: Table, fields: Fields) -> list[int]:
    """When readings of the list or drill in hand grow too old."""
    if fields.airborne or fields.standby is not None or fields.unread or fields.memory:
        return []
    active = fields.drill
    if active is None:
        focus = fields.focus
        for visit in fields.visits:
            if visit.number == focus:
                active = visit
                break
    if active is None or not table.ageing[active.flow]:
        return []
    return [when for _, when in freshness(table, active)]


def _watched(table: Table, fields: Fields) -> tuple[Step, int] | None:
    """The step whose patience is being counted, and when it ends."""
    trend, question = fields.trend, fields.question
    if trend is None or question.prompt not in (Prompt.ASKING, Prompt.UNMET):
        return None
    if (trend.visit, trend.step) != (question.visit, question.step):
        return None
    visit = next(
        (v for v in (fields.drill, *fields.visits) if v is not None and v.number == trend.visit),
        None,
    )
    if visit is None:
        return None
    step = table.flows[visit.flow].steps[trend.step]
    if step.kind is not Kind.READING or step.unmet is not Unmet.WAIT:
        return None
    if visit.latches[trend.step].how not in (How.OPEN, How.UNMET):
        return None
    reading: Reading = table.readings[step.reading]
    when = notice_deadline(trend, reading)
    return None if when is None else (step, when)


def next_deadline(table: Table, state: State) -> int | None:
    """The run time at which something changes by itself, or None."""
    # Asked before every event; most of the time nothing runs, and that is seen without a call.
    found = timer_deadlines(table, state.timers)
    drill = state.drill
    if drill is not None and drill.wait is not None:
        found = (*found, *deadlines(drill))
    for visit in state.visits:
        if visit.wait is not None:
            found = (*found, *deadlines(visit))
    ageing = _ageing(table, state)
    if ageing:
        found = (*found, *ageing)
    if state.trend is not None:
        watched = _watched(table, state)
        if watched is not None:
            found = (*found, watched[1])
    return max(min(found), state.at) if found else None
