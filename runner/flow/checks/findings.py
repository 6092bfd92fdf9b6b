"""What a check finds: the place, the rule, and what an author needs to put it right.

Rules: nothing is found without a place; a message says what stands there, the reason why it matters
to a crew, the suggestion what to write instead. An error makes a document unfit to fly with, a
warning wants a second look; only the reader of the findings decides what follows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from runner.flow.faults import Fault, Place

Level = Literal["error", "warning"]

ERROR: Final[Level] = "error"
WARNING: Final[Level] = "warning"


class Found(NamedTuple):
    """What one rule notes; the rest of a finding is the same for all that it finds."""

    place: Place
    message: str
    suggestion: str
    nearest: str = ""


@dataclass(frozen=True, slots=True, order=True)
class Finding:
    """One finding of a rule. All texts are one line; line and column are counted from 1."""

    file: str
    line: int
    column: int
    rule: str
    level: Level
    message: str
    reason: str
    suggestion: str = ""
    nearest: str = ""

    @property
    def text(self) -> str:
        """`path:line:col: level [rule] message`."""
        return f"{self.file}:{self.line}:{self.column}: {self.level} [{self.rule}] {self.message}"


def of_fault(fault: Fault, level: Level, reason: str) -> Finding:
    """A fault of the loader as a finding."""
    message = fault.what
    if fault.found:
        message += f", found {fault.found}"
    if fault.allowed:
        message += f"; allowed: {fault.allowed}"
    return Finding(
        fault.file,
        fault.line,
        fault.column,
        fault.rule,
        level,
        message,
        reason,
        fault.todo,
        fault.nearest,
    )
