"""A section of more than 9 items.

Short lists by system are kept whole; in a long one the place is lost at the first interruption, and
what stands at its end is what is left out (5 to 9 items a section: common practice; Degani and
Wiener, NASA CR-177549, 1990, on long checklists, from memory). Counted is what the crew answers;
remarks, computed values and the closing call are not. A list without headings is one section.

Wrong: ten challenges below one `section:`.

Right: a heading of its own for the items of each system, at the first of them:

    - challenge: Boost pump
      answer: "ON"
      section: Fuel
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.engine.table import Kind
from runner.flow.checks.findings import WARNING, Found, Level
from runner.flow.checks.subject import Subject

LEVEL: Final[Level] = WARNING
REASON: Final = "in a long section the place is lost at an interruption, and its end is left out"

MOST_ITEMS: Final = 9
_NOT_COUNTED: Final = (Kind.COMPUTED, Kind.CLOSING)


def check(subject: Subject) -> Iterator[Found]:
    """Each section that is too long, at its tenth item."""
    for procedure in subject.procedures:
        for section in subject.sections(procedure):
            pairs = [pair for pair in section if pair.step.kind not in _NOT_COUNTED]
            if len(pairs) > MOST_ITEMS:
                yield Found(
                    pairs[MOST_ITEMS].item.at(),
                    f"this section has {len(pairs)} items, and this is the tenth",
                    f"give it a section: here or before, so that none has more than {MOST_ITEMS}",
                )
