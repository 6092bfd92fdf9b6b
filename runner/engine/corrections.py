"""Corrections: a new entry for an earlier answer, and everything decided from it decided again.

Rules: only what has been answered can be corrected, so a correction is never an early answer; a
corrected value is judged exactly as an answer is, and what both look at is asked of both again; in
a list not yet closed what comes out otherwise is open again; behind a closed list the consequence
is flagged, the list loses its validity for the next flight, and the crew is not dragged back. In
flight what comes out open waits for the end of its list. A running drill is never replaced. The
correction of a *not so* in a list not yet closed takes back the defect that it opened, and says so.
"""

from __future__ import annotations

from decimal import Decimal

from runner.engine.answers import (
    allowed,
    answer,
    choice_of,
    computed_from,
    fault_of,
    normal,
    possible,
    unmet,
)
from runner.engine.asking import PLACED
from runner.engine.days import begins
from runner.engine.deciding import reopen
from runner.engine.draft import Draft
from runner.engine.drills import open_drill
from runner.engine.errors import Refused
from runner.engine.events import Answer, Correct
from runner.engine.interruptions import fact_heard
from runner.engine.newer import read_anew
from runner.engine.passing import contradicts, passed, resume_timer
from runner.engine.people import both_look, check_role
from runner.engine.readings import drop, in_time, parse, threshold
from runner.engine.state import How, Kept, Latch, Visit, may_pass
from runner.engine.table import AcceptClass, Choice, Kind, Step, Unmet
from runner.engine.words import nearest

ANSWERED = (How.ANSWERED, How.UNMET, How.ACCEPTED)
CORRECTABLE = (Kind.READING, Kind.CHOICE, Kind.CHALLENGE, Kind.TICK)


def correct(draft: Draft) -> None:
    """Corrects what was read back, else the last answer of the current list, or the step named."""
    event = draft.event
    if not isinstance(event, Correct):
        raise TypeError(event)
    if not event.step and fact_heard(draft):
        raise Refused("affirm or negative", fact_heard(draft))
    if not event.step and draft.pending is not None:
        _utterance(draft, event)
        return
    visit, index = _last(draft) if not event.step else _named(draft, event.step)
    step = draft.flow(visit).steps[index]
    old = visit.latches[index]
    if not (step.who.value == "both" and not event.role):
        check_role(draft, step, event.role)
    if visit.closed_at >= 0 or visit.left:
        _behind(draft, visit, index, step, event.value)
    else:
        spot = (visit.number, index)
        if draft.question.place[:2] == spot:
            draft.pending = None
            if draft.choosing is not None and draft.choosing.kind in PLACED:
                draft.choosing = None
        if step.kind is Kind.READING:
            _reading(draft, visit, index, step, old, event.value)
        elif step.kind is Kind.CHOICE:
            _choice(draft, visit, index, step, old, event.value)
        else:
            _words(draft, visit, index, step, old, event.value)
    draft.tell("corrected", step.id, _was(old), event.value)


def _was(old: Latch) -> str:
    """What was entered before, as it is told: *not so*, *unable* and *accepted* have no value."""
    return old.value or (old.why if old.how is How.UNMET else old.how.value)


def _utterance(draft: Draft, event: Correct) -> None:
    """Inside an utterance a correction repairs that utterance: another value is read."""
    pending = draft.pending
    draft.pending = None
    source = event.source if pending is None else pending.source
    draft.event = Answer(event.at, draft.ask, event.role, source, True, event.value)
    draft.consumed = True
    answer(draft)


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
    if step is not None and step.kind is Kind.COMPUTED:
        raise Refused("computed", computed_from(draft.table, step))
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


def _number(draft: Draft, step: Step, text: str) -> tuple[str, Decimal]:
    if threshold(text) is not None:
        raise Refused("not a value")
    why, number = drop(draft, step, text)
    return why, parse(draft.table.readings[step.reading], number)


def _asked_of_both(draft: Draft, visit: Visit, index: int, step: Step) -> bool:
    """Opens what both look at: one person's correction is no second look."""
    if not both_look(draft, step):
        return False
    reopen(draft, visit.number, index)
    return True


def _reading(draft: Draft, visit: Visit, index: int, step: Step, old: Latch, text: str) -> None:
    why, value = _number(draft, step, text)
    met = step.limit is None or step.limit.meets(value)
    if old.how is How.ACCEPTED and old.value == str(value):
        return
    if met and _asked_of_both(draft, visit, index, step):
        return
    # A value that was in time stays in time: only the number was wrong.
    timely = old.how is How.ANSWERED or in_time(draft, step)
    how = How.ANSWERED if met and timely else How.UNMET
    ground = "late" if met and not timely else why
    draft.latch(visit.number, index, Latch(how, str(value), old.at, ground, old.back))
    spot = (visit.number, index)
    if step.gives and (step.gives not in draft.values or draft.gives_now(spot, step.gives)):
        draft.give_at(spot, step.gives, value)
    read_anew(draft, step.reading, value, spot, at=old.at)
    if how is How.ANSWERED:
        if old.how is not How.ANSWERED:
            draft.tell("met", step.id, str(value))
            passed(draft, step)
        return
    if may_pass(step, old):
        draft.tell("reopened", step.id)
    if old.how is How.ANSWERED and step.within:
        resume_timer(draft, step.within)
    if step.unmet is Unmet.BRANCH and draft.drill is None and not draft.airborne:
        open_drill(draft, step.branch)


def _choice(draft: Draft, visit: Visit, index: int, step: Step, old: Latch, text: str) -> None:
    choice = _plain_choice(draft, step, text)
    if _asked_of_both(draft, visit, index, step):
        return
    if contradicts(draft, choice.turns):
        # Against what the log knows only an answer is taken, which is read back.
        reopen(draft, visit.number, index)
        return
    if old.how is How.ANSWERED:
        was = next((c for c in step.choices if c.text == old.value), None)
        for name, by in was.adds if was is not None else ():
            draft.count(name, -by)
    else:
        draft.tell("met", step.id, choice.text)
        passed(draft, step)
    for name, by in choice.adds:
        draft.count(name, by)
    latch = Latch(How.ANSWERED, choice.text, old.at, "", old.back)
    draft.latch(visit.number, index, latch)
    spot = (visit.number, index)
    if step.gives not in draft.values or draft.gives_now(spot, step.gives):
        draft.give_at(spot, step.gives, choice.text)


def _plain_choice(draft: Draft, step: Step, text: str) -> Choice:
    choice = possible(draft, choice_of(step, normal(text)))
    if choice.back_to or choice.drill:
        raise Refused("not an answer", "an option that leads nowhere else")
    return choice


def _words(draft: Draft, visit: Visit, index: int, step: Step, old: Latch, text: str) -> None:
    said = normal(text)
    if said == "NOT SO":
        unmet(draft, visit.number, index, step)
        draft.tell("reopened", step.id)
        return
    allowed(step, said)
    if old.how is How.UNMET and old.why == "not so" and fault_of(step):
        # The way back from a wrong key: asked anew, for what was entered wrongly answers nothing.
        _withdraw(draft, step, old.at)
        reopen(draft, visit.number, index)
        draft.tell("reopened", step.id)
        return
    if old.how is How.UNMET:
        raise Refused("not an answer", "the answer itself, when the step is asked")


def _withdraw(draft: Draft, step: Step, at: int) -> None:
    """Takes back the defect that this very *not so* opened; one that stood before it stays open."""
    mine = Kept(fault_of(step), at, step.id, grounding=step.accept is AcceptClass.MAINTENANCE)
    if mine in draft.defects and at > min(begins(draft).values(), default=at):
        gone = mine._replace(open=False)
        draft.keep_defects(tuple(gone if d == mine else d for d in draft.defects))
        draft.tell("withdrawn", step.id, mine.text)


def _behind(draft: Draft, visit: Visit, index: int, step: Step, text: str) -> None:
    """Flags what a correction means behind a closed list; the next flight sees the list open."""
    value: Decimal | str | None = None
    met = True
    if step.kind is Kind.READING:
        _, number = _number(draft, step, text)
        value, met = number, step.limit is None or step.limit.meets(number)
        at = visit.latches[index].at
        read_anew(draft, step.reading, number, (visit.number, index), at=at)
    elif step.kind is Kind.CHOICE:
        value = _plain_choice(draft, step, text).text
    elif normal(text) == "NOT SO":
        met = False
    else:
        allowed(step, normal(text))
    where = f"{draft.flow(visit).title}: {step.challenge}"
    if not met:
        wanted = step.limit.text() if step.limit is not None else step.response
        draft.flag(f"{where} is {normal(text)}, wanted {wanted}", step.id)
    if value is not None and draft.gives_now((visit.number, index), step.gives):
        draft.give_at((visit.number, index), step.gives, value)
        _consequences(draft, {step.gives})
    draft.valid = draft.valid.without(visit.flow)
    draft.tell("flagged", where, step.id)


def _consequences(draft: Draft, names: set[str]) -> None:
    """Closed lists of this flight whose steps would now come out otherwise."""
    for visit in draft.archive:
        if visit.flight != draft.flight or visit.number < draft.floor or visit.left:
            continue
        flow = draft.flow(visit)
        for index, (step, latch) in enumerate(zip(flow.steps, visit.latches, strict=True)):
            if not any(step.id in draft.table.dependents.get(n, ()) for n in names):
                continue
            text = _otherwise(draft, (visit.number, index), step, latch, names)
            if text:
                draft.flag(f"{flow.title}: {step.challenge}, {text}", step.id)
                draft.valid = draft.valid.without(visit.flow)


def _otherwise(
    draft: Draft, spot: tuple[int, int], step: Step, latch: Latch, names: set[str]
) -> str:
    if step.when is not None and latch.how is How.NOT_REQUIRED:
        return "now required" if step.when.decide(draft.values) is True else ""
    if step.kind is Kind.COMPUTED and step.formula is not None:
        value = step.formula.value(draft.values)
        if value is None:
            draft.take_back(spot, step.gives)
            return "not known any more"
        if draft.gives_now(spot, step.gives):
            draft.give_at(spot, step.gives, value)
            names.add(step.gives)
        if str(value) != latch.value and step.limit is not None and not step.limit.meets(value):
            return f"is {value}, wanted {step.limit.text()}"
    return ""
