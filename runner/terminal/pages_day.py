"""The pages of a day: the first page, the documents, the flights, the end.

Rules: the first page says what must be read before what has not changed since everybody's last run;
every document stands with its revision and its code; a list of an earlier flight says when it was
done and what would end that; nothing of the paper card's is judged here.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from runner.engine.effects import FlightLine, Line, ListLine, View
from runner.terminal.aside import Aside
from runner.terminal.blocks import large
from runner.terminal.clock import Clock
from runner.terminal.commands import AT_THE_END
from runner.terminal.rows import Row, Rows, Span, Tone, block, cells, flow, led
from runner.terminal.shell import Document
from runner.terminal.turning import Entry, head, pick, told

SAFETY_NOTE = (
    "A help for trained people, not approved data. The approved flight manual, local rules and"
    " licensed practice govern; the pilot in command decides."
)
REPORT_NOTE = "Shows what was answered, not that it was done."
COLUMN = 37
DRAWN_FROM = 8
HELPED_FROM = 60
GROUPS = (
    ("CURRENT", ("current", "open")),
    ("DONE, STILL VALID", ("still valid",)),
    ("DONE", ("closed",)),
    ("NOT REQUIRED", ("not required",)),
    ("NOT DONE", ("not done",)),
    ("TO COME", ("to come",)),
)
"""How the lists of a flight stand, in the order in which a person asks for it."""
VALID = 1
TIMED = (1, 2)


def list_status(line: ListLine, clock: Clock) -> str:
    """ "DONE 07:40 UTC, STILL VALID" and the like."""
    at = f" {clock.utc(line.closed_at)}" if line.closed_at is not None else ""
    if line.status == "still valid":
        return f"DONE{at}, STILL VALID"
    why = f": {line.why.upper()}" if line.why else ""
    word = "DONE" if line.status == "closed" else line.status.upper()
    return f"{word}{at}{why}"


def list_rows(lists: Sequence[ListLine], clock: Clock, width: int) -> Rows:
    """The lists of the day, one a row, the current one marked by a word and an arrow."""
    return tuple(row for line in lists for row in list_line(line, clock, width))


def list_line(line: ListLine, clock: Clock, width: int) -> Rows:
    """A list and how it stands; nothing is said of one that is to come."""
    here = line.status == "current"
    tone = Tone.STRONG if here else Tone.SMALL
    status = "" if line.status == "to come" else list_status(line, clock)
    rows = beside_or_below(line.title, status, max(1, width - 2), tone)
    return tuple((Span("> " if here and not n else "  ", tone), *row) for n, row in enumerate(rows))


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


# The first page -----------------------------------------------------------------------------------


def first_page(view: View, clock: Clock, aside: Aside, width: int, height: int) -> list[Entry]:
    """Aircraft, registration to compare, crew, what is open, the safety note, the documents."""
    return [
        *_aircraft(view, clock, aside, width, height),
        *_crew(view, width),
        *(told(f"THIS MACHINE: {note}", width, Tone.CAUTION, 1) for note in aside.machine),
        *_left_over(view, width),
        Entry(block(SAFETY_NOTE, width, Tone.CAUTION), must=1, apart=True),
        *_to_read(view, aside, clock, width),
    ]


def _aircraft(view: View, clock: Clock, aside: Aside, width: int, height: int) -> list[Entry]:
    registration = aside.registration.upper()
    name = f"{view.aircraft} {registration}".strip().upper()
    tall = drawn(registration, width, aside.blocks) if registration and height >= DRAWN_FROM else ()
    placard = f"Compare {registration or 'the registration'} with the placard."
    wrong = (Span("WRONG AIRCRAFT ", key="-"), Span("-", Tone.STRONG, "-"))
    document = f"{view.operator}, card revision {view.revision}"
    return [
        Entry((*block(name, width, Tone.BIG), *tall), must=1),
        Entry((*block(placard, width, Tone.STRONG), wrong), must=1),
        Entry(block(document, width, Tone.TEXT, 2), must=1, apart=True),
        Entry(block(f"FLIGHT {view.flight}, {clock.utc()}", width), must=1),
    ]


def _crew(view: View, width: int) -> list[Entry]:
    names = [f"{role} {who}" for role, who in view.crew]
    rows = flow(("CREW:", *_commas(names)), width, gap=1)
    return [Entry(rows, must=1, apart=True)]


def _commas(texts: Sequence[str]) -> list[str]:
    return [text + ("," if n < len(texts) else "") for n, text in enumerate(texts, 1)]


def _left_over(view: View, width: int) -> list[Entry]:
    """What is open, put off, accepted and defective: one entry each."""
    return [told(text, width, must=1) for text in left_over(view)]


def left_over(view: View) -> list[str]:
    """What a run has left so far, each with its kind."""
    return [
        *(f"DEFECT: {text}" for text in view.defects),
        *(f"FLAG: {text}" for text in view.flags),
        *open_counts(view),
        *(f"PUT OFF: {text}" for text in put_off_texts(view)),
        *(f"COMMANDER ACCEPTS: {text}" for text in accepted_texts(view)),
        *(f"SNAG: {text}" for text in view.snags),
    ]


def put_off_texts(view: View) -> list[str]:
    """What is put off, and where it comes back."""
    return [
        f"{line.number} {line.challenge}" + (f", back {line.why}" if line.why else "")
        for line in view.put_off
    ]


def open_now(view: View) -> list[Line]:
    """What is open and not put off."""
    later = {line.key or line.number for line in view.put_off}
    return [line for line in view.open_lines if (line.key or line.number) not in later]


def open_counts(view: View) -> list[str]:
    """How much is open in each list, and what is not met by its name."""
    lines = open_now(view)
    out = [f"NOT MET: {one.number} {one.challenge}" for one in lines if one.status == "unmet"]
    for title, those in groupby(lines, key=lambda line: list_of(view, line)):
        out.append(f"{title.upper()}, {len(list(those))} OPEN")
    return out


def list_of(view: View, line: Line) -> str:
    """The title of the list that a line belongs to, by the key before its point."""
    flow = line.key.partition(".")[0]
    return next((one.title for one in view.lists if one.key == flow), view.title or "list")


def accepted_texts(view: View) -> list[str]:
    """What the commander accepted, with the reason."""
    return [
        f"{line.number} {line.challenge}"
        + (f", {line.answer}" if line.answer else "")
        + (f": {line.why}" if line.why else "")
        for line in view.accepted
    ]


def _to_read(view: View, aside: Aside, clock: Clock, width: int) -> list[Entry]:
    if not aside.documents:
        rows = list_rows(view.lists, clock, width)
        listed = [Entry((row,), must=1) for row in rows]
        return [head(f"{len(view.lists)} LISTS TODAY", width), *listed] if listed else []
    return document_entries(aside.documents, view, width)


def document_entries(documents: Sequence[Document], view: View, width: int) -> list[Entry]:
    """What is new or changed for somebody, which must be read, and then what stands as before.

    Revisions stand beside the codes unless all of them are that of the card.
    """
    revised = any(document.revision != view.revision for document in documents)
    groups: dict[tuple[str, ...], list[Document]] = {}
    for document in documents:
        groups.setdefault(document.changed_for, []).append(document)
    out: list[Entry] = []
    for who in sorted(groups, key=lambda who: (not who, who)):
        those = groups[who]
        title = f"CHANGED FOR {_readers(view, who)}" if who else "AS AT THE LAST RUN"
        out.append(head(f"{title} ({len(those)})", width))
        out += _documents(those, width, bool(who), revised)
    return out


def _readers(view: View, names: Sequence[str]) -> str:
    """People by their roles; all of the crew by that word."""
    roles = {name: role for role, name in view.crew}
    if set(roles) <= set(names) and len(roles) > 1:
        return "ALL"
    return ", ".join(roles.get(name, name) for name in names).upper()


def _documents(those: Sequence[Document], width: int, must: bool, revised: bool) -> list[Entry]:
    """Titles with their codes, in as many columns as show every title on one row."""
    codes = [_code(document, revised) for document in those]
    for columns in range(max(1, (width + 2) // (COLUMN + 2)), 0, -1):
        room = (width - 2 * (columns - 1)) // columns
        made = [led(d.title, code, room, Tone.TEXT) for d, code in zip(those, codes, strict=True)]
        if columns == 1:
            return [Entry(rows, must=int(must)) for rows in made]
        if all(len(rows) == 1 for rows in made):
            break
    out: list[Entry] = []
    for start in range(0, len(made), columns):
        row: Row = ()
        for one in made[start : start + columns]:
            row = (*row, Span(" " * 2), *one[0]) if row else one[0]
        out.append(Entry((row,), must=len(made[start : start + columns]) if must else 0))
    return out


def _code(document: Document, revised: bool) -> str:
    revision = f"rev. {document.revision} " if revised else ""
    return f"{revision}{document.code.upper()}".strip()


def documents_page(view: View, aside: Aside, width: int) -> list[Entry]:
    """Every document of this run."""
    if not aside.documents:
        return [told("No document is named by this run.", width)]
    return [
        told(f"{view.operator}, card revision {view.revision}", width),
        *document_entries(aside.documents, view, width),
    ]


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
        out.append(Entry(flow(_commas(marks) or ["no mark yet"], width, gap=1)))
        out += _lists_of_flight(flight, clock, width)
    return out


def _lists_of_flight(flight: FlightLine, clock: Clock, width: int) -> list[Entry]:
    """The lists of a flight below what they have in common: how they stand, and until what."""
    groups: dict[tuple[int, str], list[ListLine]] = {}
    for line in flight.lists:
        groups.setdefault((_rank(line), line.until), []).append(line)
    out: list[Entry] = []
    for (rank, ends), lines in sorted(groups.items(), key=lambda item: item[0][0]):
        until = f" UNTIL {ends.upper()}" if ends else ""
        out.append(head(f"FLIGHT {flight.number}, {GROUPS[rank][0]}{until}", width))
        for line in lines:
            timed = rank in TIMED and line.closed_at is not None
            said = ", ".join(
                text
                for text in (clock.utc(line.closed_at) if timed else "", line.why.upper())
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
    for command in AT_THE_END:
        out.append(pick(command.label + (f": {command.help}" if helped else ""), width))
    out += [told(text, width) for text in left_over(view)]
    for line in view.lists:
        if line.status == "not done":
            out.append(told(f"LIST NOT DONE: {line.title}" + _because(line.why), width))
    marks = [f"{what} {clock.utc(at)}" for what, at in view.marks]
    if marks:
        out.append(Entry(flow(("MARKS:", *_commas(marks)), width, gap=1)))
    out.append(told(REPORT_NOTE, width, Tone.SMALL))
    return out


def closed_title(view: View) -> str:
    """How the lists ended: all closed, or some never done; and whether anything is open."""
    not_done = sum(line.status == "not done" for line in view.lists)
    if not_done:
        return f"LISTS ENDED, {not_done} NOT DONE"
    return f"LISTS CLOSED, {f'{len(view.open_lines)} OPEN' if view.open_lines else 'NONE OPEN'}"


def _because(why: str) -> str:
    return f": {why}" if why else ""
