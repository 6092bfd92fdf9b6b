"""The beginning of a run: crew, fit, what was carried over, the first screen.

Rules: a run opens once; both pilots read the first screen before the first list, each by name, so
that one word said twice is never taken for two readers; equipment that the enrolment does not name
is not fitted; counters begin at what the run before left.
"""

from __future__ import annotations

from decimal import Decimal

from runner.engine.draft import Draft
from runner.engine.effects import WRONG_AIRCRAFT
from runner.engine.errors import Refused
from runner.engine.events import Opened, PageRead
from runner.engine.flights import begin_flight, enter_next
from runner.engine.interruptions import carried


def opened(draft: Draft) -> None:
    """Opens the run and plans the first flight."""
    event = draft.event
    if not isinstance(event, Opened):
        raise Refused("not opened")
    if event.only and event.only not in draft.table.order:
        raise Refused("unknown list", ", ".join(draft.table.order))
    draft.modes = event.modes
    draft.fit = event.fit
    draft.only = event.only
    draft.crew = tuple(sorted(event.crew))
    for name in draft.table.fit:
        draft.give(name, name in event.fit)
    for name in draft.table.counters:
        draft.give(name, Decimal(0))
    draft.give("engine_running", False)
    draft.give("rotor_turning", False)
    draft.give("airborne", False)
    draft.keep_defects(())
    draft.give("open_snags", Decimal(0))
    carried(draft, event.carried)
    draft.unread = _readers(draft)
    draft.tell("opened")
    begin_flight(draft)
    enter_next(draft)


def wrong_aircraft(draft: Draft) -> None:
    """The placard does not say what the first screen says: the run ends, nothing is carried over.

    Only before the first list: later the crew sits in what it has been checking.
    """
    draft.leave_all(WRONG_AIRCRAFT)
    draft.plan = ()
    draft.unread = ()
    draft.tell("day closed")


def _readers(draft: Draft) -> tuple[str, ...]:
    """Who reads the first screen: both pilots, or the one person there is."""
    if draft.alone():
        return ("commander",)
    return tuple(role for role, _ in draft.crew if role in ("commander", "copilot"))


def page_read(draft: Draft) -> None:
    """One role has read the first screen; where two read it, each says who they are."""
    event = draft.event
    if not isinstance(event, PageRead):
        raise TypeError(event)
    readers = _readers(draft)
    if not event.role and len(readers) > 1:
        raise Refused("say who")
    role = event.role or "".join(readers)
    if role not in draft.unread:
        raise Refused("already read")
    draft.unread = tuple(r for r in draft.unread if r != role)
    draft.tell("page read", role)
