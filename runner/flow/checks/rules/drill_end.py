"""A drill without an end that leads out of it.

A drill ends in an outcome that its author wrote. One of them must leave what is wrong behind: going
on, discontinuing, or an aircraft that is unserviceable, with its defect. Where every end starts a
list from its top, the crew goes round until the fault goes away by itself; in the air there is no
list that it could start.

Wrong:

    ends:
      - {end: Try again, leads to: {restart: start}}

Right:

    ends:
      - {end: Try again, leads to: {restart: start}}
      - {end: No start, leads to: discontinue}
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.engine.table import EndKind
from runner.flow.checks.findings import ERROR, Found, Level
from runner.flow.checks.subject import Subject

LEVEL: Final[Level] = ERROR
REASON: Final = "a drill ends in an outcome, and one of them leaves what is wrong behind"


def check(subject: Subject) -> Iterator[Found]:
    """Every drill whose ends all start a list again."""
    for procedure in subject.procedures:
        ends = subject.flow(procedure).ends
        if ends and all(end.kind is EndKind.RESTART for end in ends):
            yield Found(
                procedure.key("ends"),
                "every end of this drill starts a list again",
                "add an end that leads to continue here, discontinue or unserviceable",
            )
