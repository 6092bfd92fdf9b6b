"""One event through the engine, for the live run and for every replay alike.

Rules: the live run and the replay call the same function, so that they cannot differ; a bug of
ours becomes the outcome `fault`, the state stays untouched, and the log says so; `RULES` is raised
when any transition of the engine changes, and a log of other rules is not replayed.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from runner.engine.events import Event
from runner.engine.outcomes import Outcome
from runner.engine.session import transition
from runner.engine.state import State
from runner.engine.table import Table
from runner.engine.wire import write_event

RULES = 4


def step(table: Table, state: State, event: Event) -> tuple[State, Outcome]:
    """The next state and the outcome; never raises."""
    try:
        return transition(table, state, event)
    except Exception as fault:
        return state, (("fault", type(fault).__name__),)


def as_data(event: Event, outcome: Outcome, state: State) -> dict[str, Any]:
    """The data of an `event` line: event, outcome, digest of the state after it."""
    return {
        "event": write_event(event),
        "outcome": [list(item) for item in outcome],
        "state": state.digest(),
    }


def same(data: Mapping[str, Any], outcome: Outcome, state: State) -> bool:
    """Whether a logged line says what the engine says."""
    return bool(data["outcome"] == list(map(list, outcome)) and data["state"] == state.digest())


def accepted(outcome: Outcome) -> bool:
    """Whether the commander accepted something in this event."""
    for item in outcome:  # noqa: SIM110 - at every event of a replay, and a generator costs more
        if item[0] == "accepted":
            return True
    return False
