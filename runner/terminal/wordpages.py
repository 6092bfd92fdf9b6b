"""The pages of the plain mode: what the screen has on pages of its own, asked for by a word.

Rules: a page is labelled lines from the view as it stands, in the order of the screen's page; a
page that has nothing says so; a page answers nothing and moves nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby

from runner.engine.effects import Figure, ListLine, Prompt, View
from runner.terminal.clock import Clock
from runner.terminal.document_groups import by_reader, code_of_all
from runner.terminal.open_items import (
    GROUNDED,
    accepted_texts,
    grounding,
    kept_of,
    kept_where,
    list_of,
    open_now,
    put_off_texts,
    step_text,
)
from runner.terminal.pages_day import list_status
from runner.terminal.pages_kept import owed_texts
from runner.terminal.shell import Desk, Document

Telling = Callable[[View, Clock], list[str]]
"""A page of plain mode: the lines that tell it."""
NOT_KNOWN = "not known yet"


def page_lines(said: str, view: View, clock: Clock, desk: Desk) -> list[str] | None:
    """The lines of the page that was asked for; None for words that are no page's."""
    word = " ".join(said.casefold().split())
    if word == "documents":
        return document_lines(desk.documents()) or ["DOCUMENTS: none is named by this run"]
    if word == "receipt":
        return _receipt(view, desk)
    page = PAGES.get(word)
    if page is None:
        return None
    found = page(view, clock)
    if word == "crew":
        texts = owed_texts(desk.owed())
        found += [text.replace("SIGNATURE OWED by", "SIGNATURE OWED:") for text in texts]
    return found or [f"{word.upper()}: none"]


def _receipt(view: View, desk: Desk) -> list[str]:
    """What the log has come to, once no list is open; its head in groups."""
    if view.prompt is not Prompt.CLOSED:
        return ["RECEIPT: it comes where the lists are closed"]
    given = desk.receipt()
    if not given.code:
        return [f"RECEIPT: {given.why or 'there is none'}"]
    return [
        f"RECEIPT: {given.state}",
        f"HEAD OF THE LOG: {' '.join(given.head)}",
        f"RECEIPT CODE: {given.code}",
    ]


def document_lines(documents: Sequence[Document]) -> list[str]:
    """Every document with its revision and code: what somebody must read comes first."""
    groups = by_reader(documents)
    out = []
    for who, those in groups:
        many = f"{len(those)} document" + ("s" if len(those) != 1 else "")
        if who:
            out.append(f"CHANGED FOR {', '.join(who)}: {many}, to be read:")
        elif len(groups) > 1:
            out.append(f"AS AT THE LAST RUN: {many}:")
        else:
            out.append(f"DOCUMENTS: {len(those)}, all as at everybody's last run:")
        out += [f"DOCUMENT: {_document(one)}" for one in those]
    if out:
        code = code_of_all(documents)
        out.append(f"ALL DOCUMENTS: one code over all {len(documents)}, {code[:4]} {code[4:]}")
    return out


def _document(one: Document) -> str:
    code = one.code.upper()
    return f"{one.title}, revision {one.revision}, code {code[:4]} {code[4:]}".rstrip()


def _list(line: ListLine, clock: Clock) -> str:
    status = list_status(line, clock)
    return f"{line.title}, {status}" + (f", valid until {line.until}" if line.until else "")


def _lists(view: View, clock: Clock) -> list[str]:
    return [f"LIST: {_list(line, clock)}" for line in view.lists]


def _flights(view: View, clock: Clock) -> list[str]:
    out = []
    for flight in sorted(view.flights, key=lambda one: -one.number):
        now = ", now" if flight.now else ""
        out.append(f"FLIGHT {flight.number}: begun {clock.utc(flight.begun)}{now}")
        out += [f"MARK: {what} {clock.utc(at)}" for what, at in flight.marks]
        out += [f"LIST: {_list(line, clock)}" for line in flight.lists if line.status != "to come"]
    return out


def _open(view: View, clock: Clock) -> list[str]:
    out = []
    for line in open_now(view):
        what = "NOT MET" if line.status == "unmet" else "OPEN"
        out.append(f"{what}: {list_of(view, line)}, {step_text(line)}")
    out += [f"PUT OFF: {text}" for text in put_off_texts(view)]
    out += [f"COMMANDER ACCEPTS: {text}" for text in accepted_texts(view)]
    grounded = grounding(view)
    out += [f"{GROUNDED}: {text}" for text in grounded]
    out += [f"DEFECT: {text}" for text in view.defects if text not in grounded]
    return out + [f"FLAG: {text}" for text in view.flags]


def _snags(view: View, clock: Clock) -> list[str]:
    """Snags and defects, each with when and where it came and what was read there."""
    return [
        f"{GROUNDED if one.grounding else one.kind.upper()}: {one.text}; {kept_where(one, clock)}"
        for one in (*kept_of(view, "snag"), *kept_of(view, "defect"))
    ]


def _crew(view: View, clock: Clock) -> list[str]:
    """The roster, the duties, and for a newcomer what stands: place, open, put off, accepted."""
    out = [f"CREW: {role} {name}" for role, name in view.crew]
    if view.handling:
        out.append(f"HANDLING: {view.handling}")
    here = f"{view.title}, {view.number} {view.challenge}" if view.number else view.title
    if here:
        out.append(f"PLACE: {here}, {view.done} of {view.required} done")
    out += _open(view, clock)
    return [*out, "TO TAKE OVER: crew ROLE: NAME; hand over exchanges handling and monitoring"]


def _drills(view: View, clock: Clock) -> list[str]:
    return [
        *(f"DRILL {n}: {title}" for n, (_, title) in enumerate(view.drills, 1)),
        *(["TO OPEN ONE: drill TITLE"] if view.drills else []),
    ]


def _memory(view: View, clock: Clock) -> list[str]:
    """The memory items of the drill that is open."""
    return [f"MEMORY ITEM {n}: {text}" for n, text in enumerate(view.memory, 1)]


def _card(view: View, clock: Clock) -> list[str]:
    return [
        *(f"CARD: {one.first} to {one.last}, {one.title}" for one in view.card),
        *(
            [f"TO SAY WHAT WAS DONE ON PAPER: on paper 31 to 47 revision {view.revision}"]
            if view.card
            else []
        ),
    ]


def _copy(view: View, clock: Clock) -> list[str]:
    """Every figure for the paper technical log, in its order."""
    out = []
    for flight, those in groupby(view.figures, key=lambda one: one.flight):
        if flight:
            out.append(f"FLIGHT {flight}: figures for the technical log")
        out += [f"FIGURE: {one.label}, {_value(clock.figure(one))}" for one in those]
    return out


def _value(one: Figure) -> str:
    return f"{one.value} {one.unit}".strip() if one.value else NOT_KNOWN


PAGES: dict[str, Telling] = {
    "lists": _lists,
    "flights": _flights,
    "open items": _open,
    "snags": _snags,
    "crew": _crew,
    "drills": _drills,
    "memory items": _memory,
    "card": _card,
    "copy page": _copy,
}
"""The words that ask for a page; `documents` and `receipt` are the desk's own."""
