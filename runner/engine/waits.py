"""Waits: a minimum time, with conditions read at its start, at their interval and at its end.

Rules: a wait with conditions starts when all were read and met; a reading that breaks one starts
it again; at its end every condition is read anew, after the end; a wait without conditions ends by
the clock alone; `since` counts from a moment noted earlier, and from the step if there is none.
"""

from __future__ import annotations

from decimal import Decimal

from runner.engine.asking import Question
from runner.engine.draft import Draft
from runner.engine.effects import Prompt
from runner.engine.passing import passed
from runner.engine.state import NEVER, How, Latch, Visit, Wait, blocked, may_pass
from runner.engine.table import Kind, Step, WaitRule


def wait_question(draft: Draft, number: int, index: int) -> Question | None:
    """The question of the wait at this place; begins it where needed; None once it is over."""
    visit = draft.visit(number)
    rule = _rule(draft, visit, index)
    wait = visit.wait
    if wait is None or wait.step != index:
        wait = Wait(index, pending=tuple(range(len(rule.conditions))))
        draft.put(visit._replace(wait=wait))
        if not wait.pending:
            _begin(draft, number)
    wait = draft.visit(number).wait
    if wait is None:
        return None
    if wait.pending:
        sub = wait.pending[0]
        prompt = Prompt.UNMET if wait.last else Prompt.ASKING
        return Question(prompt, number, index, sub)
    if wait.began != NEVER and wait.until <= draft.at:
        if rule.conditions and not wait.ending:
            every = tuple(range(len(rule.conditions)))
            _put(draft, number, wait._replace(pending=every, ending=True, next_ask=NEVER))
            return wait_question(draft, number, index)
        _finish(draft, number, index)
        return None
    return Question(Prompt.WAITING, number, index)


def _rule(draft: Draft, visit: Visit, index: int) -> WaitRule:
    rule = draft.flow(visit).steps[index].wait
    if rule is None:
        raise KeyError(index)
    return rule


def _put(draft: Draft, number: int, wait: Wait | None) -> None:
    draft.put(draft.visit(number)._replace(wait=wait))


def _begin(draft: Draft, number: int) -> None:
    visit = draft.visit(number)
    wait = visit.wait
    if wait is None:
        return
    rule = _rule(draft, visit, wait.step)
    # With conditions, time counts only while all were seen to hold, whenever the moment was.
    began = draft.at if rule.conditions else draft.moments.get(rule.since, draft.at)
    until = began + rule.length
    every = ask_every(draft, rule)
    next_ask = draft.at + every if every is not None and rule.conditions else NEVER
    if next_ask != NEVER and next_ask >= until:
        next_ask = NEVER
    ending = until <= draft.at
    _put(draft, number, wait._replace(began=began, until=until, next_ask=next_ask, ending=ending))
    draft.tell("wait started", draft.flow(visit).steps[wait.step].id)


def ask_every(draft: Draft, rule: WaitRule) -> int | None:
    """The interval of the wait's conditions: its own, else the shortest of its readings."""
    if rule.ask_every is not None:
        return rule.ask_every
    own = [draft.table.readings[name].ask_every for name, _ in rule.conditions]
    known = [every for every in own if every is not None]
    return min(known) if known else None


def _finish(draft: Draft, number: int, index: int) -> None:
    step = draft.flow(draft.visit(number)).steps[index]
    _put(draft, number, None)
    draft.tell("wait done", step.id)
    draft.latch(number, index, Latch(How.ANSWERED, "", draft.at))
    passed(draft, step)


def during(draft: Draft, number: int, index: int) -> int | None:
    """The first open step marked *meanwhile* behind a running wait."""
    visit = draft.visit(number)
    steps = draft.flow(visit).steps
    for later in range(index + 1, len(steps)):
        step, latch = steps[later], visit.latches[later]
        if step.kind in (Kind.WAIT, Kind.CLOSING):
            return None
        if may_pass(step, latch) or latch.how is How.PUT_OFF:
            continue
        if not step.meanwhile:
            # What is not marked holds what stands behind it, here as anywhere.
            return None
        if latch.how in (How.OPEN, How.UNMET) and not blocked(latch):
            return later
    return None


def condition_read(draft: Draft, number: int, sub: int, value: Decimal, at: int) -> None:
    """A condition of the wait was read: met it counts, unmet it starts the wait again."""
    visit = draft.visit(number)
    wait = visit.wait
    if wait is None:
        return
    text = str(value)
    rule = _rule(draft, visit, wait.step)
    step: Step = draft.flow(visit).steps[wait.step]
    _, limit = rule.conditions[sub]
    if not limit.meets(value):
        broken = wait.began != NEVER
        draft.tell("unmet", step.id, text)
        if broken:
            draft.tell("wait broken", step.id)
        restart(draft, number, last=text)
        return
    draft.tell("met", step.id, text)
    pending = tuple(p for p in wait.pending if p != sub)
    _put(draft, number, wait._replace(pending=pending, last=""))
    if not pending and wait.began == NEVER:
        _begin(draft, number)
    elif not pending and not wait.ending:
        draft.tell("wait kept", step.id)


def restart(draft: Draft, number: int, last: str = "") -> None:
    """Starts a conditioned wait from nothing: every condition is read again."""
    visit = draft.visit(number)
    if visit.wait is None:
        return
    rule = _rule(draft, visit, visit.wait.step)
    pending = tuple(range(len(rule.conditions)))
    # What was broken counts from now; what had not begun may still count from its moment.
    draft.forget(number, visit.wait.step)
    _put(draft, number, Wait(visit.wait.step, pending=pending, last=last))


def conditioned(draft: Draft, visit: Visit) -> bool:
    """Whether the wait of a visit has conditions."""
    return visit.wait is not None and bool(_rule(draft, visit, visit.wait.step).conditions)


def interrupted(draft: Draft) -> None:
    """A standby or a drill ends every wait with conditions; others run on by the clock."""
    for visit in list(draft.live()):
        if conditioned(draft, visit):
            restart(draft, visit.number)


def due(draft: Draft) -> bool:
    """Asks the conditions whose interval has come; the end is found by settling."""
    changed = False
    for visit in list(draft.live()):
        wait = visit.wait
        if wait is None or wait.began == NEVER:
            continue
        if wait.next_ask != NEVER and wait.next_ask <= draft.at < wait.until:
            rule = _rule(draft, visit, wait.step)
            every = ask_every(draft, rule) or 0
            upcoming = draft.at + every
            draft.forget(visit.number, wait.step)
            _put(draft, visit.number, wait._replace(
                pending=tuple(range(len(rule.conditions))),
                next_ask=upcoming if every and upcoming < wait.until else NEVER,
            ))  # fmt: skip
            changed = True
        if wait.until <= draft.at and not wait.ending:
            rule = _rule(draft, visit, wait.step)
            if rule.conditions:
                every_one = tuple(range(len(rule.conditions)))
                # What was read back before the end is no reading of the end.
                draft.forget(visit.number, wait.step)
                _put(draft, visit.number, wait._replace(
                    pending=every_one, ending=True, next_ask=NEVER, last=""
                ))  # fmt: skip
            else:
                _finish(draft, visit.number, wait.step)
            changed = True
    return changed


def deadlines(visit: Visit) -> list[int]:
    """When this visit's wait wants to be woken."""
    wait = visit.wait
    if wait is None or wait.began == NEVER or wait.ending:
        return []
    return [t for t in (wait.until, wait.next_ask) if t != NEVER]
