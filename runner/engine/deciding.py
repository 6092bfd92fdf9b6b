"""Deciding steps again: conditions, computed values, paper and marks, and only where they depend.

Rules: a step is decided when its list is entered and when a name that it reads has changed, never
otherwise (`decide_visit` with every step is the oracle of the tests); an unknown condition leaves
the step open and blocked; a step that comes out not required keeps its answer in the log only; an
acceptance stands only on the value that it accepted; what the newest giver of a name gave is not
taken away by an older one; an answer is not undone by what it clears itself; a step asked anew is
no longer done on paper; an answer that its author allows under a condition stands while that
holds, and behind a closed list the list lapses.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from functools import partial

from runner.engine.conditions import Condition
from runner.engine.draft import Draft
from runner.engine.passing import entered, entering, passed
from runner.engine.state import NEVER, OPEN, How, Latch, Visit, blocked, may_pass, ordinary
from runner.engine.table import Choice, Kind, Step, Unmet

# A member through its class costs many times a name of its own (see `state`).
_ANSWERED, _NOT_REQUIRED, _OPEN, _UNMET = How.ANSWERED, How.NOT_REQUIRED, How.OPEN, How.UNMET
_CHOICE, _COMPUTED, _REMARK = Kind.CHOICE, Kind.COMPUTED, Kind.REMARK
UNDEFINED = "no value"
"""Why a condition or formula has none though all it reads is known (a division by nothing)."""


def gives(step: Step) -> tuple[str, ...]:
    """The names that become known when this step is answered."""
    return (step.gives,) if step.gives else ()


def steps_passed(draft: Draft, visit: Visit) -> bool:
    """Whether anything of this visit has been answered, accepted, put off or found unmet."""
    return any(
        latch.how in (How.ANSWERED, How.ACCEPTED, How.UNMET, How.PUT_OFF) and step.asked
        for step, latch in zip(draft.flow(visit).steps, visit.latches, strict=True)
    )


def decide_visit(draft: Draft, number: int, only: Iterable[int] | None = None) -> None:
    """Decides the steps of a live visit, or those at the positions given."""
    flow = draft.flow(draft.visit(number))
    for index in range(len(flow.steps)) if only is None else only:
        _decide(draft, number, index, flow.steps[index])


def _decide(draft: Draft, number: int, index: int, step: Step) -> None:
    old = draft.visit(number).latches[index]
    # A list practised alone was asked for, whatever the brief would have said of it.
    condition = step.own_when if draft.only else step.when
    if condition is not None:
        truth = condition.decide(draft.values)
        if truth is False and not (step.clears and _asked_by_entered(draft, step, condition)):
            _not_required(draft, number, index, step, old)
            return
        if truth is None:
            missing = _missing(draft, condition.names)
            if old.how is not _OPEN or old.why != missing:
                _reopen(draft, number, index, step, old, why=missing)
            return
    kind = step.kind
    if old.how is _NOT_REQUIRED or (old.why and kind is not _COMPUTED and blocked(old)):
        _reopen(draft, number, index, step, old)
        old = draft.visit(number).latches[index]
    if kind is _COMPUTED:
        _compute(draft, number, index, step, old)
        return
    pending = draft.pending
    if pending is not None and step.drop_from in draft.deciding:
        if pending.spot[:2] == (number, index) and pending.value.startswith("drop "):
            draft.pending = None
    if kind is _REMARK:
        if old.how is not _ANSWERED:
            draft.latch(number, index, Latch(_ANSWERED, "", draft.at))
    elif step.drop_from and old.why.startswith("drop ") and old.how in (_ANSWERED, _UNMET):
        # What was called was the drop: with another base it is another value.
        if step.drop_from in draft.deciding:
            _reopen(draft, number, index, step, old)
            decide_visit(draft, number, (index,))
    elif kind is _CHOICE and _denied(draft, step, old):
        _reopen(draft, number, index, step, old)
    elif old.how is _OPEN and (step.mark or draft.paper):
        _from_outside(draft, number, index, step, old)


def _asked_by_entered(draft: Draft, step: Step, condition: Condition) -> bool:
    """Whether the condition holds by what this step's own answer has entered and set to zero."""
    if not entering(step):
        return False
    before = {name: draft.values[name] for name in draft.values}
    for name in step.clears:
        before[name] = before.get(entered(name), before.get(name, Decimal(0)))
    return condition.decide(before) is True


def may_choose(draft: Draft, choice: Choice) -> bool:
    """Whether what is known bears this option of a choice."""
    return choice.when is None or choice.when.decide(draft.values) is True


def _denied(draft: Draft, step: Step, latch: Latch) -> bool:
    """Whether a choice was answered by an option that what is known does not bear any more."""
    return latch.how is _ANSWERED and any(
        choice.text == latch.value and not may_choose(draft, choice) for choice in step.choices
    )


def denied_behind(draft: Draft, names: set[str]) -> None:
    """Ends the validity of each closed list in which an option was chosen that is denied now."""
    if names.isdisjoint(draft.table.allowing):
        return
    newest = {visit.flow: visit for visit in draft.archive}
    for flow_id in sorted(draft.valid.keys() & newest.keys()):
        visit = newest[flow_id]
        if any(map(partial(_denied, draft), draft.flow(visit).steps, visit.latches)):
            draft.valid = draft.valid.without(flow_id)
            draft.tell("lapsed", flow_id)


def _missing(draft: Draft, names: Iterable[str]) -> str:
    return ", ".join(sorted(n for n in names if n not in draft.values)) or UNDEFINED


def _not_required(draft: Draft, number: int, index: int, step: Step, old: Latch) -> None:
    if old.how is _NOT_REQUIRED:
        return
    visit = draft.visit(number)
    if visit.wait is not None:
        _end_wait(draft, number, index)
    whole = draft.flow(visit).when
    listed = whole is not None and not draft.only and whole.decide(draft.values) is False
    ground = whole if listed else step.own_when or step.when
    source = ground.source if ground is not None else ""
    draft.come(number, index, _NOT_REQUIRED, "", draft.at, source)
    if not listed:
        draft.tell("not required", step.id, source)
    for name in gives(step):
        draft.take_back((number, index), name)


def _end_wait(draft: Draft, number: int, index: int) -> None:
    visit = draft.visit(number)
    if visit.wait is not None and visit.wait.step == index:
        draft.put(visit._replace(wait=None))


def _reopen(draft: Draft, number: int, index: int, step: Step, old: Latch, why: str = "") -> None:
    passed = may_pass(step, old) and old.how is not How.NOT_REQUIRED
    _end_wait(draft, number, index)
    # What was read back was given to a question that rested on something else.
    draft.forget(number, index)
    draft.latch(number, index, OPEN._replace(why=why, back=old.back))
    if passed or (old.how is How.NOT_REQUIRED and old.entry != draft.entries):
        draft.tell("reopened", step.id)
    if old.how is not How.OPEN:
        for name in gives(step):
            draft.take_back((number, index), name)


def reopen(draft: Draft, number: int, index: int, *, undone: bool = False) -> None:
    """Opens a place again, with everything that its value gave.

    A by-time that it started runs on until it is answered anew, unless what it timed is `undone`;
    one that ran out stays so: only the author's way back begins it again.
    """
    visit = draft.visit(number)
    step = draft.flow(visit).steps[index]
    old = visit.latches[index]
    if old.how is How.NOT_REQUIRED:
        return
    if step.timer and undone:
        draft.timers = draft.timers.without(step.timer)
    elif step.timer in draft.timers and not draft.timers[step.timer].over:
        draft.timer(step.timer, draft.timers[step.timer]._replace(again=True))
    draft.paper = without_step(draft.paper, step.number)
    _reopen(draft, number, index, step, old)
    decide_visit(draft, number, (index,))


def without_step(ranges: tuple[tuple[int, int], ...], number: int) -> tuple[tuple[int, int], ...]:
    """The ranges of card numbers without this one."""
    kept: list[tuple[int, int]] = []
    for first, last in ranges:
        if first <= number <= last:
            parts = ((first, number - 1), (number + 1, last))
            kept += [(a, b) for a, b in parts if a <= b]
        else:
            kept.append((first, last))
    return tuple(kept)


def _compute(draft: Draft, number: int, index: int, step: Step, old: Latch) -> None:
    value = step.formula.value(draft.values) if step.formula is not None else None
    if value is None:
        missing = _missing(draft, step.formula.names if step.formula else ())
        unknown = old.how is How.ACCEPTED and not old.value
        if not unknown and (old.how is not How.OPEN or old.why != missing):
            _reopen(draft, number, index, step, old, why=missing)
        draft.take_back((number, index), step.gives)
        return
    text = str(value)
    if old.how in (How.ACCEPTED, How.ANSWERED, How.UNMET, How.PUT_OFF) and old.value == text:
        return
    met = step.limit is None or step.limit.meets(value)
    how = How.ANSWERED if met else How.UNMET
    draft.latch(number, index, Latch(how, text, draft.at, "", old.back))
    draft.tell("computed", step.id, text)
    if old.how in (How.ACCEPTED, How.ANSWERED) and not met:
        draft.tell("reopened", step.id)
    elif not met:
        draft.tell("unmet", step.id, text)
    draft.give_at((number, index), step.gives, value)
    # A drill that runs is not replaced by a value that came by itself.
    if not met and step.unmet is Unmet.BRANCH and draft.drill in (None, draft.visit(number)):
        draft.branch = step.branch


def mark_standing(draft: Draft, what: str) -> int:
    """When this mark was last made in the present flight, or never.

    A landing before the last take-off does not count.
    """
    for mark in reversed(draft.marks):
        if mark.flight != draft.flight:
            return NEVER
        if mark.what == what:
            return mark.when
        if mark.what == "take-off":
            return NEVER
    return NEVER


def _from_outside(draft: Draft, number: int, index: int, step: Step, old: Latch) -> None:
    if step.mark:
        when = mark_standing(draft, step.mark)
        if when != NEVER:
            draft.latch(
                number, index, Latch(How.ANSWERED, step.mark.upper(), when, "mark", old.back)
            )
            draft.tell("met", step.id, step.mark)
            passed(draft, step, marked=True)
            return
    paper = draft.paper
    if paper and ordinary(step) and any(first <= step.number <= last for first, last in paper):
        draft.latch(number, index, Latch(How.ON_PAPER, step.response, draft.at, "paper", old.back))


def dependents(draft: Draft, names: set[str]) -> None:
    """Decides again every live step that reads one of these names."""
    readers = draft.table.readers
    wanted = [readers[name] for name in names if name in readers]
    if not wanted:
        return
    for visit in list(draft.live()):
        found = [by_flow[visit.flow] for by_flow in wanted if visit.flow in by_flow]
        if found:
            positions = found[0] if len(found) == 1 else sorted({i for at in found for i in at})
            decide_visit(draft, visit.number, positions)
