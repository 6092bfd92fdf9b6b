"""Answers to a challenge, a choice, a caution, a tick: closed sets of words, and who gave them.

Rules: an answer is taken only if it is one of the step's own texts and its role may give it; what
both look at wants both roles, each once; *not so* makes a step unmet and never passes it; a
choice does what its author wrote for the option, nothing else.
"""

from __future__ import annotations

from runner.engine.deciding import reopen
from runner.engine.draft import Draft
from runner.engine.drills import open_drill
from runner.engine.errors import Refused
from runner.engine.events import Answer, Asked, NotSo
from runner.engine.passing import passed, start_timer
from runner.engine.readings import answer_reading
from runner.engine.state import How, Latch, Visit
from runner.engine.table import Choice, Kind, Step, Who


def normal(text: str) -> str:
    """Capitals, single spaces."""
    return " ".join(text.upper().split())


def responders(draft: Draft, step: Step) -> tuple[str, ...]:
    """The roles that may answer a step; two for what both look at."""
    if step.who is Who.BOTH:
        return ("commander", "copilot")
    if step.who is Who.HANDLING:
        return (draft.handling,)
    if step.who is Who.MONITORING:
        return (draft.monitoring(),)
    return (step.who.value,)


def check_role(draft: Draft, step: Step, role: str) -> None:
    """Refuses an answer of the wrong person; an unnamed speaker will do, both looks apart."""
    if draft.alone():
        return
    allowed = responders(draft, step)
    if step.who is Who.BOTH and not role:
        raise Refused("say who")
    if role and role not in allowed:
        raise Refused("wrong responder", " and the ".join(allowed))


def both_looked(draft: Draft, step: Step, role: str) -> bool:
    """Notes one look of two; True once the step has all it wants."""
    if step.who is not Who.BOTH or draft.alone():
        return True
    if role in draft.seen:
        raise Refused("already looked", role)
    if len(draft.seen) == 0:
        draft.seen = (role,)
        draft.tell("one of two", step.id, role)
        return False
    return True


def answer(draft: Draft) -> None:
    """Takes an answer to the step in question: a text, a number, a threshold."""
    event = draft.event
    if not isinstance(event, Answer):
        raise TypeError(event)
    if not event.value.strip():
        raise Refused("empty")
    visit, index, step, latch = draft.here()
    if latch.why and latch.how is How.OPEN:
        raise Refused("blocked", latch.why)
    if step.kind is Kind.COMPUTED:
        raise Refused("computed")
    check_role(draft, step, event.role)
    if step.kind in (Kind.READING, Kind.WAIT):
        answer_reading(draft, visit, index, step, event)
        return
    said = normal(event.value)
    if said == "ROGER" and step.kind is not Kind.CAUTION:
        raise Refused("roger")
    if step.kind is Kind.CHOICE:
        _choose(draft, visit, index, step, _choice(step, said))
        return
    match(step, said)
    if both_looked(draft, step, event.role):
        pass_step(draft, visit.number, index, step, step.response or said)


def match(step: Step, said: str) -> None:
    """Refuses what is not one of the texts that answer this step."""
    if step.kind is Kind.CAUTION:
        if said not in ("ROGER", *map(normal, step.key_words)):
            raise Refused("caution", ", ".join(step.key_words) or "roger")
    elif said not in map(normal, (step.response, *step.variants)):
        raise Refused("not an answer", ", ".join((step.response, *step.variants)))


def _choice(step: Step, said: str) -> Choice:
    for choice in step.choices:
        if said in map(normal, (choice.text, *choice.variants)):
            return choice
    raise Refused("not an answer", ", ".join(c.text for c in step.choices))


def pass_step(draft: Draft, number: int, index: int, step: Step, value: str) -> None:
    """Records the answer that meets a step, and what its author wrote beside it."""
    back = draft.visit(number).latches[index].back
    draft.latch(number, index, Latch(How.ANSWERED, value, draft.at, "", back))
    draft.tell("met", step.id, value)
    passed(draft, step)


def _choose(draft: Draft, visit: Visit, index: int, step: Step, choice: Choice) -> None:
    pass_step(draft, visit.number, index, step, choice.text)
    if step.gives:
        draft.give(step.gives, choice.text)
    for name, by in choice.adds:
        draft.count(name, by)
    if choice.back_to:
        first = draft.flow(visit).index(choice.back_to)
        for position in range(first, index + 1):
            reopen(draft, visit.number, position)
    if choice.drill:
        open_drill(draft, choice.drill)


def not_so(draft: Draft) -> None:
    """The item is not as it should be: the step is unmet; on a station it is a fault."""
    event = draft.event
    if not isinstance(event, NotSo):
        raise TypeError(event)
    visit, index, step, latch = draft.here()
    if step.kind not in (Kind.CHALLENGE, Kind.TICK, Kind.BY_TIME) or latch.why == "not so":
        raise Refused("not so here")
    if latch.why and latch.how is How.OPEN:
        raise Refused("blocked", latch.why)
    check_role(draft, step, event.role)
    unmet(draft, visit.number, index, step)


def unmet(draft: Draft, number: int, index: int, step: Step) -> None:
    """Records that an item is not as it should be."""
    back = draft.visit(number).latches[index].back
    draft.seen = ()
    draft.latch(number, index, Latch(How.UNMET, "", draft.at, "not so", back))
    draft.tell("unmet", step.id, "not so")
    if step.kind is Kind.TICK:
        draft.defect(f"{step.challenge}: not {step.response}", step.id)


def tick(draft: Draft) -> None:
    """A station: the item named, in any order, or the one that stands first."""
    event = draft.event
    if isinstance(event, Answer) and event.item:
        number, index, step = named_item(draft, event.item)
        if not event.value.strip():
            raise Refused("empty")
        check_role(draft, step, event.role)
        match(step, normal(event.value))
        if both_looked(draft, step, event.role):
            pass_step(draft, number, index, step, step.response)
    else:
        answer(draft)


def fault(draft: Draft) -> None:
    """A station: the item named is not as it should be."""
    event = draft.event
    if isinstance(event, NotSo) and event.item:
        number, index, step = named_item(draft, event.item)
        check_role(draft, step, event.role)
        unmet(draft, number, index, step)
    else:
        not_so(draft)


def named_item(draft: Draft, item: str) -> tuple[int, int, Step]:
    """The open tick of this id or challenge in any station of the group."""
    wanted = normal(item)
    names = []
    for visit in draft.visits:
        flow = draft.flow(visit)
        for index, step in enumerate(flow.steps):
            if step.kind is not Kind.TICK:
                continue
            latch = visit.latches[index]
            if latch.how in (How.OPEN, How.UNMET, How.PUT_OFF) and not (
                latch.how is How.OPEN and latch.why
            ):
                names.append(step.challenge)
                if wanted in (normal(step.challenge), step.id.upper()):
                    return visit.number, index, step
    raise Refused("not an answer", ", ".join(names[:9]) or "closed")


def elsewhere(draft: Draft) -> None:
    """In another list of the group a named person may tick the stations all the same."""
    event = draft.event
    if isinstance(event, Answer) and event.item:
        tick(draft)
    else:
        answer(draft)


def faulty_elsewhere(draft: Draft) -> None:
    """*Not so* of the step in question, or of a station's item that is named."""
    event = draft.event
    if isinstance(event, NotSo) and event.item:
        fault(draft)
    else:
        not_so(draft)


def start_by_key(draft: Draft, name: str) -> None:
    """The key of a by-time: answers its step where that is asked, else only starts the clock."""
    if name not in draft.table.timers:
        from runner.engine.words import nearest

        raise Refused("unknown timer", nearest(name, draft.table.timers))
    question = draft.question
    if question.visit and question.step >= 0:
        visit, index, step, latch = draft.here()
        if step.timer == name and latch.how in (How.OPEN, How.UNMET) and not latch.why:
            pass_step(draft, visit.number, index, step, step.response)
            draft.consumed = True
            return
    for visit in draft.live():
        for step, latch in zip(draft.flow(visit).steps, visit.latches, strict=True):
            if step.timer == name and latch.how is How.OPEN and not latch.why:
                if name in draft.timers:
                    raise Refused("timer not now")
                start_timer(draft, name)
                return
    raise Refused("timer not now")


__all__ = [
    "Asked", "answer", "elsewhere", "fault", "faulty_elsewhere", "normal", "not_so", "responders",
    "start_by_key", "tick",
]  # fmt: skip
