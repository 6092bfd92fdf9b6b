"""Units that do not fit: a limit in what measures something else, or words that name another unit.

A number is read off an instrument in the instrument's unit. A limit of another kind means nothing;
a label that says °F where the value is kept in °C makes the crew answer a wrong number that may
even be plausible. A limit may be written in any unit of the same kind: it is converted exactly.

Wrong, for a reading whose unit is °C:

    challenge: Oil temperature, Fahrenheit

Right:

    challenge: Oil temperature
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from runner.engine.table import Kind
from runner.flow.checks.findings import ERROR, Found, Level
from runner.flow.checks.subject import Subject
from runner.flow.faults import Place

LEVEL: Final[Level] = ERROR
REASON: Final = "the crew answers in the unit that it is called, and the number may be plausible"

UNIT_WORDS: Final = {
    "rpm": "rpm", "percent": "%", "%": "%", "°c": "°C", "celsius": "°C", "°f": "°F",
    "fahrenheit": "°F", "kelvin": "K", "hpa": "hPa", "kpa": "kPa", "psi": "psi", "inhg": "inHg",
    "kg": "kg", "kilograms": "kg", "kilos": "kg", "lb": "lb", "lbs": "lb", "pounds": "lb",
    "litres": "L", "liters": "L", "gal": "US gal", "gallons": "US gal", "ft": "ft", "feet": "ft",
    "metres": "m", "meters": "m", "kt": "kt", "knots": "kt", "kts": "kt", "volts": "V",
    "amps": "A", "amperes": "A", "hours": "h", "minutes": "min", "seconds": "s",
}  # fmt: skip
"""Words by which a unit is written or called, and its spelling in a document. Single letters and
`bar` are left out: they are words of other things too."""

_WORD: Final = re.compile(r"[^\W\d_]+|%|°[CFcf]")


def check(subject: Subject) -> Iterator[Found]:
    """Labels and challenges of readings and computed values that name another unit."""
    for name, reading in subject.table.readings.items():
        place = subject.parts.at("readings", name, "label")
        yield from _named(reading.label, reading.unit, place, "label")
    for pair in subject.all_pairs():
        doc, step = pair.item.doc, pair.step
        if step.kind is Kind.READING and "challenge" in vars(doc):
            unit = subject.table.readings[step.reading].unit
        elif step.kind is Kind.COMPUTED:
            unit = subject.table.names[step.gives].unit
        else:
            continue
        yield from _named(step.challenge, unit, pair.item.at("challenge"), "challenge")


def _named(text: str, unit: str, place: Place, what: str) -> Iterator[Found]:
    named = {UNIT_WORDS[word] for word in map(str.casefold, _WORD.findall(text))
             if word in UNIT_WORDS}  # fmt: skip
    if named and unit not in named:
        yield Found(
            place,
            f"the {what} says {', '.join(sorted(named))} and the value is in {unit}",
            f"call it by {unit}, or leave the unit out: the screen shows it",
        )
