"""Corrections: a new entry for an earlier answer, and everything decided from it decided again.

Rules: only what has been answered can be corrected, so a correction is never an early answer; a
corrected value is judged exactly as an answer is; in a list not yet closed what comes out
otherwise is open again; behind a closed list the consequence is flagged, the list loses its
validity for the next flight, and the crew is not dragged back.
"""

from __future__ import annotations

from decimal import Decimal

from runner.engine.answers import match, normal, unmet
from runner.engine.draft import Draft
from runner.engine.drills import open_drill
from runner.engine.errors import Refused
from runner.engine.events import Correct
from runner.engine.readings import drop, in_time, parse, threshold
from runner.engine.state import How, Latch, Visit, may_pass
from runner.engine.table import Kind, Step, Unmet
from runner.engine.words import nearest

ANSWERED = (How.ANSWERED, How.UNMET, How.ACCEPTED)
CORRECTABLE = (Kind.READING, Kind.CHOICE, Kind.CHALLENGE, Kind.TICK)


def correct(draft: Draft) -> None:
    """Corrects the last answer of the current list, or the step named."""
    event = draft.event
    if not isinstance(event, Correct):
        raise TypeError(event)
    visit, index = _last(draft) if not event.step else _named(draft, event.step)
    step = draft.flow(visit).steps[index]
    old = visit.latches[index]
    live = visit.closed_at < 0 and not visit.left
    if step.kind is Kind.READING:
        _reading(draft, visit, index, step, old, event.value, live=live)
    elif step.kind is Kind.CHOICE:
        _choice(draft, visit, index, step, old, event.value, live=live)
    else:
        _state(draft, visit, index, step, event.value, live=live)
    draft.tell("corrected", step.id, old.value, event.value)


def _last(draft: Draft) -> tuple[Visit, int]:
    visit = draft.active()
    best: tuple[int, int] | None = None
    if visit is not None:
        steps = draft.flow(visit).steps
        for index, latch in enumerate(visit.latches):
            if latch.how in ANSWERED and steps[index].kind in CORRECTABLE:
                best = max(best or (0, 0), (latch.entry, index))
    if visit is None or best is None:
        raise Refused("nothing to correct")
    return visit, best[1]


def _named(draft: Draft, step_id: str) -> tuple[Visit, int]:
    step = draft.table.steps.get(step_id)
    if step is None or step.kind not in CORRECTABLE:
        known = [s for s, st in draft.table.steps.items() if st.kind in CORRECTABLE]
        raise Refused("unknown step", nearest(step_id, known))
    for visit in [*draft.live(), *reversed(draft.archive)]:
        if visit.flow != step_id.split(".", 1)[0]:
            continue
        index = draft.flow(visit).index(step_id)
        if visit.latches[index].how in ANSWERED:
            return visit, index
    raise Refused("nothing to correct")


def _reading(
    draft: Draft, visit: Visit, index: int, step: Step, old: Latch, text: str, *, live: bool
) -> None:
    limb = threshold(text)
    if limb is not None:
        raise Refused("not a value")
    why, number = drop(draft, step, text)
    value = parse(draft.table.readings[step.reading], number)
    met = step.limit is None or step.limit.meets(value)
    if not live:
        behind(draft, visit, step, str(value), met=met, value=value)
        return
    if draft.question.visit == visit.number and draft.question.step == index:
        draft.pending = None
        draft.choosing = None
    # A value that was in time stays in time: only the number was wrong.
    timely = old.how is How.ANSWERED or in_time(draft, step)
    if old.how is How.ACCEPTED and old.value == str(value):
        return
    how = How.ANSWERED if met and timely else How.UNMET
    ground = "late" if met and not timely else why
    draft.latch(visit.number, index, Latch(how, str(value), old.at, ground, old.back))
    if how is How.UNMET and may_pass(step, old):
        draft.tell("reopened", step.id)
    if step.gives:
        draft.give(step.gives, value)
    if how is How.UNMET and met is False and step.unmet is Unmet.BRANCH:
        if draft.drill is None or draft.drill.flow != step.branch:
            open_drill(draft, step.branch)
    elif how is How.ANSWERED and step.within:
        draft.stop_timer(step.within)


def _choice(
    draft: Draft, visit: Visit, index: int, step: Step, old: Latch, text: str, *, live: bool
) -> None:
    said = normal(text)
    for choice in step.choices:
        if said in map(normal, (choice.text, *choice.variants)):
            break
    else:
        raise Refused("not an answer", ", ".join(c.text for c in step.choices))
    if choice.back_to or choice.drill:
        raise Refused("not an answer", "an option that leads nowhere else")
    was = next((c for c in step.choices if c.text == old.value), None)
    if not live:
        behind(draft, visit, step, choice.text, met=True, value=choice.text)
        return
    for name, by in was.adds if was is not None else ():
        draft.count(name, -by)
    for name, by in choice.adds:
        draft.count(name, by)
    draft.latch(visit.number, index, old._replace(how=How.ANSWERED, value=choice.text))
    if step.gives:
        draft.give(step.gives, choice.text)


def _state(draft: Draft, visit: Visit, index: int, step: Step, text: str, *, live: bool) -> None:
    said = normal(text)
    if said == "NOT SO":
        if live:
            unmet(draft, visit.number, index, step)
            draft.tell("reopened", step.id)
        else:
            behind(draft, visit, step, "NOT SO", met=False, value=None)
        return
    match(step, said)
    old = visit.latches[index]
    if live and old.how is not How.ACCEPTED:
        if old.how is How.UNMET:
            raise Refused("not an answer", "the answer itself, when the step is asked")
        draft.latch(visit.number, index, old._replace(value=step.response))


def behind(
    draft: Draft, visit: Visit, step: Step, text: str, *, met: bool, value: Decimal | str | None
) -> None:
    """Flags what a correction means behind a closed list; the next flight sees the list open."""
    where = f"{draft.flow(visit).title}: {step.challenge}"
    if not met:
        limit = step.limit.text() if step.limit is not None else step.response
        draft.flag(f"{where} is {text}, wanted {limit}", step.id)
    if value is not None and step.gives and step.gives in draft.values:
        draft.give(step.gives, value)
        _consequences(draft, step.gives)
    if visit.flow in draft.valid:
        draft.valid = draft.valid.without(visit.flow)
    draft.tell("flagged", where, step.id)


def _consequences(draft: Draft, name: str) -> None:
    """Closed lists of this flight whose steps would now come out otherwise."""
    ids = draft.table.dependents.get(name, frozenset())
    for visit in draft.archive:
        if visit.flight != draft.flight or visit.number < draft.floor or visit.left:
            continue
        flow = draft.flow(visit)
        for step, latch in zip(flow.steps, visit.latches, strict=True):
            if step.id not in ids:
                continue
            text = _otherwise(draft, step, latch)
            if text:
                draft.flag(f"{flow.title}: {step.challenge}, {text}", step.id)
                if visit.flow in draft.valid:
                    draft.valid = draft.valid.without(visit.flow)


def _otherwise(draft: Draft, step: Step, latch: Latch) -> str:
    if step.when is not None and latch.how is How.NOT_REQUIRED:
        return "now required" if step.when.decide(draft.values) is True else ""
    if step.kind is Kind.COMPUTED and step.formula is not None:
        value = step.formula.value(draft.values)
        if value is None:
            return "not known any more"
        draft.give(step.gives, value)
        if str(value) != latch.value and step.limit is not None and not step.limit.meets(value):
            return f"is {value}, wanted {step.limit.text()}"
    return ""
