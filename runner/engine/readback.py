"""What was read back: affirmed it is taken, negative it is dropped, another value replaces it.

Rules: a pending value belongs to the place it was given to and to no other, a fact to the choice
that asks for it; nothing is decided from either before *affirm*.
"""

from __future__ import annotations

from decimal import Decimal

from runner.engine.acceptance import choose
from runner.engine.answers import take_words, tick
from runner.engine.draft import Draft
from runner.engine.errors import Refused
from runner.engine.events import Asked
from runner.engine.interruptions import chosen, fact_heard
from runner.engine.people import both_look, check_role
from runner.engine.readings import take
from runner.engine.state import blocked
from runner.engine.table import Kind


def affirm(draft: Draft) -> None:
    """Takes the pending value."""
    event, pending = draft.event, draft.pending
    if pending is None or not isinstance(event, Asked):
        raise Refused("nothing to affirm")
    if not event.sure:
        raise Refused("unsure")
    if fact := fact_heard(draft):
        draft.pending = None
        if draft.choosing is not None:
            chosen(draft, draft.choosing.kind, fact, affirmed=True)
        draft.tell("chosen", fact)
        return
    visit, index, step, latch = draft.here()
    if pending.spot != draft.question.place:
        raise Refused("nothing to affirm")
    if blocked(latch):
        raise Refused("blocked", latch.why)
    # The one who gave the value has looked; who affirms it looks through their eyes.
    check_role(draft, step, event.role or (pending.role if both_look(draft, step) else ""))
    draft.pending = None
    why, _, text = pending.value.rpartition("|")
    if step.kind in (Kind.READING, Kind.WAIT):
        take(draft, visit.number, index, step, Decimal(text), pending.role, pending.at, why)
    else:
        take_words(draft, visit, index, step, text, pending.role)


def negative(draft: Draft) -> None:
    """Drops the pending value; the step is asked again."""
    draft.pending = None
    draft.tell("dropped")


def replace(draft: Draft) -> None:
    """Another value in place of the pending one; *affirm* is an event of its own."""
    fact = fact_heard(draft)
    draft.pending = None
    if fact:
        choose(draft)
    else:
        tick(draft)
