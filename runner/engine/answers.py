"""Answers to a challenge, a choice, a caution, a tick: closed sets of words, and who gave them.

Rules: an answer is taken only if it is one of the step's own texts and its role may give it; what
both look at wants both roles, each once; *not so* makes a step unmet and never passes it; a
choice does what its author wrote for the option, nothing else; words that were not surely heard
are read back or refused, and a critical step never takes them.
"""

from __future__ import annotations

from functools import lru_cache

from runner.engine.asking import Pending, Spot
from runner.engine.deciding import may_choose, reopen
from runner.engine.defects import standing_defects, way_on
from runner.engine.draft import Draft
from runner.engine.drills import open_drill
from runner.engine.errors import Refused
from runner.engine.events import Answer, Asked, NotSo
from runner.engine.interruptions import stale_visit
from runner.engine.passing import contradicts, passed, start_timer, turn
from runner.engine.people import both_looked, check_role, responders
from runner.engine.readings import answer_reading
from runner.engine.reasons import why_not
from runner.engine.state import How, Latch, Visit, blocked
from runner.engine.table import AcceptClass, Choice, Kind, Step, Table
from runner.engine.words import nearest

# A member through its class costs many times a name of its own (see `state`).
_ANSWERED = How.ANSWERED
_CAUTION, _CHOICE, _COMPUTED = Kind.CAUTION, Kind.CHOICE, Kind.COMPUTED
MEASURED = frozenset({Kind.READING, Kind.WAIT})
READ_BACK = frozenset({Kind.CHALLENGE, Kind.CHOICE, Kind.BY_TIME})


@lru_cache(maxsize=1024)
def normal(text: str) -> str:
    """Capitals, single spaces."""
    return " ".join(text.upper().split())


def answer(draft: Draft) -> None:
    """Takes an answer to the step in question: a text, a number, a threshold."""
    event = draft.event
    if not isinstance(event, Answer):
        raise TypeError(event)
    if not event.value.strip():
        raise Refused("empty")
    visit, index, step, latch = draft.here()
    if latch.why and blocked(latch):
        raise Refused("blocked", latch.why)
    if step.kind is _COMPUTED:
        raise Refused("computed", computed_from(draft.table, step))
    check_role(draft, step, event.role)
    if step.critical:
        surely(step, event)
    kind = step.kind
    if kind in MEASURED:
        answer_reading(draft, visit, index, step, event)
        return
    said = normal(event.value)
    allowed(step, said)
    if kind is _CHOICE:
        possible(draft, choice_of(step, said))
    if kind in READ_BACK and _doubtful(draft, step, said, event):
        draft.pending = Pending(
            "|" + said, event.role, event.source, draft.question.place, draft.at
        )
        draft.tell("read back", step.id, said)
        return
    if not event.sure and kind not in READ_BACK:
        raise Refused("unsure")
    take_words(draft, visit, index, step, said, event.role)


def computed_from(table: Table, step: Step) -> str:
    """What the crew calls the values from which this one is computed, in the order of the card."""
    names = step.formula.names if step.formula is not None else frozenset()
    return ", ".join(dict.fromkeys(s.challenge for s in table.steps.values() if s.gives in names))


def surely(step: Step, event: Asked) -> None:
    """Refuses a critical step's answer that the recognisers did not agree on."""
    if step.critical and not event.sure:
        raise Refused("critical")


def allowed(step: Step, said: str) -> None:
    """Refuses what is not one of the texts that answer this step."""
    kind = step.kind
    if said == "ROGER" and kind is not _CAUTION:
        raise Refused("roger")
    if kind is _CHOICE:
        choice_of(step, said)
    elif kind is _CAUTION:
        if said not in ("ROGER", *map(normal, step.key_words)):
            raise Refused("caution", ", ".join(step.key_words) or "roger")
    # What most crews say is the response as it is printed, and that is in capitals already.
    elif said != step.response and said not in map(normal, (step.response, *step.variants)):
        raise Refused("not an answer", ", ".join((step.response, *step.variants)))


def choice_of(step: Step, said: str) -> Choice:
    """The option that this text chooses; refuses what is none."""
    for choice in step.choices:
        if said in map(normal, (choice.text, *choice.variants)):
            return choice
    raise Refused("not an answer", ", ".join(c.text for c in step.choices))


def possible(draft: Draft, choice: Choice) -> Choice:
    """The option itself; refuses one that what is known denies, and one that it does not bear."""
    if not may_choose(draft, choice) and choice.when is not None:
        why = why_not(choice.when, draft.values)
        standing = standing_defects(draft, choice.when)
        if standing:
            way = way_on(draft, standing)
            raise Refused("defect stands", choice.text, why, "; ".join(standing), way)
        raise Refused("not possible", choice.text, why)
    return choice


def _doubtful(draft: Draft, step: Step, said: str, event: Answer) -> bool:
    """Whether these words are read back: not surely heard, spoken and deciding a branch, or of
    what turns other than what the log knows."""
    if not event.sure:
        return True
    if step.kind is _CHOICE and contradicts(draft, choice_of(step, said).turns):
        return True
    if event.source != "voice" or step.kind is not _CHOICE:
        return False
    # A drill is opened at once; a wrong opening costs one key.
    return bool(draft.table.dependents.get(step.gives)) and not choice_of(step, said).drill


def take_words(draft: Draft, visit: Visit, index: int, step: Step, said: str, role: str) -> None:
    """Takes words that need no more affirming; what both look at waits for the other one."""
    latch = visit.latches[index]
    if latch.how is How.UNMET and latch.why == "not so" and step.accept is AcceptClass.MAINTENANCE:
        raise Refused("fault stands")
    choice = possible(draft, choice_of(step, said)) if step.kind is _CHOICE else None
    text = choice.text if choice is not None else step.response or said
    spot: Spot = (visit.number, index, -1)
    if not both_looked(draft, step, spot, role, "" if step.kind is _CAUTION else text):
        return
    if draft.airborne and step.critical and stale_visit(draft, visit):
        # In flight nothing nags, so what has aged is asked here, before it is rested upon.
        return
    if choice is not None and choice.drill:
        _wrong(draft, visit.number, index, step, choice)
        return
    pass_step(draft, visit.number, index, step, text)
    if choice is not None:
        _chosen(draft, visit, index, step, choice)


def pass_step(draft: Draft, number: int, index: int, step: Step, value: str) -> None:
    """Records the answer that meets a step, and what its author wrote beside it."""
    old = draft.visit(number).latches[index]
    draft.come(number, index, _ANSWERED, value, draft.at)
    draft.tell("met", step.id, value)
    if old.why == "not so":
        # One key passes it, in a list as in a drill; that it was otherwise is told and kept.
        draft.tell("so now", step.id, value)
    passed(draft, step)


def _chosen(draft: Draft, visit: Visit, index: int, step: Step, choice: Choice) -> None:
    draft.give_at((visit.number, index), step.gives, choice.text)
    for name, by in choice.adds:
        draft.count(name, by)
    for what, now in choice.turns:
        turn(draft, what, now)
    if choice.back_to:
        # What was answered behind the choice belongs to the attempt that is over, too.
        first = draft.flow(visit).index(choice.back_to)
        for position in range(first, len(draft.flow(visit).steps)):
            reopen(draft, visit.number, position, undone=True)


def _wrong(draft: Draft, number: int, index: int, step: Step, choice: Choice) -> None:
    """An option that opens a drill says that the item is not as it should be: it never passes.

    What has ended and when is noted all the same; nothing is taken to turn or to be done.
    """
    draft.come(number, index, How.UNMET, choice.text, draft.at, "drill")
    draft.tell("unmet", step.id, choice.text)
    draft.give_at((number, index), step.gives, choice.text)
    for name, by in choice.adds:
        draft.count(name, by)
    for moment in step.notes:
        draft.note(moment)
    for name in step.ends:
        draft.stop_timer(name)
    open_drill(draft, choice.drill)


def not_so(draft: Draft) -> None:
    """The item is not as it should be: the step is unmet; on a station it is a fault."""
    event = draft.event
    if not isinstance(event, NotSo):
        raise TypeError(event)
    visit, index, step, latch = draft.here()
    if step.kind not in (Kind.CHALLENGE, Kind.TICK, Kind.BY_TIME):
        raise Refused("not so here")
    if blocked(latch):
        raise Refused("blocked", latch.why)
    check_role(draft, step, event.role)
    unmet(draft, visit.number, index, step)


def unmet(draft: Draft, number: int, index: int, step: Step) -> None:
    """Records that an item is not as it should be."""
    latch = draft.visit(number).latches[index]
    if latch.how is How.UNMET and latch.why == "not so":
        raise Refused("not so here")
    draft.forget(number, index)
    draft.latch(number, index, Latch(How.UNMET, "", draft.at, "not so", latch.back))
    draft.tell("unmet", step.id, "not so")
    if fault_of(step):
        grounding = step.accept is AcceptClass.MAINTENANCE
        draft.defect(fault_of(step), step.id, grounding=grounding)


def fault_of(step: Step) -> str:
    """The defect that *not so* opens here; empty where it opens none."""
    if step.kind is Kind.TICK or step.accept is AcceptClass.MAINTENANCE:
        return f"{step.challenge}: not {step.response}"
    return ""


def tick(draft: Draft) -> None:
    """A station: the item named, in any order, or the one that stands first."""
    event = draft.event
    if not isinstance(event, Answer) or not event.item:
        answer(draft)
        return
    visit, index, step = named_item(draft, event.item)
    if not event.value.strip():
        raise Refused("empty")
    check_role(draft, step, event.role)
    surely(step, event)
    said = normal(event.value)
    allowed(step, said)
    if not event.sure:
        raise Refused("unsure")
    take_words(draft, visit, index, step, said, event.role)


def fault(draft: Draft) -> None:
    """A station: the item named is not as it should be."""
    event = draft.event
    if isinstance(event, NotSo) and event.item:
        visit, index, step = named_item(draft, event.item)
        check_role(draft, step, event.role)
        unmet(draft, visit.number, index, step)
    else:
        not_so(draft)


def named_item(draft: Draft, item: str) -> tuple[Visit, int, Step]:
    """The open tick of this id or challenge in any station of the group.

    What is none is refused with the items of the station at hand: the others are not on its page.
    """
    wanted = normal(item)
    names = []
    for visit in draft.visits:
        flow = draft.flow(visit)
        for index, step in enumerate(flow.steps):
            latch = visit.latches[index]
            if step.kind is not Kind.TICK or blocked(latch):
                continue
            if latch.how in (How.OPEN, How.UNMET, How.PUT_OFF):
                if visit.number == draft.focus:
                    names.append(step.challenge)
                if wanted in (normal(step.challenge), step.id.upper()):
                    return visit, index, step
    raise Refused("not an answer", ", ".join(names[:9]) or "closed")


def start_by_key(draft: Draft, name: str, role: str) -> None:
    """The key of a by-time: answers its step where that is asked, else only starts the clock."""
    if name not in draft.table.timers:
        raise Refused("unknown timer", nearest(name, draft.table.timers))
    if draft.question.step >= 0:
        visit, index, step, latch = draft.here()
        if step.timer == name and latch.how in (How.OPEN, How.UNMET) and not blocked(latch):
            check_role(draft, step, role)
            draft.pending = None
            draft.consumed = True
            take_words(draft, visit, index, step, normal(step.response), role)
            return
    for visit in draft.live():
        for step, latch in zip(draft.flow(visit).steps, visit.latches, strict=True):
            if step.timer == name and latch.how is How.OPEN and not blocked(latch):
                if name in draft.timers:
                    raise Refused("timer not now")
                start_timer(draft, name)
                return
    raise Refused("timer not now")


__all__ = [
    "allowed", "answer", "choice_of", "computed_from", "fault", "fault_of", "named_item",
    "normal", "not_so", "pass_step", "possible", "responders", "start_by_key", "surely",
    "take_words", "tick", "unmet",
]  # fmt: skip
