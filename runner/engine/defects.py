"""What stands in the way where an answer is denied by defects: which ones, and the way on.

Rules: pure; only a condition that comes out false by the number of defects is spoken of, and only
the defects that it counts; the way on is one that exists: an entry of maintenance for what grounds,
a correction where the *not so* that opened the defect can still be corrected, else another answer.
"""

from __future__ import annotations

from collections.abc import Iterator

from runner.engine.conditions import Condition
from runner.engine.draft import Draft
from runner.engine.expressions import Node
from runner.engine.reasons import denying
from runner.engine.state import How, Kept

COUNTS = frozenset({"open_defects", "grounding_defects"})


def _names(node: Node) -> Iterator[str]:
    if node.op == "name":
        yield str(node.value)
    for arg in node.args:
        yield from _names(arg)


def _standing(draft: Draft, condition: Condition) -> list[Kept]:
    if condition.decide(draft.values) is not False:
        return []
    named = COUNTS.intersection(_names(denying(condition.tree, draft.values)))
    counted = [d for d in draft.defects if d.open and named]
    return counted if "open_defects" in named else [d for d in counted if d.grounding]


def standing_defects(draft: Draft, condition: Condition) -> list[str]:
    """The texts of the open defects that deny `condition`; none if it is something else."""
    return [d.text for d in _standing(draft, condition)]


def way_on(draft: Draft, standing: list[str]) -> str:
    """What the crew can do about these defects."""
    kept = [d for d in draft.defects if d.open and d.text in standing]
    ways = []
    if any(d.grounding for d in kept):
        ways.append('MAINTENANCE "what was done" clears what grounds')
    if any(_correctable(draft, d) for d in kept):
        ways.append("CORRECT the item if it was a wrong key")
    if not all(d.grounding for d in kept):
        ways.append("Another answer may fit")
    return ". ".join(ways)


def _correctable(draft: Draft, defect: Kept) -> bool:
    """Whether the *not so* that opened this defect stands in a list not yet closed."""
    for visit in draft.live():
        for step, latch in zip(draft.flow(visit).steps, visit.latches, strict=True):
            if step.id == defect.where and latch.at == defect.at and latch.how is How.UNMET:
                return latch.why == "not so"
    return False
