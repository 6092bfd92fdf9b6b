"""How a rule is taken out of the engine: each function takes out one, for the test it is given.

The rule is named where it is used, in `test_rules_matter`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from types import ModuleType
from typing import Any

import pytest

from runner.engine import (
    acceptance,
    cells,
    closing,
    corrections,
    deciding,
    drills,
    flights,
    free,
    passing,
    progress,
    readings,
    session,
    waits,
)
from runner.engine import events as ev
from runner.engine.conditions import Condition
from runner.engine.draft import Draft
from runner.engine.errors import Refused
from runner.engine.limits import Limit
from runner.engine.state import How, may_pass
from runner.engine.table import AcceptClass

Patch = pytest.MonkeyPatch


def everywhere(patch: Patch, original: object, other: object) -> None:
    """Puts another function in place of one, in every module of the engine and in its table."""
    engine: list[ModuleType] = [
        module for name, module in sys.modules.items() if name.startswith("runner.engine.")
    ]
    for module in engine:
        for name, value in list(vars(module).items()):
            if value is original:
                patch.setattr(module, name, other)
    for row in [*cells.CELLS.values(), cells.BEFORE]:
        for kind, cell in row.items():
            if cell is original:
                patch.setitem(row, kind, other)


def nothing(*_: object, **__: object) -> None:
    """What is left of a rule that was taken out."""


def seen_as(patch: Patch, handler: Any, change: Callable[..., Any]) -> None:
    """A handler that sees another step or latch than the one in question."""
    here = Draft.here

    def mutant(draft: Draft) -> None:
        with pytest.MonkeyPatch.context() as inner:
            inner.setattr(Draft, "here", lambda self: change(*here(self)))
            handler(draft)

    everywhere(patch, handler, mutant)


def passes(*hows: How) -> Callable[[Patch], None]:
    """`may_pass` lets more through."""
    return lambda patch: everywhere(
        patch, may_pass, lambda step, latch: latch.how in hows or may_pass(step, latch)
    )


def stale_taken(patch: Patch) -> None:
    taken = session._taken

    def mutant(table: Any, state: Any, event: ev.Event) -> Any:
        if isinstance(event, ev.Asked):
            event = event.but(ask=state.ask)
        return taken(table, state, event)

    patch.setattr(session, "_taken", mutant)


def any_number(patch: Patch) -> None:
    everywhere(patch, readings.parse, lambda reading, text: Decimal(text))


def any_class(patch: Patch) -> None:
    seen_as(
        patch, acceptance.accept,
        lambda visit, index, step, latch: (
            visit, index, replace(step, accept=AcceptClass.COMMANDER), latch
        ),
    )  # fmt: skip


def any_role_accepts(patch: Patch) -> None:
    accept = acceptance.accept

    def mutant(draft: Draft) -> None:
        if isinstance(draft.event, ev.Accept):
            draft.event = draft.event.but(role="commander")
        accept(draft)

    everywhere(patch, accept, mutant)


def put_off_twice(patch: Patch) -> None:
    seen_as(
        patch, acceptance.put_off,
        lambda visit, index, step, latch: (visit, index, step, latch._replace(back=False)),
    )  # fmt: skip


def floor_stays(patch: Patch) -> None:
    leave_all = Draft.leave_all

    def mutant(self: Draft, why: str) -> None:
        floor = self.floor
        leave_all(self, why)
        self.floor = floor

    patch.setattr(Draft, "leave_all", mutant)


def end_unread(patch: Patch) -> None:
    put = waits._put

    def mutant(draft: Draft, number: int, wait: Any) -> None:
        if wait is not None and wait.ending:
            wait = wait._replace(pending=())
        put(draft, number, wait)

    patch.setattr(waits, "_put", mutant)


def counted_unseen(patch: Patch) -> None:
    begin = waits._begin

    def mutant(draft: Draft, number: int) -> None:
        begin(draft, number)
        visit = draft.visit(number)
        wait = visit.wait
        rule = draft.flow(visit).steps[wait.step].wait if wait is not None else None
        if wait is not None and rule is not None and rule.since in draft.moments:
            began = draft.moments[rule.since]
            wait = wait._replace(began=began, until=began + rule.length)
            draft.put(visit._replace(wait=wait))

    patch.setattr(waits, "_begin", mutant)


def ask_stays(patch: Patch) -> None:
    settle = progress.settle

    def mutant(draft: Draft) -> None:
        settle(draft)
        draft.ask = draft.before.ask + (1 if draft.before.ask == 0 else 0)

    patch.setattr(session, "settle", mutant)


def bounds_included(patch: Patch) -> None:
    def mutant(self: Limit, value: Decimal) -> bool:
        return self.distance(value) == 0

    patch.setattr(Limit, "meets", mutant)


def unknown_is_false(patch: Patch) -> None:
    decide = Condition.decide
    patch.setattr(Condition, "decide", lambda self, values: bool(decide(self, values)))


def closes_anyhow(patch: Patch) -> None:
    for module in (closing, flights, drills):
        patch.setattr(module, "may_pass", lambda step, latch: True)
    first = progress.first_open
    patch.setattr(
        progress, "first_open",
        lambda draft, visit: (
            len(visit.latches) - 1 if visit.latches[0].how is not How.OPEN else first(draft, visit)
        ),
    )  # fmt: skip


def left_reads_closed(patch: Patch) -> None:
    shelve = Draft.shelve
    patch.setattr(
        Draft, "shelve",
        lambda self, visit: shelve(self, visit._replace(closed_at=self.at, left="")),
    )  # fmt: skip


def memory_skipped(patch: Patch) -> None:
    open_drill = drills.open_drill

    def mutant(draft: Draft, drill: str) -> None:
        open_drill(draft, drill)
        draft.memory = False

    everywhere(patch, open_drill, mutant)


def late_events_taken(patch: Patch) -> None:
    taken = session._taken

    def mutant(table: Any, state: Any, event: ev.Event) -> Any:
        with pytest.MonkeyPatch.context() as inner:
            inner.setattr(session, "next_deadline", lambda table, state: None)
            return taken(table, state, event)

    patch.setattr(session, "_taken", mutant)


def any_revision(patch: Patch) -> None:
    on_paper = free.on_paper

    def mutant(draft: Draft) -> None:
        revision = getattr(draft.event, "revision", "")
        draft.table = replace(draft.table, revision=revision)
        on_paper(draft)

    everywhere(patch, on_paper, mutant)


def never_back(patch: Patch) -> None:
    def mutant(draft: Draft, visit: Any) -> int:
        steps = draft.flow(visit).steps
        for index, latch in enumerate(visit.latches):
            if latch.how is not How.PUT_OFF and not may_pass(steps[index], latch):
                return index
        return len(steps) - 1

    patch.setattr(progress, "first_open", mutant)


def correction_keeps_acceptance(patch: Patch) -> None:
    compute = deciding._compute

    def mutant(draft: Draft, number: int, index: int, step: Any, old: Any) -> None:
        if old.how is not How.ACCEPTED:
            compute(draft, number, index, step, old)

    patch.setattr(deciding, "_compute", mutant)


def values_stay(patch: Patch) -> None:
    patch.setattr(Draft, "take_back", nothing)


def any_reason(patch: Patch) -> None:
    accept = acceptance.accept

    def mutant(draft: Draft) -> None:
        try:
            accept(draft)
        except Refused as told:
            if told.code != "reason" or not isinstance(draft.event, ev.Accept):
                raise
            draft.event = draft.event.but(reason=draft.table.reasons[0])
            accept(draft)

    everywhere(patch, accept, mutant)


def always_moving(patch: Patch) -> None:
    everywhere(patch, readings.is_plateau, lambda *_: False)


def correction_passes_both(patch: Patch) -> None:
    patch.setattr(corrections, "both_look", lambda draft, step: False)


def met_by_anything(patch: Patch) -> None:
    stop = Draft.stop_timer
    patch.setattr(Draft, "stop_timer", lambda self, name, met=False: stop(self, name, met=True))


def wakes_are_lost(patch: Patch) -> None:
    patch.setattr(passing, "run_out", nothing)
