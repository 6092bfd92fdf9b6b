"""The copy page: every figure for the paper technical log, flight by flight, in the author's order.

Rules: what is not known stays empty and nothing is guessed: a counter that still runs has no
minutes yet, a value made void has none; minutes are whole and each flight's own (`hours`), those of
an engine that runs on from one flight to the next are parted where the next flight began; a value
is the newest given in its flight, a correction behind a closed list included; times are run time.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from runner.engine.days import begins
from runner.engine.draft import EXACT
from runner.engine.effects import Figure
from runner.engine.hours import PAIRS, minutes, periods
from runner.engine.passing import entered
from runner.engine.state import How, Kept, State, Visit
from runner.engine.table import Copied, Table

TIMES = ("engine start", "engine stop", "rotor start", "rotor stop", "take-off", "landing")
MINUTES = {f"{name} minutes": name for name in PAIRS}
COUNTS = {"landings": "landing", "starts": "engine start"}
NOTES = ("defects", "snags")
BUILT_IN = {name: name.capitalize() for name in (*TIMES, *MINUTES, *COUNTS, *NOTES)}
"""The figures that an author may name, with the label that each has by itself."""
NONE = "NONE"
_GIVEN = (How.ANSWERED, How.ACCEPTED)
_AHEAD = 1 << 62


def figures(table: Table, state: State) -> list[Figure]:
    """The copy page, flight after flight."""
    if not table.copied:
        return []
    found: list[Figure] = []
    begun = begins(state)
    numbers = list(begun)
    visits = _by_flight(state)
    for place, flight in enumerate(numbers):
        # What happened before the first list of the day is the first flight's.
        start = begun[flight] if place else -1
        end = begun[numbers[place + 1]] if place + 1 < len(numbers) else _AHEAD
        for entry in table.copied:
            if entry.name:
                found.extend(_value(table, state, entry, flight, visits.get(flight, {})))
            else:
                found.extend(_built_in(state, entry, flight, (start, end)))
    return found


def _built_in(state: State, entry: Copied, flight: int, window: tuple[int, int]) -> list[Figure]:
    what, label = entry.figure, entry.label
    marks = [mark for mark in state.marks if mark.flight == flight]
    if what in TIMES:
        when = [mark.when for mark in marks if mark.what == what]
        if len(when) <= 1:
            return [Figure(label, "", "UTC", flight, when[0] if when else None)]
        return [Figure(f"{label} {n}", "", "UTC", flight, at) for n, at in enumerate(when, 1)]
    if what in MINUTES:
        return [Figure(label, _minutes(state, MINUTES[what], window), "min", flight)]
    if what in COUNTS:
        return [Figure(label, str(sum(mark.what == COUNTS[what] for mark in marks)), "", flight)]
    kept = state.snags if what == "snags" else tuple(d for d in state.defects if d.open)
    return [Figure(label, text, "", flight) for text in _texts(kept, window) or [NONE]]


def _texts(kept: Iterable[Kept], window: tuple[int, int]) -> list[str]:
    start, end = window
    return [one.text for one in kept if start <= one.at < end]


def _minutes(state: State, name: str, window: tuple[int, int]) -> str:
    """The minutes of one counter within a flight; empty while it runs on in the present one."""
    start, end = window
    spans = []
    for since, until in periods(state.marks, *PAIRS[name]):
        if until is None and end == _AHEAD:
            return ""
        low, high = max(since, start), min(end if until is None else until, end)
        if low < high:
            spans.append(high - low)
    return str(sum(minutes(span) for span in spans))


def _by_flight(state: State) -> dict[int, dict[str, list[Visit]]]:
    """The visits of each flight by list, oldest first."""
    found: dict[int, dict[str, list[Visit]]] = {}
    drill = (state.drill,) if state.drill is not None else ()
    for visit in (*state.archive, *state.visits, *drill):
        found.setdefault(visit.flight, {}).setdefault(visit.flow, []).append(visit)
    return found


def _value(
    table: Table, state: State, entry: Copied, flight: int, visits: dict[str, list[Visit]]
) -> list[Figure]:
    now = flight == state.flight
    if not entry.places:
        # A counter: what it has reached, with what this flight has entered; the present's alone.
        value = state.values.get(entry.name)
        done = state.values.get(entered(entry.name), 0)
        text = "" if value is None else str(EXACT.add(Decimal(value), Decimal(done)))
        return [Figure(entry.label, text, entry.unit, flight)] if now else []
    newest = (-1, "", (0, 0))
    for flow, position in entry.places:
        for visit in visits.get(flow, ()):
            latch = visit.latches[position]
            if latch.how in _GIVEN:
                newest = max(newest, (latch.entry, latch.value, (visit.number, position)))
    _, text, spot = newest
    known = state.values.get(entry.name)
    if state.givers.get(entry.name) == spot and known is not None:
        text = str(known)
    elif now or not _is_value(table, entry.name, text):
        # Void, asked again, or called as a side of a limit only.
        text = ""
    return [Figure(entry.label, text, entry.unit if text else "", flight)]


def _is_value(table: Table, name: str, text: str) -> bool:
    if table.names[name].kind != "number":
        return True
    try:
        return Decimal(text).is_finite()
    except ArithmeticError:
        return False
