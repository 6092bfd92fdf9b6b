"""Looks at every screen of a day before it is answered: nothing of what counts may be missing.

Rules: what must stand there comes from the documents, by the number on the card; the current
challenge, what is expected, the choices, the items of a station, the mark of a critical step and
the band are looked for whole, whatever the size.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise

from runner.engine.steplines import expected
from runner.engine.table import Kind, Step, Table
from runner.flow.loader import load_aircraft
from tests.terminal_crew import first_key
from tests.terminal_day import DOCUMENTS
from tests.terminal_driver import Terminal

WIDE, SIDE_COLUMN = 100, 41


@cache
def table() -> Table:
    return load_aircraft(DOCUMENTS).table


@cache
def steps() -> dict[int, Step]:
    """Every step of the demonstration by the number on its card."""
    return {step.number: step for step in table().steps.values()}


@cache
def stations() -> dict[str, list[Step]]:
    """The items of every station, in the order of their keys, by the title of its list."""
    found: dict[str, list[Step]] = {}
    for flow in table().flows.values():
        items = [step for step in flow.steps if step.kind is Kind.TICK]
        if items:
            found[flow.title.upper()] = items
    return found


def rows_title(rows: list[str]) -> str:
    """The title of the list that a screen shows: before its count, or above it where both do not
    fit a row."""
    count = r"(?:\d+|NONE)(?: OPEN)? OF \d+"
    for above, row in pairwise(rows):
        if found := re.match(rf"(.+?) +{count}", row):
            return found[1]
        if re.match(count, row):
            return above
    raise AssertionError("no list and no count:\n" + "\n".join(rows))


@cache
def awaited(number: int) -> tuple[str, ...]:
    """The texts that say what answers a step."""
    step = steps()[number]
    if step.kind is Kind.WAIT:
        return ()
    if step.choices:
        return tuple(f"{n} {choice.text}" for n, choice in enumerate(step.choices, 1))
    return (expected(table(), step),)


class Eye:
    """Looks at every screen before it is answered: nothing of what counts may be missing."""

    def __init__(self) -> None:
        self.questions: set[int] = set()
        self.drills: set[str] = set()

    def __call__(self, screen: Terminal) -> None:
        # A wide screen has the lists of the day in a column of its own.
        width = screen.columns - SIDE_COLUMN if screen.columns >= WIDE else screen.columns
        rows = [row[:width].rstrip() for row in screen.lines()]
        text = " ".join(" ".join(rows).split())
        assert rows[0].startswith("DEMONSTRATION"), text
        assert len(rows) == screen.rows
        drill = re.search(r"DRILL: ([A-Z, -]+?) \d+ (?:OF|ITEM)", text)
        if drill:
            self.drills.add(drill[1])
        key = first_key(screen.hint())
        if key == "NUMBER TICKS":
            self._station(rows, text)
            return
        if key.startswith(("TO READ", "GO ON +", "ITEMS DONE +", "END OF DAY +")):
            return
        called = re.compile(r"(\d+) (?!OF \d)[^a-z]*$")
        found = next((m for row in rows[:-1] if (m := called.match(row))), None)
        assert found is not None, "\n".join(rows)
        number = int(found[1])
        self.questions.add(number)
        step = steps()[number]
        if step.kind is not Kind.WAIT:
            assert f"{number} {step.challenge.upper()}" in text, "\n".join(rows)
        for words in awaited(number):
            assert words.upper() in text.upper(), f"{words} is missing:\n" + "\n".join(rows)
        if step.critical:
            assert "CRITICAL" in text, "\n".join(rows)

    def _station(self, rows: list[str], text: str) -> None:
        """Every item that is open stands there with what is expected of it."""
        items = stations()[rows_title(rows)]
        whole = [
            step for n, step in enumerate(items, 1)
            if re.search(rf" {n} {step.challenge}[ .]+{step.response}", text, re.I)
        ]  # fmt: skip
        counted = re.search(r"(\d+) OPEN OF \d", text)
        assert len(whole) >= (int(counted[1]) if counted else 0), text
        self.questions.update(step.number for step in whole)
