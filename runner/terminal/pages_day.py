"""The pages of a day: its lists, the flights, the end.

Rules: what is still valid stands before what is asked, with when it was done and what would end
that; a run for the wrong aircraft ends with no way on and nothing carried over; nothing of the
paper card's is judged here.
"""

from __future__ import annotations

from collections.abc import Sequence

from runner.engine.effects import FlightLine, ListLine, View
from runner.terminal.aside import Aside
from runner.terminal.blocks import large
from runner.terminal.clock import Clock
from runner.terminal.commands import at_the_end, is_wrong_aircraft
from runner.terminal.open_items import left_over
from runner.terminal.rows import Rows, Span, Tone, block, cells, flow, led
from runner.terminal.statuswords import capitals
from runner.terminal.turning import Entry, head, pick, told

REPORT_NOTE = "Shows what was answered, not that it was done."
DRAWN_FROM = 8
HELPED_FROM = 60
GROUPS = (
    ("DONE, STILL VALID", ("still valid",)),
    ("BEING DONE", ("current", "open")),
    ("DONE", ("closed",)),
    ("NOT REQUIRED", ("not required",)),
    ("NOT DONE", ("not done",)),
    ("TO COME", ("to come",)),
)
"""How the lists of a flight stand, in the order in which a person asks for it."""
HERE = "HERE"
"""What stands beside the list that the crew is in: a word, so that it is right without colour."""
VALID = 0
TIMED = (0, 2)


def list_status(line: ListLine, clock: Clock) -> str:
    """ "DONE 07:40 UTC, STILL VALID" and the like."""
    at = f" {clock.utc(line.closed_at)}" if line.closed_at is not None else ""
    if line.status == "still valid":
        return f"DONE{at}, STILL VALID"
    why = f": {capitals(line.why)}" if line.why else ""
    word = {"closed": "DONE", "current": HERE}.get(line.status, line.status.upper())
    return f"{word}{at}{why}"


def list_rows(lists: Sequence[ListLine], clock: Clock, width: int) -> Rows:
    """The lists of the day, one a row, the one that stands marked by a word."""
    return tuple(row for line in lists for row in list_line(line, clock, width))


def list_line(line: ListLine, clock: Clock, width: int) -> Rows:
    """A list and how it stands; nothing is said of one that is to come."""
    here = line.status == "current"
    tone = Tone.STRONG if here else Tone.SMALL
    status = "" if line.status == "to come" else list_status(line, clock)
    return beside_or_below(line.title, status, width, tone)


def beside_or_below(left: str, right: str, width: int, tone: Tone) -> Rows:
    """Two texts with leaders between them, or the second one below, moved in."""
    if not right:
        return block(left, width, tone, 4)
    if cells(left) + cells(right) + 2 <= width:
        return led(left, right, width, tone)
    return (*block(left, width, tone, 4), *indented(right, width, 4, tone))


def indented(text: str, width: int, indent: int, tone: Tone = Tone.TEXT) -> Rows:
    """A wrapped text, all of its rows moved in."""
    lead = Span(" " * indent, tone)
    return tuple((lead, *row) for row in block(text, max(1, width - indent), tone))


def drawn(text: str, width: int, blocks: bool) -> Rows:
    """A text in large letters, or no rows where it cannot be drawn so."""
    return tuple((Span(row, Tone.BIG),) for row in large(text, width, 1)) if blocks else ()


def commas(texts: Sequence[str]) -> list[str]:
    """The texts of a sentence, with the commas between them."""
    return [text + ("," if n < len(texts) else "") for n, text in enumerate(texts, 1)]


# Flights and the end ------------------------------------------------------------------------------


def flights_page(view: View, clock: Clock, width: int) -> list[Entry]:
    """The flights of the day, this one first, then the latest; each with its marks and lists."""
    flights = view.flights or (FlightLine(view.flight, 0, True, view.marks, view.lists),)
    out: list[Entry] = []
    for flight in sorted(flights, key=lambda one: (not one.now, -one.number)):
        now = ", NOW" if flight.now else ""
        begun = f", BEGUN {clock.utc(flight.begun)}" if view.flights else ""
        out.append(head(f"FLIGHT {flight.number}{begun}{now}", width))
        marks = [f"{what} {clock.utc(at)}" for what, at in flight.marks]
        out.append(Entry(flow(commas(marks) or ["no mark yet"], width, gap=1)))
        out += _lists_of_flight(flight, clock, width)
    return out


def skipped(view: View, clock: Clock, width: int) -> list[Entry]:
    """The lists that this flight does not ask, one a row: when each was done."""
    return [
        Entry(led(line.title, f"DONE {clock.utc(line.closed_at)}", width, Tone.TEXT))
        for line in view.lists
        if line.status == "still valid"
    ]


def _lists_of_flight(flight: FlightLine, clock: Clock, width: int) -> list[Entry]:
    """The lists of a flight below what they have in common: how they stand, and until what."""
    groups: dict[tuple[int, str], list[ListLine]] = {}
    for line in flight.lists:
        groups.setdefault((_rank(line), line.until), []).append(line)
    out: list[Entry] = []
    for (rank, ends), lines in sorted(groups.items(), key=lambda item: item[0][0]):
        until = f" UNTIL {capitals(ends)}" if ends else ""
        out.append(head(f"FLIGHT {flight.number}, {GROUPS[rank][0]}{until}", width))
        for line in lines:
            timed = rank in TIMED and line.closed_at is not None
            said = ", ".join(
                text
                for text in (
                    HERE if line.status == "current" else "",
                    clock.utc(line.closed_at) if timed else "",
                    capitals(line.why),
                )
                if text
            )
            out.append(Entry(beside_or_below(line.title, said, width, Tone.TEXT)))
    return out


def _rank(line: ListLine) -> int:
    """The place of a list's group among the groups of a flight."""
    known = [n for n, (_, states) in enumerate(GROUPS) if line.status in states]
    valid = line.status == "closed" and line.until
    return VALID if valid else known[0] if known else len(GROUPS) - 1


def closed_page(view: View, clock: Clock, aside: Aside, width: int, height: int) -> list[Entry]:
    """The end of the lists: the short code for the paper, the way on, and what was left."""
    code = aside.head_code or "none yet"
    tall = drawn(code, width, aside.blocks) if height >= 2 * DRAWN_FROM else ()
    helped = width >= HELPED_FROM
    out = [Entry((*block(f"LOG SO FAR {code}", width, Tone.BIG), *tall), apart=True)]
    if is_wrong_aircraft(view):
        registration = aside.registration or view.aircraft
        why = f"The placard is not that of {registration}. Nothing is carried over."
        return [*out, told(why, width, Tone.STRONG)._replace(apart=True)]
    for command in at_the_end(view):
        out.append(pick(command.label + (f": {command.help}" if helped else ""), width))
    out += [told(text, width) for text in left_over(view)]
    for line in view.lists:
        if line.status == "not done":
            out.append(told(f"LIST NOT DONE: {line.title}" + _because(line.why), width))
    marks = [f"{what} {clock.utc(at)}" for what, at in view.marks]
    if marks:
        out.append(Entry(flow(("MARKS:", *commas(marks)), width, gap=1)))
    out.append(told(REPORT_NOTE, width, Tone.SMALL))
    return out


def closed_title(view: View) -> str:
    """How the lists ended: all closed, or some never done; and whether anything is open."""
    if is_wrong_aircraft(view):
        return "RUN ENDED: WRONG AIRCRAFT"
    not_done = sum(line.status == "not done" for line in view.lists)
    if not_done:
        return f"LISTS ENDED, {not_done} NOT DONE"
    return f"LISTS CLOSED, {f'{len(view.open_lines)} OPEN' if view.open_lines else 'NONE OPEN'}"


def _because(why: str) -> str:
    return f": {why}" if why else ""
