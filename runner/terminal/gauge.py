"""A reading against its limit: in words, and as a bar that is right without colour.

Rules: the words stand alone, the bar only adds to them; the star lies on the side of its bracket on
which the value lies, however close it is; nothing here judges whether a limit is met.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import NamedTuple

from runner.engine.effects import Gauge
from runner.terminal.rows import Rows, Span, Tone, flow


def gauge_rows(gauge: Gauge, width: int) -> tuple[Rows, ...]:
    """Limit, last value and distance in words; then a bar that is right without colour, and below
    it the figures at their places."""
    unit = gauge.unit
    said = [f"LIMIT {gauge.limit}"] if gauge.limit else [f"READ IN {unit}"]
    if gauge.value:
        away = distance(gauge)
        said.append(f"READ {with_unit(gauge)}" + (f", {away}" if away else ""))
    words = flow(said, width, Tone.BIG)
    drawn = _drawn(gauge, min(width, 60))
    if drawn is None:
        return (words,)
    barred = (*words, (Span(drawn.bar),))
    figures = _figures(gauge, drawn)
    if not figures:
        return (words, barred)
    return (words, barred, (*barred, (Span(figures, Tone.SMALL),)))


def distance(gauge: Gauge) -> str:
    """How far the last value is from its limit, and to which side."""
    value = _decimal(gauge.value)
    if not gauge.distance or value is None:
        return gauge.distance
    low = gauge.low is not None and value < gauge.low
    side = "TOO LOW" if low else "TOO HIGH"
    return f"{gauge.distance} {gauge.unit} {side}"


def _decimal(text: str) -> Decimal | None:
    try:
        value = Decimal(text.split()[0])
    except (InvalidOperation, IndexError):
        return None
    return value if value.is_finite() else None


def with_unit(gauge: Gauge) -> str:
    """The last value with its unit, once."""
    if not gauge.unit or gauge.value.endswith(gauge.unit):
        return gauge.value
    return f"{gauge.value} {gauge.unit}"


class Drawn(NamedTuple):
    """A bar and the columns of its brackets and its star; None where there is no bracket."""

    bar: str
    low: int | None
    high: int | None
    star: int


def gauge_bar(gauge: Gauge, width: int) -> str:
    """`----[=======]--*--`: the limit between brackets, the value as a star; "" without a value."""
    drawn = _drawn(gauge, width)
    return drawn.bar if drawn is not None else ""


def _drawn(gauge: Gauge, width: int) -> Drawn | None:
    value = _decimal(gauge.value)
    bounds = [b for b in (gauge.low, gauge.high) if b is not None]
    if not bounds or value is None:
        return None
    low, high = min(bounds), max(bounds)
    span = (high - low) or max(abs(high), Decimal(1)) / 5
    left = min(value, low) - span / 2
    right = max(value, high) + span / 2
    room = width - 2

    def cell(x: Decimal) -> int:
        return min(room - 1, max(0, int((x - left) / (right - left) * room)))

    marks = ["-"] * room
    first = cell(low) if gauge.low is not None else 0
    last = cell(high) if gauge.high is not None else room - 1
    for place in range(first, last + 1):
        marks[place] = "="
    if gauge.low is not None:
        marks[first] = "["
    if gauge.high is not None:
        marks[last] = "]"
    star = _beside(cell(value), first, last, value, gauge, room)
    marks[star] = "*"
    return Drawn(
        f"<{''.join(marks)}>",
        first + 1 if gauge.low is not None else None,
        last + 1 if gauge.high is not None else None,
        star + 1,
    )


def _figures(gauge: Gauge, drawn: Drawn) -> str:
    """The bounds and the value under their marks, "" where they would touch each other."""
    wanted = [(drawn.star, gauge.value.split()[0])]
    wanted += [(at, str(b)) for at, b in ((drawn.low, gauge.low), (drawn.high, gauge.high)) if at]
    line = ""
    for at, figure in sorted(wanted):
        start = max(0, at - len(figure) // 2)
        if line and start < len(line) + 1:
            return ""
        line = line.ljust(start) + figure
    return line if len(line) <= len(drawn.bar) else ""


def _beside(place: int, first: int, last: int, value: Decimal, gauge: Gauge, room: int) -> int:
    """The star's cell, moved off a bracket to the side of it on which the value lies."""
    if gauge.low is not None and value < gauge.low:
        place = min(place, first - 1)
    elif gauge.low is not None and place <= first:
        place = first + 1
    if gauge.high is not None and value > gauge.high:
        place = max(place, last + 1)
    elif gauge.high is not None and place >= last:
        place = last - 1
    return min(room - 1, max(0, place))
