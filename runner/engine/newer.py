"""A newer value of an instrument, and the later limits that an older one met.

Rules: what is read last is what the instrument shows. A value taken at one step of a list opens
again the newest limited step behind it on the same instrument, if that step was answered or
accepted before and the value does not meet its limit; what stands before the step is left alone,
for an instrument may pass through one limit on its way to another. A value from elsewhere (a
drill, another open list, read out unasked) does the same in every list that stands, for an
instrument that has a `fresh for`: its document says that an old value is no value. A running wait
whose condition the value does not meet starts again. A correction is as old as what it corrects.
"""

from __future__ import annotations

from decimal import Decimal

from runner.engine.deciding import reopen
from runner.engine.draft import Draft, Place
from runner.engine.limits import Limit, Threshold, implies
from runner.engine.state import NEVER, How, Visit
from runner.engine.table import Kind
from runner.engine.waits import restart

Value = Decimal | Threshold
NOWHERE: Place = (0, -1)
"""The place of a value that was read out unasked."""


def read_anew(
    draft: Draft, reading: str, value: Value, place: Place = NOWHERE, *, at: int | None = None
) -> bool:
    """Judges what stands by a value read at this place; `at` is when, if it was not just now.

    True if a wait started again or a step is open again.
    """
    changed = False
    for visit in list(draft.live()):
        index = _superseded(draft, visit, reading, place, at)
        if index is not None:
            step = draft.flow(visit).steps[index]
            latch = visit.latches[index]
            same = latch.how is How.ACCEPTED and latch.value == str(value)
            if step.limit is not None and not same and not holds(step.limit, value):
                reopen(draft, visit.number, index)
                changed = True
        if at is None:
            changed = _breaks(draft, draft.visit(visit.number), reading, value, place) or changed
    return changed


def holds(limit: Limit, value: Value) -> bool:
    """Whether a value, or what was called as a threshold, is surely inside a limit."""
    return implies(value, limit) if isinstance(value, Threshold) else limit.meets(value)


def _superseded(
    draft: Draft, visit: Visit, reading: str, place: Place, at: int | None
) -> int | None:
    """The newest limited step of a list whose value is older than the one read now."""
    number, here = place
    first = here + 1 if visit.number == number else 0
    if visit.number != number and draft.table.readings[reading].fresh_for is None:
        return None
    found: tuple[int, int] | None = None
    for index, step in enumerate(draft.flow(visit).steps):
        if index < first or step.kind is not Kind.READING or step.reading != reading:
            continue
        latch = visit.latches[index]
        if step.limit is None or latch.how not in (How.ANSWERED, How.ACCEPTED):
            continue
        if at is None or latch.at < at:
            found = max(found or (NEVER, -1), (latch.at, index))
    return None if found is None else found[1]


def _breaks(draft: Draft, visit: Visit, reading: str, value: Value, place: Place) -> bool:
    """Starts the running wait of a list again, if the value breaks one of its conditions."""
    wait = visit.wait
    if wait is None or wait.began == NEVER or (visit.number, wait.step) == place:
        return False
    step = draft.flow(visit).steps[wait.step]
    for name, limit in step.wait.conditions if step.wait is not None else ():
        if name == reading and not holds(limit, value):
            draft.tell("wait broken", step.id)
            restart(draft, visit.number, last=str(value) if isinstance(value, Decimal) else "")
            return True
    return False
