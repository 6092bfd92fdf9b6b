"""A crew that does what is asked, within limits: it fills a way through a slice up to a whole day.

Rules: what it says is a function of the state alone, so that a day which it led comes out the same
each time; a limit is met in its middle, a choice by the first answer that neither opens a drill nor
leads back, a wait by waiting; it accepts nothing, puts nothing off and corrects only a computed
value out of limits, by its inputs.
"""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal

from runner.engine import events as ev
from runner.engine.draft import Draft
from runner.engine.effects import Prompt
from runner.engine.limits import Limit
from runner.engine.people import responders
from runner.engine.state import State
from runner.engine.table import Kind, Step, Table
from runner.engine.views import current
from runner.engine.waking import next_deadline

SECOND = 1000
GRID = 64
QUIET = ("WAIT ON", "GO BACK", "RESUME HERE")


def leads_on(table: Table, state: State, now: int) -> ev.Event:
    """The next event of this crew, a second from `now`, or when what it waits for is due."""
    at, ask, prompt = now + SECOND, state.ask, state.question.prompt
    if prompt is Prompt.FIRST_PAGE:
        return ev.PageRead(at, role=state.unread[0])
    if prompt is Prompt.STANDBY:
        return ev.Continue(at)
    if prompt is Prompt.MEMORY_ITEMS:
        return ev.MemoryDone(at)
    if prompt is Prompt.CHOOSING and state.choosing is not None:
        options = state.choosing.options
        option = next((o for o in options if o in QUIET), options[0])
        return ev.Answer(at, ask, "commander", value=option)
    if prompt is Prompt.WAITING:
        due = next_deadline(table, state)
        return ev.SayAgain(at if due is None else max(at, due + 1))
    found = current(table, state)
    if found is None:
        return ev.NextFlight(at)
    step = found[2]
    right = responders(Draft(table, state, ev.Wake(state.at)), step)
    role = next((r for r in right if r not in state.seen), right[0])
    if prompt is Prompt.READ_BACK:
        return ev.Affirm(at, ask, role)
    if step.mark:
        return ev.Mark(at, what=step.mark, when=at)
    if step.kind is Kind.COMPUTED:
        return _mending(table, state, step, at)
    return ev.Answer(at, ask, role, value=said(table, state, step))


def said(table: Table, state: State, step: Step) -> str:
    """What this crew says to a step."""
    sub = state.question.sub
    if sub >= 0 and step.wait is not None:
        name, limit = step.wait.conditions[sub]
        return str(_inside(table, name, limit))
    if step.kind is Kind.READING:
        base = state.values.get(step.drop_from) if step.drop_from else None
        if isinstance(base, Decimal) and step.limit is None:
            return str(base - _drop(table, step))
        return str(_inside(table, step.reading, step.limit))
    if step.kind is Kind.CHOICE:
        plain = [c.text for c in step.choices if not c.back_to and not c.drill]
        return (plain or [c.text for c in step.choices])[0]
    return "ROGER" if step.kind is Kind.CAUTION else step.response or "CLOSED"


def _inside(table: Table, name: str, limit: Limit | None) -> Decimal:
    reading = table.readings[name]
    low = limit.low if limit is not None and limit.low is not None else reading.low
    high = limit.high if limit is not None and limit.high is not None else reading.high
    middle = (max(low, reading.low) + min(high, reading.high)) / 2
    return middle.quantize(Decimal(1).scaleb(-reading.decimals), ROUND_HALF_EVEN)


def _drop(table: Table, step: Step) -> Decimal:
    """The drop that lies in the middle of the limit of the value computed from this one."""
    for other in table.steps.values():
        limit, formula = other.limit, other.formula
        if formula is None or limit is None or limit.low is None or limit.high is None:
            continue
        if formula.names == {step.drop_from, step.gives}:
            return ((limit.low + limit.high) / 2).quantize(Decimal(1))
    return Decimal(50)


def _mending(table: Table, state: State, step: Step, at: int) -> ev.Event:
    """Corrects one of the readings that a computed value hangs on, so that it meets its limit."""
    formula, limit = step.formula, step.limit
    if formula is None or limit is None:
        return ev.SayAgain(at)
    known = {n: state.values[n] for n in formula.names if n in state.values}
    for other in table.steps.values():
        if not other.reading or other.gives not in known:
            continue
        for value in _grid(table, other):
            found = formula.value({**known, other.gives: value})
            if found is not None and limit.meets(found) and value != known[other.gives]:
                return ev.Correct(at, step=other.id, value=str(value))
    return ev.SayAgain(at)


def _grid(table: Table, step: Step) -> list[Decimal]:
    """Values over what the instrument can show and the step's limit lets pass, middle first."""
    reading = table.readings[step.reading]
    middle = _inside(table, step.reading, step.limit)
    unit = Decimal(1).scaleb(-reading.decimals)
    span = reading.high - reading.low
    grid = [
        (reading.low + span * i / GRID).quantize(unit, ROUND_HALF_EVEN) for i in range(GRID + 1)
    ]
    kept = [v for v in grid if step.limit is None or step.limit.meets(v)]
    return sorted({middle, *kept}, key=lambda v: (abs(v - middle), v))
