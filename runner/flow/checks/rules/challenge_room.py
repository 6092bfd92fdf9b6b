"""A challenge that is too long for the smallest screen.

On 40 columns and 12 rows the current challenge stands large, with its card number before it, and
the steps before and after around it. A text of more rows than two (a caution: four) pushes these
off the screen, and the crew no longer sees where it is.

Wrong:

    challenge: Generator warning light on the overhead panel, and the load meter beside it

Right:

    challenge: Generator warning light
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.engine.table import Kind, Step
from runner.flow.checks.findings import WARNING, Found, Level
from runner.flow.checks.subject import Subject

LEVEL: Final[Level] = WARNING
REASON: Final = "a longer text pushes the steps around it off the smallest screen"

COLUMNS: Final = 40
MOST_ROWS: Final = 2
MOST_ROWS_CAUTION: Final = 4
"""The rows that the 40x12 screen has for them beside the step before, while a limit is not met and
something goes on beside the list; a test holds them against what it draws."""


def check(subject: Subject) -> Iterator[Found]:
    """Challenges and cautions of too many rows."""
    for pair in subject.all_pairs():
        kind = pair.step.kind
        most = MOST_ROWS_CAUTION if kind is Kind.CAUTION else MOST_ROWS
        if kind in (Kind.REMARK, Kind.TICK):
            continue
        rows = rows_of(pair.step)
        if rows > most:
            key = pair.item.doc.kind
            yield Found(
                pair.item.at(key if key != "reading" else "challenge"),
                f"{rows} rows of {COLUMNS} columns, at most {most} leave the steps around it in "
                "sight",
                "shorten it: what explains belongs into a remark before it",
            )


def rows_of(step: Step) -> int:
    """The rows of a challenge behind its card number, wrapped between words."""
    number = f"{step.number} " if step.number else ""
    rows, used = 1, len(number)
    indent = len(number)
    empty = True
    for word in step.challenge.split():
        wanted = len(word) if empty else used + 1 + len(word)
        if empty:
            used += len(word)
            empty = False
        elif wanted <= COLUMNS:
            used = wanted
        else:
            rows, used = rows + 1, indent + len(word)
        while used > COLUMNS:
            rows, used = rows + 1, used - COLUMNS + indent
    return rows
