"""What became of a range of the card that was done on paper: which steps it did, which are asked.

Rules: pure; the range alone tells nothing, since paper satisfies ordinary steps only; a step that
nobody needs, or that was answered already, is in neither part; a list to come is told by what paper
will do for it, a list that is over is not.
"""

from __future__ import annotations

from collections.abc import Iterable

from runner.engine.outcomes import Item
from runner.engine.state import How, State, may_pass, ordinary
from runner.engine.table import Step, Table

NONE = "NONE"


def on_paper(table: Table, item: Item, after: State) -> str:
    """ "ON PAPER: 158, 159; STILL ASKED: 157, 160, 161", numbers as the card has them."""
    first, last = int(item[1]), int(item[2])
    paper: list[int] = []
    asked: list[int] = []
    for step, done in _steps(table, after):
        if step.asked and first <= step.number <= last:
            (paper if done else asked).append(step.number)
    text = f"ON PAPER: {ranges(paper) or NONE}"
    return f"{text}; STILL ASKED: {ranges(asked)}" if asked else text


def _steps(table: Table, state: State) -> Iterable[tuple[Step, bool]]:
    """The steps of the open lists and of those to come that paper did or that are still asked."""
    live = (*((state.drill,) if state.drill else ()), *state.visits)
    for visit in live:
        for step, latch in zip(table.flows[visit.flow].steps, visit.latches, strict=True):
            done = latch.how is How.ON_PAPER and may_pass(step, latch)
            if done or not may_pass(step, latch):
                yield step, done
    open_now = {visit.flow for visit in live}
    for flow in state.plan:
        if flow not in open_now:
            for step in table.flows[flow].steps:
                yield step, ordinary(step)


def ranges(numbers: Iterable[int]) -> str:
    """Numbers in order, three and more in a row as a range: "31 TO 36, 38, 39"."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    texts: list[str] = []
    for run in runs:
        texts += [f"{run[0]} TO {run[-1]}"] if len(run) > 2 else [str(number) for number in run]
    return ", ".join(texts)
