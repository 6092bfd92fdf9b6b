"""The closing call: a list closes only when it may, and names what stands open.

Rules: the closing step is answered by its own word and refused while anything before it is open,
unmet or put off; readings that have become too old by then are asked again first; a drill's
closing call leads to its declared ends.
"""

from __future__ import annotations

from runner.engine.answers import allowed, normal, surely, tick
from runner.engine.draft import Draft
from runner.engine.drills import end_drill
from runner.engine.errors import Refused
from runner.engine.events import Answer
from runner.engine.flights import close
from runner.engine.interruptions import stale_visit
from runner.engine.passing import passed
from runner.engine.people import both_looked, check_role
from runner.engine.state import How, Latch, blocked, may_pass


def closing(draft: Draft) -> None:
    """Answers the closing call of the list or drill in question."""
    event = draft.event
    if not isinstance(event, Answer):
        raise TypeError(event)
    if event.item:
        tick(draft)
        return
    if not event.value.strip():
        raise Refused("empty")
    visit, index, step, latch = draft.here()
    if blocked(latch):
        raise Refused("blocked", latch.why)
    check_role(draft, step, event.role)
    surely(step, event)
    allowed(step, normal(event.value))
    if not event.sure:
        raise Refused("unsure")
    earlier = zip(draft.flow(visit).steps[:-1], visit.latches[:-1], strict=True)
    if not all(may_pass(s, v) for s, v in earlier):
        raise Refused("open", ", ".join(draft.open_places((visit,))))
    if stale_visit(draft, visit):
        return
    if not both_looked(draft, step, draft.question.place, event.role, step.response):
        return
    draft.latch(visit.number, index, Latch(How.ANSWERED, step.response, draft.at))
    passed(draft, step)
    visit = draft.visit(visit.number)
    if draft.drill is not None and draft.drill.number == visit.number:
        end_drill(draft, visit)
    else:
        close(draft, visit)
