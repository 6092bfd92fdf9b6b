"""A reading that is declared and never shown.

What is declared in `aircraft.yaml` and asked for by no step stands neither on the screen nor on the
card: its limit is nobody's, and whoever wrote it down believes that it is looked at.

Wrong: `readings: {gearbox_temp: {…}}`, and no step with `reading: gearbox_temp`.

Right: a step that reads it, a wait with it under `while:`, or no such reading.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.flow.checks.findings import WARNING, Found, Level
from runner.flow.checks.subject import Subject

LEVEL: Final[Level] = WARNING
REASON: Final = "what stands on no card is looked at by nobody"


def check(subject: Subject) -> Iterator[Found]:
    """Each reading that no step shows."""
    shown: set[str] = set()
    for pair in subject.all_pairs():
        shown.add(pair.step.reading)
        if pair.step.wait is not None:
            shown.update(name for name, _ in pair.step.wait.conditions)
    for name, reading in subject.table.readings.items():
        if name not in shown:
            yield Found(
                subject.parts.key("readings", name),
                f"no step shows {reading.label!r}",
                f"add a step reading: {name}, or delete the reading",
            )
