"""One run: holds a state, takes events, gives outcomes and effects.

Rules: `transition` is pure; a refusal leaves the state equal; an event that answers a question
must carry the number of the one that stands; what was due before an event must have happened
before it; a bug of ours leaves the state untouched and is raised as it is, for the host to log.
"""

from __future__ import annotations

from runner.engine.cells import BEFORE, CELLS
from runner.engine.draft import Draft
from runner.engine.errors import Refused
from runner.engine.events import Asked, Event, Opened, Recovered, Wake
from runner.engine.outcomes import Outcome
from runner.engine.progress import settle
from runner.engine.state import State, initial
from runner.engine.table import Table
from runner.engine.waking import next_deadline

_NOTHING = frozenset({("said",), ("due",)})
"""Outcomes of one item that leave the state as it was."""


def transition(table: Table, state: State, event: Event) -> tuple[State, Outcome]:
    """The state after an event, and what it came to."""
    try:
        return _taken(table, state, event)
    except Refused as refusal:
        return state, (("refused", refusal.code, *refusal.details),)


def _taken(table: Table, state: State, event: Event) -> tuple[State, Outcome]:
    if event.at < state.at:
        raise Refused("clock")
    kind = type(event)
    if kind is not Wake and kind is not Opened and kind is not Recovered:
        due = next_deadline(table, state)
        if due is not None and due <= event.at:
            raise Refused("late wake")
    row = CELLS[state.question.prompt] if state.flight else BEFORE
    asked = isinstance(event, Asked)
    if asked and state.flight and event.ask != state.ask:  # type: ignore[attr-defined]
        raise Refused("stale")
    cell = row[kind]
    if isinstance(cell, str):
        raise Refused(cell, *_details(table, state, cell))
    draft = Draft(table, state, event)
    draft.entries += 1
    draft.consumed = asked
    cell(draft)
    tale = draft.tale
    if len(tale) == 1 and tale[0] in _NOTHING:
        return state, tuple(tale)
    settle(draft)
    return draft.freeze(), tuple(tale)


def _details(table: Table, state: State, code: str) -> tuple[str, ...]:
    if code == "choose" and state.choosing is not None:
        return (", ".join(state.choosing.options),)
    if code == "affirm or negative" and state.pending is not None:
        return (state.pending.value.rpartition("|")[2],)
    return ()


class Session:
    """The state of one run and the table of its documents."""

    def __init__(self, table: Table, state: State | None = None) -> None:
        self.table = table
        self.state = initial() if state is None else state

    def send(self, event: Event) -> Outcome:
        """Takes an event; the outcome says what it came to."""
        self.state, outcome = transition(self.table, self.state, event)
        return outcome

    def next_deadline(self) -> int | None:
        """When to send a `Wake`, or None."""
        return next_deadline(self.table, self.state)
