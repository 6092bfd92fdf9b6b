"""Events that belong to no question: marks, snags, paper, crew, readings seen, turning to a list.

Rules: marks and snags are taken in every state; the log says what was open when the aircraft
lifted, and which lists that stand before the take-off had not been begun; paper satisfies ordinary
steps only, of the same card revision; a crew change owes nothing here (the log's signatures are not
the engine's business).
"""

from __future__ import annotations

from runner.engine.acceptance import maintenance
from runner.engine.answers import start_by_key
from runner.engine.deciding import decide_visit
from runner.engine.draft import Draft
from runner.engine.errors import Refused
from runner.engine.events import (
    CrewChange,
    Happened,
    Mark,
    OnPaper,
    ReadingSeen,
    Snag,
    StartTimer,
    TurnTo,
)  # fmt: skip
from runner.engine.flights import happened, ways_down
from runner.engine.newer import read_anew
from runner.engine.passing import take_mark
from runner.engine.readings import parse
from runner.engine.state import NEVER, Kept
from runner.engine.waits import restart
from runner.engine.words import nearest

SEATS = ("commander", "copilot", "ground")


def mark(draft: Draft) -> None:
    """Take-off or landing: taken in every state, late ones too."""
    event = draft.event
    if not isinstance(event, Mark):
        raise TypeError(event)
    if event.what not in ("take-off", "landing"):
        raise Refused("unknown mark")
    if event.when > draft.at:
        raise Refused("mark ahead")
    take_mark(draft, event.what, event.when)
    if event.what == "take-off":
        still, unbegun = draft.open_places(), not_begun(draft)
        if still or unbegun:
            counts = str(len(still)), str(len(unbegun))
            draft.tell("lifted", *counts, *unbegun, *still[:9])


def not_begun(draft: Draft) -> list[str]:
    """The lists never begun that stand before the take-off in the day, and that it should follow.

    A list whose condition does not hold is none of them; one whose condition is not known yet is.
    """
    order, flows = draft.table.order, draft.table.flows
    down = ways_down(draft)
    before: list[str] = []
    for flow_id in order:
        if flow_id in down or any(step.mark == "take-off" for step in flows[flow_id].steps):
            break
        before.append(flow_id)
    conditions = [(f, flows[f].when) for f in before if f in draft.plan]
    return [f for f, when in conditions if when is None or when.decide(draft.values) is not False]


def snag(draft: Draft) -> None:
    """Keeps a remark with its time and phase; the list does not move."""
    event = draft.event
    if not isinstance(event, Snag) or not event.text.strip():
        raise Refused("text")
    visit = draft.active()
    where = draft.flow(visit).id if visit is not None else ""
    draft.snags = (*draft.snags, Kept(event.text, draft.at, where))
    draft.count("open_snags", 1)
    draft.tell("noted", "snag", event.text)


def on_paper(draft: Draft) -> None:
    """Steps done from the card: ordinary ones are satisfied, limits still want values."""
    event = draft.event
    if not isinstance(event, OnPaper):
        raise TypeError(event)
    table = draft.table
    if event.revision != table.revision:
        raise Refused("card revision", event.revision, table.revision)
    numbers = [step.number for step in table.steps.values()]
    if not min(numbers) <= event.first <= event.last <= max(numbers):
        raise Refused("card range", str(event.first), str(event.last))
    draft.paper = (*draft.paper, (event.first, event.last))
    for visit in list(draft.live()):
        decide_visit(draft, visit.number)
    draft.tell("paper", str(event.first), str(event.last))


def _person(name: str) -> str:
    """A name as people tell it apart: capitals and spaces make nobody another person."""
    return " ".join(name.casefold().split())


def crew_change(draft: Draft) -> None:
    """Somebody takes over a role."""
    event = draft.event
    if not isinstance(event, CrewChange):
        raise TypeError(event)
    if event.seat not in SEATS:
        raise Refused("unknown seat")
    if not event.name.strip():
        raise Refused("name")
    same = [r for r, n in draft.crew if _person(n) == _person(event.name)]
    if not draft.alone() and any(role != event.seat for role in same):
        raise Refused("same person")
    kept = tuple((role, name) for role, name in draft.crew if role != event.seat)
    draft.crew = tuple(sorted((*kept, (event.seat, event.name))))
    draft.looks = ()
    draft.tell("crew", event.seat, event.name)
    happened(draft, "crew change")


def hand_over(draft: Draft) -> None:
    """Handling and monitoring change places."""
    if draft.alone():
        raise Refused("one pilot")
    draft.handling = draft.monitoring()
    draft.looks = ()
    draft.tell("crew", "handling", draft.handling)


def something_happened(draft: Draft) -> None:
    """Refuelled, passengers changed, maintenance ...: lists lose their validity."""
    event = draft.event
    if not isinstance(event, Happened):
        raise TypeError(event)
    if event.what not in draft.table.happenings:
        raise Refused("unknown happening", event.what, ", ".join(draft.table.happenings))
    if event.what == "maintenance":
        if not event.note.strip():
            raise Refused("note")
        maintenance(draft, event.note)
        draft.keep_defects(
            tuple(d._replace(open=False) if d.grounding else d for d in draft.defects)
        )
    happened(draft, event.what)


def reading_seen(draft: Draft) -> None:
    """A value read out unasked: it breaks a wait, opens what it does not meet, answers nothing."""
    event = draft.event
    if not isinstance(event, ReadingSeen):
        raise TypeError(event)
    reading = draft.table.readings.get(event.name)
    if reading is None:
        raise Refused("unknown reading", nearest(event.name, draft.table.readings))
    value = parse(reading, event.value)
    if not read_anew(draft, event.name, value):
        draft.tell("noted", event.name, str(value))


def condition_lost(draft: Draft) -> None:
    """One key: the condition of the running wait was lost."""
    for visit in list(draft.live()):
        wait = visit.wait
        if wait is not None and wait.began != NEVER:
            step = draft.flow(visit).steps[wait.step]
            if step.wait is not None and step.wait.conditions:
                draft.tell("wait broken", step.id)
                restart(draft, visit.number)
                return
    raise Refused("not running")


def start_timer(draft: Draft) -> None:
    """The key of a by-time."""
    event = draft.event
    if not isinstance(event, StartTimer):
        raise TypeError(event)
    start_by_key(draft, event.timer, event.role)


def turn_to(draft: Draft) -> None:
    """Turns to another open list of the same group."""
    event = draft.event
    if not isinstance(event, TurnTo):
        raise TypeError(event)
    for visit in draft.visits:
        if visit.flow == event.flow and draft.drill is None:
            draft.clear_pending_answer()
            draft.focus = visit.number
            draft.tell("turned", visit.flow)
            return
    raise Refused("unknown list", nearest(event.flow, [v.flow for v in draft.visits]))
