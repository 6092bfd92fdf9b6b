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
    """The newest answer that may be corrected, be it in a list that is over."""
    for visit in _visits(state):
        found = [
            (latch.entry, n)
            for n, (step, latch) in enumerate(
                zip(table.flows[visit.flow].steps, visit.latches, strict=True)
            )
            if latch.how in ANSWERED and step.kind in CORRECTABLE
        ]
        if found:
            index = max(found)[1]
            step = table.flows[visit.flow].steps[index]
            return line(table, step, visit.latches[index], state.values)
    return None
