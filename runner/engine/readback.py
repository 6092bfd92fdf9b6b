"""What was read back: affirmed it is taken, negative it is dropped, another value replaces it.

Rules: a pending value belongs to the question it was given to and to no other; nothing is decided
from it before *affirm*.
"""

from __future__ import annotations

from decimal import Decimal

from runner.engine.answers import answer, check_role
from runner.engine.draft import Draft
from runner.engine.errors import Refused
from runner.engine.events import Asked
from runner.engine.readings import take


def affirm(draft: Draft) -> None:
    """Takes the pending value."""
    event, pending = draft.event, draft.pending
    if pending is None or not isinstance(event, Asked):
        raise Refused("nothing to affirm")
    visit, index, step, _ = draft.here()
    check_role(draft, step, event.role)
    draft.pending = None
    why, _, text = pending.value.rpartition("|")
    take(draft, visit.number, index, step, Decimal(text), why)


def negative(draft: Draft) -> None:
    """Drops the pending value; the step is asked again."""
    draft.pending = None
    draft.tell("dropped")


def replace(draft: Draft) -> None:
    """Another value in place of the pending one; *affirm* is an event of its own."""
    draft.pending = None
    answer(draft)
