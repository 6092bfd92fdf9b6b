"""Settling: from whatever a handler changed to the one question that now stands.

Rules: *settle* runs after every taken event, to a fixed point: what depends on changed values is
decided again, lists that need no answer close, what was put off comes back at its trigger, and the
question is found anew; `ask` is raised when the question or what it offers changed or an answer
was used up, so that no answer can serve twice; a value that was read back and a choice that was
offered fall away when another place is asked. The order of looking for the question is in `find`.
"""

from __future__ import annotations

from runner.engine.asking import PLACED, Question, Trend
from runner.engine.deciding import decide_visit, denied_behind, dependents
from runner.engine.draft import Draft
from runner.engine.drills import keep_ends, open_drill
from runner.engine.effects import Prompt
from runner.engine.events import Correct
from runner.engine.flights import close, take_up_again
from runner.engine.interruptions import ask_fact, fact_heard
from runner.engine.state import How, Latch, Visit, blocked, may_pass
from runner.engine.table import Kind, Step
from runner.engine.waits import during, wait_question

ROUNDS = 200
# A member through its class costs many times a name of its own (see `state`).
_NOT_REQUIRED, _OPEN, _PUT_OFF, _UNMET = How.NOT_REQUIRED, How.OPEN, How.PUT_OFF, How.UNMET
_CLOSING, _READING, _TICK, _WAIT = Kind.CLOSING, Kind.READING, Kind.TICK, Kind.WAIT
_MEMORY_ITEMS, _STANDBY = Prompt.MEMORY_ITEMS, Prompt.STANDBY
_PROMPT_UNMET = Prompt.UNMET
# A named tuple's own way in costs a call of its own.
_tuple = tuple.__new__
_BY_KIND = dict.fromkeys(Kind, Prompt.ASKING) | {
    Kind.CLOSING: Prompt.CLOSING, Kind.CAUTION: Prompt.CAUTION,
}  # fmt: skip


def settle(draft: Draft) -> None:
    """Brings the draft to a fixed point and asks the question that follows."""
    for _ in range(ROUNDS):
        while draft.dirty:
            names, draft.dirty = draft.dirty, set()
            draft.deciding = names
            dependents(draft, names)
            take_up_again(draft, names)
            denied_behind(draft, names)
            draft.deciding = set()
        if draft.branch:
            drill, draft.branch = draft.branch, ""
            if not (draft.airborne and isinstance(draft.event, Correct)):
                open_drill(draft, drill)
                continue
        closing = _may_close(draft)
        if closing is not None:
            close(draft, closing)
            continue
        lists = draft.visits
        if draft.airborne:
            _not_dragged_back(draft)
        if draft.owed:
            ask_fact(draft)
        if draft.choosing is not None:
            keep_ends(draft)
        question = find(draft)
        # The very lists that could not close before cannot close now.
        if not draft.dirty and (draft.visits is lists or not _may_close(draft)):
            break
    else:
        raise RuntimeError("the lists do not settle; the documents depend on themselves")
    before = draft.before
    if draft.looks and question.place != before.question.place:
        draft.looks = tuple(look for look in draft.looks if look.spot != before.question.place)
    draft.question = question
    if question != before.question or draft.choosing != before.choosing or draft.consumed:
        draft.ask += 1
    _watch(draft)


def _may_close(draft: Draft) -> Visit | None:
    """A list whose closing call is itself not required, and which may close."""
    for visit in draft.visits:
        if visit.latches[-1].how is _NOT_REQUIRED:
            steps = draft.flow(visit).steps
            if steps[-1].kind is Kind.CLOSING and all(
                may_pass(s, v) for s, v in zip(steps, visit.latches, strict=True)
            ):
                return visit
    return None


def _not_dragged_back(draft: Draft) -> None:
    """In flight, what a correction opens behind the present place waits for the list's end.

    A limit does not wait: nothing behind it is passed before it is met, in flight either.
    """
    if not draft.airborne or not isinstance(draft.event, Correct):
        return
    question = draft.before.question
    visit = draft.before.visit(question.visit)
    if visit is None:
        return
    if all(visit.number != live.number for live in draft.live()):
        return
    flow = draft.flow(visit)
    for index, was in enumerate(visit.latches[: max(question.step, 0)]):
        step, now = flow.steps[index], draft.visit(visit.number).latches[index]
        opened = now.how in (How.OPEN, How.UNMET) and not blocked(now)
        if opened and not now.back and may_pass(step, was):
            if step.limit is None:
                aside = now._replace(how=How.PUT_OFF, why=why_aside(now))
                draft.latch(visit.number, index, aside)
            draft.flag(f"{flow.title}: {step.challenge}, open again", step.id)


def find(draft: Draft) -> Question:
    """The question that stands: first page, standby, choice, drill, read-back, then the list."""
    if draft.unread and draft.drill is None:
        return Question(Prompt.FIRST_PAGE)
    if draft.standby is not None:
        return Question(Prompt.STANDBY)
    visit = draft.active()
    if visit is None:
        if fact_heard(draft):
            return Question(Prompt.READ_BACK)
        return Question(Prompt.CHOOSING if draft.choosing else Prompt.CLOSED)
    if draft.drill is not None and draft.memory:
        return Question(Prompt.MEMORY_ITEMS, draft.drill.number)
    place = _place(draft, visit)
    if draft.choosing is None and draft.pending is None:
        return place
    _keep_to(draft, place)
    if draft.choosing is not None:
        heard = fact_heard(draft)
        return place._replace(prompt=Prompt.READ_BACK if heard else Prompt.CHOOSING)
    if draft.pending is not None:
        return place._replace(prompt=Prompt.READ_BACK)
    return place


def _keep_to(draft: Draft, question: Question) -> None:
    """Drops what was read back or offered at another place."""
    if draft.pending is not None and draft.pending.spot != question.place:
        draft.pending = None
        draft.tell("dropped")
    choosing = draft.choosing
    if choosing is not None and choosing.kind in PLACED and choosing.spot != question.place:
        draft.choosing = None


def _place(draft: Draft, visit: Visit) -> Question:
    index = first_open(draft, visit)
    step = draft.flow(visit).steps[index]
    if step.kind is not _WAIT:
        return _ask(draft, draft.visit(visit.number), index)
    visit = draft.visit(visit.number)
    latch = visit.latches[index]
    if latch.how is not _OPEN or blocked(latch):
        return _ask(draft, visit, index)
    asked = wait_question(draft, visit.number, index)
    if asked is None:
        return _place(draft, draft.visit(visit.number))
    if asked.prompt is Prompt.WAITING:
        other = during(draft, visit.number, index)
        if other is not None:
            return _ask(draft, draft.visit(visit.number), other)
    return asked


def _ask(draft: Draft, visit: Visit, index: int) -> Question:
    flow = draft.table.flows[visit.flow]
    kind = flow.steps[index].kind
    if flow.any_order and kind is _TICK:
        return Question(Prompt.STATION, visit.number, index)
    prompt = _BY_KIND[kind]
    if visit.latches[index].how is _UNMET and kind is not _CLOSING:
        prompt = _PROMPT_UNMET
    return _tuple(Question, (prompt, visit.number, index, -1))


def first_open(draft: Draft, visit: Visit) -> int:
    """The first place that may not pass; what was put off is brought back at its trigger first."""
    flow = draft.table.flows[visit.flow]
    steps, latches = flow.steps, visit.latches
    last = len(steps) - 1
    # Read on from what was seen to pass before; at every answer this is the next step or two.
    found = visit.seen
    while found <= last and may_pass(steps[found], latches[found]):
        found += 1
    visit.seen = found
    if visit.aside:
        visit.aside = _PUT_OFF in [latch.how for latch in latches]
    if visit.aside:
        while found <= last and (
            latches[found].how is _PUT_OFF or may_pass(steps[found], latches[found])
        ):
            found += 1
    if found > last:
        found = last
    if visit.aside and _back(draft, visit, found):
        return first_open(draft, draft.visit(visit.number))
    if flow.any_order and found < last:
        # On a station a fault waits at the end, behind the items nobody has looked at yet.
        for index, latch in enumerate(latches[:last]):
            if latch.how is _OPEN and not blocked(latch):
                return index
    return found


def _back(draft: Draft, visit: Visit, found: int) -> bool:
    """Brings back one step put off: its trigger is reached, or nothing else is left to ask."""
    steps, latches = draft.flow(visit).steps, visit.latches
    # A step that waits for a value may wait for one that was put off.
    stuck = found == len(steps) - 1 or blocked(latches[found])
    for index, latch in enumerate(latches):
        if latch.how is not _PUT_OFF:
            continue
        trigger = steps[index].back_before
        if stuck or (trigger and found >= _position(steps, trigger)):
            why = "" if latch.why == "unmet" else latch.why
            come = latch._replace(how=_was(latch.why), why=why, back=True)
            draft.latch(visit.number, index, come)
            draft.tell("back", steps[index].id)
            decide_visit(draft, visit.number, (index,))
            return True
    return False


def why_aside(latch: Latch) -> str:
    """What a step that is set aside keeps of being unmet: a *not so* comes back as one."""
    if latch.how is not How.UNMET:
        return ""
    return latch.why if latch.why == "not so" else "unmet"


def _was(why: str) -> How:
    return How.UNMET if why in ("unmet", "not so") else How.OPEN


def _position(steps: tuple[Step, ...], step_id: str) -> int:
    for index, step in enumerate(steps):
        if step.id == step_id:
            return index
    return len(steps)


def _watch(draft: Draft) -> None:
    """Starts counting the patience of a limit that waits, and forgets it when the place is left."""
    prompt, number, index, sub = draft.question
    trend = draft.trend
    if number and index >= 0 and sub < 0:
        step = draft.table.flows[draft.visit(number).flow].steps[index]
        if step.kind is _READING and step.limit is not None:
            if trend is None or (trend.visit, trend.step) != (number, index):
                draft.trend = Trend(number, index, draft.at)
            return
    # A drill or a standby interrupts the place and does not end it.
    if trend is not None and prompt is not _STANDBY and prompt is not _MEMORY_ITEMS:
        if draft.drill is None or trend.visit == draft.drill.number:
            draft.trend = None
