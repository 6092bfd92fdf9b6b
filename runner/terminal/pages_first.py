"""The first page of a run, and the page of its documents.

Rules: what grounds the aircraft stands right behind its registration, then the other defects, the
machine, what is open or put off, the safety note, what changed, the crew; what must be read stands
before what has not changed since everybody's last run; to whom every document is new, one code over
all of them stands here and the whole list on the page of the documents.
"""

from __future__ import annotations

from collections.abc import Sequence

from runner.engine.effects import View
from runner.terminal.aside import Aside
from runner.terminal.clock import Clock
from runner.terminal.document_groups import approval_text, by_reader, code_of_all, new_to
from runner.terminal.open_items import GROUNDED, grounding, left_over
from runner.terminal.pages_day import DRAWN_FROM, commas, drawn, list_rows
from runner.terminal.rows import Row, Span, Tone, block, flow, led
from runner.terminal.shell import Document
from runner.terminal.turning import Entry, head, told

SAFETY_NOTE = (
    "A help for trained people, not approved data. The approved flight manual, local rules and"
    " licensed practice govern; the pilot in command decides."
)
COLUMN = 37


def first_page(view: View, clock: Clock, aside: Aside, width: int, height: int) -> list[Entry]:
    """Registration to compare, what grounds, what is left, the safety note, documents, crew."""
    grounded = grounding(view)
    left = [text for text in left_over(view) if not text.startswith(GROUNDED)]
    defects = [text for text in left if text.startswith("DEFECT")]
    document = f"{view.operator}, card revision {view.revision}"
    approved = approval_text(aside.documents, view.modes)
    return [
        *_aircraft(view, aside, width, height, bool(grounded)),
        *(told(f"{GROUNDED}: {text}", width, Tone.WARNING, 1) for text in grounded),
        *(told(text, width, Tone.STRONG, must=1) for text in defects),
        *(told(f"THIS MACHINE: {note}", width, Tone.CAUTION, 1) for note in aside.machine),
        *(told(text, width, must=1) for text in left if text not in defects),
        Entry(block(SAFETY_NOTE, width, Tone.CAUTION), must=1, apart=True),
        Entry(block(document, width, Tone.TEXT, 2), must=1, apart=True),
        *([told(approved, width, Tone.STRONG, must=1)] if approved else []),
        *_to_read(view, aside, clock, width),
        *_crew(view, clock, width),
        *_as_before(aside.documents, view, width),
    ]


def _aircraft(view: View, aside: Aside, width: int, height: int, grounded: bool) -> list[Entry]:
    registration = aside.registration.upper()
    name = f"{view.aircraft} {registration}".strip().upper()
    # What grounds the aircraft must stand on the same sheet: large letters give way to it.
    room = height >= DRAWN_FROM * (2 if grounded else 1)
    tall = drawn(registration, width, aside.blocks) if registration and room else ()
    placard = f"Compare {registration or 'the registration'} with the placard."
    wrong = (Span("WRONG AIRCRAFT ", key="-"), Span("-", Tone.STRONG, "-"))
    return [
        Entry((*block(name, width, Tone.BIG), *tall), must=1),
        Entry((*block(placard, width, Tone.STRONG), wrong), must=1),
    ]


def _crew(view: View, clock: Clock, width: int) -> list[Entry]:
    names = [f"{role} {who}" for role, who in view.crew]
    return [
        Entry(block(f"FLIGHT {view.flight}, {clock.utc()}", width), must=1, apart=True, ends=True),
        Entry(flow(("CREW:", *commas(names)), width, gap=1), must=1),
    ]


def _to_read(view: View, aside: Aside, clock: Clock, width: int) -> list[Entry]:
    """What is new or changed for somebody: all of it must be read."""
    documents = aside.documents
    if not documents:
        rows = list_rows(view.lists, clock, width)
        listed = [Entry((row,), must=1) for row in rows]
        return [head(f"{len(view.lists)} LISTS TODAY", width), *listed] if listed else []
    new = new_to(documents)
    out = _all_new(documents, view, new, width) if new else []
    for who, those in by_reader([_without(one, new) for one in documents]):
        if who:
            out += _group(f"CHANGED FOR {_readers(view, who)}", those, view, documents, width, True)
    return out


def _all_new(
    documents: Sequence[Document], view: View, new: Sequence[str], width: int
) -> list[Entry]:
    """The document of the aircraft, and one code over all of them."""
    whom = _readers(view, new)
    whose = "" if whom == "ALL" or len(view.crew) == 1 else f" FOR {whom}"
    text = f"ALL {len(documents)} DOCUMENTS ARE NEW{whose}: DOCUMENTS HAS THEM"
    return [
        told(text, width, Tone.STRONG, must=1),
        Entry(led("One code over all", code_of_all(documents), width, Tone.TEXT), must=1),
        *_documents(documents[:1], width, True, documents[0].revision != view.revision),
    ]


def _without(one: Document, names: Sequence[str]) -> Document:
    return one._replace(changed_for=tuple(who for who in one.changed_for if who not in names))


def _as_before(documents: Sequence[Document], view: View, width: int) -> list[Entry]:
    """What has changed for nobody: it may be looked at here."""
    those = [one for one in documents if not one.changed_for]
    return _group("AS AT THE LAST RUN", those, view, documents, width, False) if those else []


def _group(
    title: str,
    those: Sequence[Document],
    view: View,
    every: Sequence[Document],
    width: int,
    must: bool,
) -> list[Entry]:
    """Documents below a heading. Revisions stand beside the codes unless all are the card's."""
    revised = any(one.revision != view.revision for one in every)
    return [head(f"{title} ({len(those)})", width), *_documents(those, width, must, revised)]


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
    """Every document of this run, and one code over all of them."""
    documents = aside.documents
    if not documents:
        return [told("No document is named by this run.", width)]
    out = [
        told(f"{view.operator}, card revision {view.revision}", width),
        Entry(led("One code over all", code_of_all(documents), width, Tone.STRONG)),
    ]
    for who, those in by_reader(documents):
        title = f"CHANGED FOR {_readers(view, who)}" if who else "AS AT THE LAST RUN"
        out += _group(title, those, view, documents, width, False)
    return out
