"""What was kept beside the lists, as data: snags, defects and flags with time, list and readings.

Rules: pure; decides nothing; the readings of a snag are those that stood in its list when it came,
as they stand now where one of them was corrected since.
"""

from __future__ import annotations

from collections.abc import Iterator

from runner.engine.corrections import ANSWERED, CORRECTABLE
from runner.engine.days import begins
from runner.engine.effects import KeptLine, Line
from runner.engine.state import NEVER, Kept, State, Visit
from runner.engine.steplines import answer_of, line
from runner.engine.table import Kind, Table


def kept(table: Table, state: State) -> tuple[KeptLine, ...]:
    """Snags, open defects and flags, each kind in the order in which it came."""
    return (
        *(_line(table, "snag", one, _readings(table, state, one)) for one in state.snags),
        *(_defect(table, state, one) for one in state.defects if one.open),
        *(_line(table, "flag", one) for one in state.flags),
    )


def _line(table: Table, kind: str, one: Kept, readings: tuple[str, ...] = ()) -> KeptLine:
    flow = table.flows.get(one.where.partition(".")[0])
    title = flow.title if flow is not None else ""
    return KeptLine(kind, one.text, one.at, title, readings, one.grounding)


def _defect(table: Table, state: State, one: Kept) -> KeptLine:
    """A defect; one that the run was opened with came at no time of this run."""
    line = _line(table, "defect", one)
    carried = one.at <= min(begins(state).values(), default=one.at)
    return line._replace(at=NEVER) if carried else line


def _visits(state: State) -> Iterator[Visit]:
    """Every visit, the newest first."""
    if state.drill is not None:
        yield state.drill
    yield from reversed(state.visits)
    yield from reversed(state.archive)


def _readings(table: Table, state: State, one: Kept) -> tuple[str, ...]:
    """The readings of the list of a snag up to its time, in the order of the list."""
    there = (v for v in _visits(state) if v.flow == one.where and v.entered <= one.at)
    visit = next(there, None)
    if visit is None:
        return ()
    return tuple(
        f"{step.challenge} {answer_of(table, step, latch.value)}"
        for step, latch in zip(table.flows[visit.flow].steps, visit.latches, strict=True)
        if step.kind is Kind.READING and latch.how in ANSWERED and latch.at <= one.at
    )


def latest(table: Table, state: State) -> Line | None:
    """The newest answer that may be corrected: of the lists that stand, and of the last one that is
    over and has any."""
    live = (*((state.drill,) if state.drill else ()), *state.visits)
    found = [one for visit in live for one in _answers(table, visit)]
    over = (answers for visit in reversed(state.archive) if (answers := _answers(table, visit)))
    found += next(over, [])
    if not found:
        return None
    _, _, visit, index = max(found, key=lambda one: one[:2])
    step = table.flows[visit.flow].steps[index]
    return line(table, step, visit.latches[index], state.values)


def _answers(table: Table, visit: Visit) -> list[tuple[int, int, Visit, int]]:
    """What of a list may be corrected: when it was entered, its number on the card, its place."""
    steps = table.flows[visit.flow].steps
    return [
        (latch.entry, step.number, visit, n)
        for n, (step, latch) in enumerate(zip(steps, visit.latches, strict=True))
        if latch.how in ANSWERED and step.kind in CORRECTABLE
    ]
