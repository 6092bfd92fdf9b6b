"""One step as the crew sees it beside the question: what answers it, what it has, and why.

Rules: pure; texts are the card's and the crew's own words; a number carries its unit; nothing is
decided here.
"""

from __future__ import annotations

from runner.engine import units
from runner.engine.effects import Line
from runner.engine.reasons import Values, why_not
from runner.engine.state import How, Latch
from runner.engine.table import Kind, Step, Table


def expected(table: Table, step: Step) -> str:
    """What answers a step, as the card has it."""
    if step.kind is Kind.READING or step.kind is Kind.COMPUTED:
        return step.limit.text() if step.limit is not None else units.shown(unit_of(table, step))
    if step.kind is Kind.CHOICE:
        return " / ".join(choice.text for choice in step.choices)
    if step.kind is Kind.WAIT and step.wait is not None:
        return f"{step.wait.length // 1000} S"
    if step.kind is Kind.CAUTION:
        return "ROGER"
    return step.response


def unit_of(table: Table, step: Step) -> str:
    """The unit of what a step reads or computes; empty for anything else, and for a count."""
    if step.kind is Kind.READING:
        unit = table.readings[step.reading].unit
    elif step.kind is Kind.COMPUTED:
        unit = table.names[step.gives].unit
    else:
        return ""
    return "" if unit == "count" else unit


def answer_of(table: Table, step: Step, value: str) -> str:
    """What a step has as its answer: "171 °C", "below 80 °C", RELEASED; empty for none."""
    return f"{value} {unit_of(table, step)}".rstrip() if value else ""


def ground(table: Table, step: Step, latch: Latch, values: Values) -> str:
    """Why a step stands as it does, in plain words where a condition decided it."""
    if latch.how is How.NOT_REQUIRED:
        whole = table.flows[step.id.split(".", 1)[0]].when
        for condition in (step.own_when, whole, step.when):
            if condition is not None and condition.source == latch.why:
                return why_not(condition, values)
    return latch.why


def back_at(table: Table, step: Step) -> str:
    """Where a step that is put off comes back: at its trigger, else at the end of its own list."""
    if step.back_before:
        return f"before {table.steps[step.back_before].challenge}"
    return f"at the end of {table.flows[step.id.split('.', 1)[0]].title}"


def line(table: Table, step: Step, latch: Latch, values: Values) -> Line:
    """One step as a neighbour. Of a step that is put off, what matters is where it comes back."""
    put_off = latch.how is How.PUT_OFF
    return Line(
        step.number, step.challenge, expected(table, step), answer_of(table, step, latch.value),
        latch.how.value, back_at(table, step) if put_off else ground(table, step, latch, values),
        step.who.value, step.section, step.id, step.kind is Kind.COMPUTED,
    )  # fmt: skip
