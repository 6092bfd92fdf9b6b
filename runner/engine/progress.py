"""Settling: from whatever a handler changed to the one question that now stands.

Rules: *settle* runs after every taken event, to a fixed point: what depends on changed values is
decided again, lists that need no answer close, what was put off comes back at its trigger, and the
question is found anew; `ask` is raised when the question changed or an answer was used up, so
that no answer can serve twice. The order of looking for the question is written in `find`.
"""

from __future__ import annotations

from runner.engine.deciding import decide_visit, dependents
from runner.engine.draft import Draft
from runner.engine.drills import open_drill
from runner.engine.effects import Prompt
from runner.engine.flights import close, take_up_again
from runner.engine.state import How, Question, Trend, Visit, may_pass
from runner.engine.table import Kind, Step
from runner.engine.waits import during, wait_question

ROUNDS = 200


def settle(draft: Draft) -> None:
    """Brings the draft to a fixed point and asks the question that follows."""
    before = draft.question
    for _ in range(ROUNDS):
        while draft.dirty:
            names, draft.dirty = draft.dirty, set()
            draft.deciding = names
            dependents(draft, names)
            take_up_again(draft, names)
            draft.deciding = set()
        if draft.branch:
            drill, draft.branch = draft.branch, ""
            open_drill(draft, drill)
            continue
        if _close_by_itself(draft):
            continue
        question = find(draft)
        if not draft.dirty:
            break
    else:
        raise RuntimeError("the lists do not settle; the documents depend on themselves")
    if question != before:
        draft.seen = ()
    draft.question = question
    if question != before or draft.consumed:
        draft.ask += 1
    _watch(draft)


def _close_by_itself(draft: Draft) -> bool:
    """Closes a list whose closing call is itself not required: nothing of it is asked."""
    for visit in draft.visits:
        steps = draft.flow(visit).steps
        if steps[-1].kind is Kind.CLOSING and visit.latches[-1].how is How.NOT_REQUIRED:
            if all(may_pass(s, v) for s, v in zip(steps, visit.latches, strict=True)):
                close(draft, visit)
                return True
    return False


def find(draft: Draft) -> Question:
    """The question that stands: first page, standby, choice, drill, read-back, then the list."""
    if draft.unread:
        return Question(Prompt.FIRST_PAGE)
    if draft.standby is not None:
        return Question(Prompt.STANDBY)
    visit = draft.active()
    if visit is None:
        return Question(Prompt.CHOOSING if draft.choosing else Prompt.CLOSED)
    if draft.drill is not None and draft.memory:
        return Question(Prompt.MEMORY_ITEMS, draft.drill.number)
    place = _place(draft, visit)
    if draft.choosing is not None:
        return place._replace(prompt=Prompt.CHOOSING)
    if draft.pending is not None:
        return place._replace(prompt=Prompt.READ_BACK)
    return place


def _place(draft: Draft, visit: Visit) -> Question:
    index = first_open(draft, visit)
    step = draft.flow(visit).steps[index]
    visit = draft.visit(visit.number)
    latch = visit.latches[index]
    if step.kind is Kind.WAIT and latch.how is How.OPEN and not latch.why:
        asked = wait_question(draft, visit.number, index)
        if asked is None:
            return _place(draft, draft.visit(visit.number))
        if asked.prompt is Prompt.WAITING:
            other = during(draft, visit.number, index)
            if other is not None:
                return _ask(draft, draft.visit(visit.number), other)
        return asked
    return _ask(draft, visit, index)


def _ask(draft: Draft, visit: Visit, index: int) -> Question:
    flow = draft.flow(visit)
    step, latch = flow.steps[index], visit.latches[index]
    if flow.any_order and step.kind is Kind.TICK:
        return Question(Prompt.STATION, visit.number, index)
    return Question(_prompt(step, latch.how), visit.number, index)


def _prompt(step: Step, how: How) -> Prompt:
    if step.kind is Kind.CLOSING:
        return Prompt.CLOSING
    if how is How.UNMET:
        return Prompt.UNMET
    if step.kind is Kind.CAUTION:
        return Prompt.CAUTION
    return Prompt.ASKING


def first_open(draft: Draft, visit: Visit) -> int:
    """The first place that may not pass; what was put off is brought back at its trigger first."""
    steps, latches = draft.flow(visit).steps, visit.latches
    put_off = How.PUT_OFF
    last = len(steps) - 1
    found = last
    for index, latch in enumerate(latches):
        if latch.how is not put_off and not may_pass(steps[index], latch):
            found = index
            break
    if draft.flow(visit).any_order and found < last:
        # On a station a fault waits at the end, behind the items nobody has looked at yet.
        for index, latch in enumerate(latches[:last]):
            if latch.how is How.OPEN:
                return index
    for index, latch in enumerate(latches):
        if latch.how is not put_off:
            continue
        trigger = steps[index].back_before
        due = found == last or (trigger and found >= _position(steps, trigger))
        if due:
            draft.latch(visit.number, index, latch._replace(how=_was(latch.why), why="", back=True))
            draft.tell("back", steps[index].id)
            decide_visit(draft, visit.number, (index,))
            return first_open(draft, draft.visit(visit.number))
    return found


def _was(why: str) -> How:
    return How.UNMET if why == "unmet" else How.OPEN


def _position(steps: tuple[Step, ...], step_id: str) -> int:
    for index, step in enumerate(steps):
        if step.id == step_id:
            return index
    return len(steps)


def _watch(draft: Draft) -> None:
    """Starts counting the patience of a limit that waits, and forgets it when the place is left."""
    question = draft.question
    if question.visit and question.step >= 0 and question.sub < 0:
        visit = draft.visit(question.visit)
        step = draft.flow(visit).steps[question.step]
        if step.kind is Kind.READING and step.limit is not None:
            trend = draft.trend
            if trend is None or (trend.visit, trend.step) != (question.visit, question.step):
                draft.trend = Trend(question.visit, question.step, draft.at)
            return
    # A drill or a standby interrupts the place and does not end it.
    trend = draft.trend
    if trend is not None and question.prompt not in (Prompt.STANDBY, Prompt.MEMORY_ITEMS):
        if draft.drill is None or trend.visit == draft.drill.number:
            draft.trend = None
