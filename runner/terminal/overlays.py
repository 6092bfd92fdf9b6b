"""The pages that a key lays over a list: title, what stands on every sheet, and the entries.

Rules: each page is data for `pages.overlay`, which cuts and turns it; what must never be one key
says whole what the second key does; the numbered commands keep their numbers at every size.
"""

from __future__ import annotations

from typing import NamedTuple

from runner.engine.effects import View
from runner.terminal.aside import Aside
from runner.terminal.clock import Clock
from runner.terminal.commands import COMMAND_SHEETS, FUNCTION_KEYS, label
from runner.terminal.gauge import with_unit
from runner.terminal.keyhelp import keys_here
from runner.terminal.keymap import called
from runner.terminal.keystate import Command, KeyState, Page
from runner.terminal.pagekeys import page_lines
from runner.terminal.pages_day import flights_page, skipped
from runner.terminal.pages_first import documents_page
from runner.terminal.pages_kept import copy_page, crew_page, kept_page, open_items_page, valued
from runner.terminal.paperkeys import voucher
from runner.terminal.receiptpage import receipt_page
from runner.terminal.rows import Row, Rows, Span, Tone, block, cells
from runner.terminal.turning import Entry, pick, told
from runner.terminal.voicekeys import TALK

TITLES = {
    Page.DRILLS: "DRILLS: NUMBER OPENS",
    Page.MORE: "BY NUMBER, OR TYPE WORDS",
    Page.OPTIONS: "CHOOSE BY NUMBER",
    Page.TIMERS: "START WHICH TIMER?",
    Page.LISTS: "TURN TO WHICH LIST?",
    Page.CORRECT: "CORRECT WHICH ANSWER?",
    Page.HAPPENED: "WHAT HAPPENED?",
    Page.FAULT: "FAULT: WHICH ITEM?",
    Page.ACCEPT: "COMMANDER ACCEPTS: REASON?",
    Page.ACCEPT_SURE: "COMMANDER ACCEPTS",
    Page.DISCONTINUE: "DISCONTINUE?",
    Page.LEAVE: "LEAVE THE RUN OPEN?",
    Page.WRONG: "WRONG AIRCRAFT?",
    Page.END: "END OF DAY?",
    Page.CREW: "CREW",
    Page.PAPER: "ON PAPER",
    Page.PAPER_SURE: "ON PAPER?",
    Page.OPEN: "OPEN ITEMS",
    Page.FLIGHTS: "FLIGHTS OF THE DAY",
    Page.KEPT: "SNAGS AND DEFECTS",
    Page.COPY: "COPY PAGE",
    Page.RECEIPT: "RECEIPT",
    Page.DOCUMENTS: "DOCUMENTS",
    Page.KEYS: "KEYS HERE",
}
EMERGENCY = "emergency only"
HELP_FROM = 56
LABELS = 20


class Laid(NamedTuple):
    """A page before it is cut: its title, the rows on every sheet, and its entries."""

    title: str
    tone: Tone
    always: Rows
    entries: list[Entry]


def laid(view: View, clock: Clock, aside: Aside, width: int, height: int) -> Laid:
    """The page that stands over the list."""
    page = aside.keys.page
    if aside.keys.begins:
        return _begins(view, clock, aside, width)
    make = _READ.get(page)
    if make is not None:
        return Laid(TITLES[page], Tone.STRONG, (), make(view, clock, aside, width, height))
    if page is Page.PAPER:
        return _paper(view, aside, width)
    if page in _SECOND:
        return _SECOND[page](view, aside, width)
    always = _question(view, width) if page in (Page.ACCEPT, Page.OPTIONS) else ()
    title, tone = TITLES[page], Tone.BAND if page is Page.DRILLS else Tone.STRONG
    if page is Page.ACCEPT and view.accept_class == EMERGENCY:
        title, tone = "EMERGENCY ONLY: REASON?", Tone.CAUTION
    entries = [
        pick(line.label, width)._replace(apart=True)
        for line in page_lines(aside.keys, view, aside.listen)
    ]
    return Laid(title, tone, always, entries or [told("NOTHING HERE", width)])


def _begins(view: View, clock: Clock, aside: Aside, width: int) -> Laid:
    """What a flight skips as it begins."""
    talk = [called(key) for key in aside.keymap.keys_of(TALK)[:1] if aside.voice]
    key = " OR ".join([_plus(aside), *talk])
    goes_on = block(f"{key} GOES ON, AND ANSWERS NOTHING", width)
    title = f"FLIGHT {view.flight}: DONE, STILL VALID"
    return Laid(title, Tone.STRONG, goes_on, skipped(view, clock, width))


def _question(view: View, width: int) -> Rows:
    """What is chosen or accepted: the step, what was read, the limit, or why it is held."""
    gauge = view.gauge
    if gauge is not None and gauge.value:
        limit = f", LIMIT {gauge.limit}" if gauge.limit else ""
        why = f"READ {with_unit(gauge)}{limit}"
    else:
        why = view.unmet_why or view.blocked
    step = f"{view.number} {view.challenge.upper()}" if view.number else view.challenge.upper()
    return block(f"{step}: {why}" if why else step, width, Tone.TEXT, 2)


# Numbered commands and keys -----------------------------------------------------------------------


def more(view: View, sheet: int, width: int, height: int) -> Rows:
    """A sheet of the numbered commands: with their help, one a row, or in two columns."""
    named = [
        (str(n), command, label(command, view))
        for n, command in enumerate(COMMAND_SHEETS[sheet], 1)
    ]
    keys = {id(command): name.upper() for name, command in FUNCTION_KEYS.items()}

    def span(number: str, text: str, room: int) -> Span:
        return Span(f"{number} {text}".ljust(room), Tone.STRONG, number)

    def key_of(command: Command) -> str:
        return keys.get(id(command), "")

    if len(named) > height:
        half = -(-len(named) // 2)
        room = width // 2
        left, right = named[:half], named[half:]
        rows: list[Row] = [(span(n, text, room),) for n, _, text in left]
        for at, (n, _, text) in enumerate(right):
            rows[at] = (*rows[at], span(n, text, 0))
        return tuple(rows)
    if width < HELP_FROM:
        return tuple(
            (span(n, text, width - 4), Span(key_of(command), Tone.SMALL))
            for n, command, text in named
        )
    return tuple(
        (
            span(n, text, LABELS),
            Span(key_of(command).ljust(5), Tone.SMALL),
            Span(command.help, Tone.TEXT),
        )
        for n, command, text in named
    )


def _keys(view: View, clock: Clock, aside: Aside, width: int, height: int) -> list[Entry]:
    """One key a row; in two columns where the rows are short and the width allows."""
    texts = keys_here(view, aside)
    room = (width - 2) // 2
    if len(texts) <= height or max(map(cells, texts)) > room:
        return [told(text, width) for text in texts]
    half = -(-len(texts) // 2)
    right = [*texts[half:], ""]
    return [
        Entry(((Span(text.ljust(room + 2)), Span(other)),))
        for text, other in zip(texts[:half], right, strict=False)
    ]


# What takes a second key --------------------------------------------------------------------------


def _asks(title: str, tone: Tone, width: int, *texts: str) -> Laid:
    entries = [told(text, width, Tone.STRONG)._replace(apart=True) for text in texts if text]
    return Laid(title, tone, (), entries)


def _plus(aside: Aside) -> str:
    """*As shown*, as its key is called where somebody made a table of keys of their own."""
    return aside.keymap.shown("+")


def _discontinue(view: View, aside: Aside, width: int) -> Laid:
    turning = [
        name for name, on in (("ENGINE", view.engine_running), ("ROTOR", view.rotor_turning)) if on
    ]
    state = f"{' AND '.join(turning)} TURNING" if turning else "NOTHING TURNS"
    flight = "; IN FLIGHT" if view.airborne else ""
    return _asks(
        TITLES[Page.DISCONTINUE], Tone.BAND, width,
        f"{state}{flight}. Leads to: {view.way_out or 'the shutdown list'}."
        " The limits of that list still hold.",
        f"{_plus(aside)} DISCONTINUES, any other key goes back.",
    )  # fmt: skip


def _leave(view: View, aside: Aside, width: int) -> Laid:
    return _asks(
        TITLES[Page.LEAVE], Tone.STRONG, width,
        "The run stays open and can be resumed.",
        f"{_plus(aside)} LEAVES, any other key goes back.",
    )  # fmt: skip


def _wrong(view: View, aside: Aside, width: int) -> Laid:
    return _asks(
        TITLES[Page.WRONG], Tone.CAUTION, width,
        f"This run is for {aside.registration or view.aircraft}. Another registration on the"
        " placard ends it, and nothing is carried over.",
        f"{_plus(aside)} ENDS THE RUN, any other key goes back.",
    )  # fmt: skip


def _end(view: View, aside: Aside, width: int) -> Laid:
    return _asks(
        TITLES[Page.END], Tone.STRONG, width,
        "The log is signed and closed; nothing more is written to it.",
        f"{_plus(aside)} ENDS THE DAY, any other key goes back.",
    )  # fmt: skip


def _accept(view: View, aside: Aside, width: int) -> Laid:
    emergency = view.accept_class == EMERGENCY
    title = "CONTINUE, EMERGENCY ONLY" if emergency else TITLES[Page.ACCEPT_SURE]
    said = f"REASON: {aside.keys.reason}"
    defect = "Opens a defect. " if emergency else ""
    second = f"{defect}{_plus(aside)} ACCEPTS, any other key goes back."
    found = _asks(title, Tone.CAUTION, width, said, second)
    return found._replace(always=_question(view, width))


def _paper_sure(view: View, aside: Aside, width: int) -> Laid:
    keys = aside.keys
    by = voucher(view)
    others = [f"{n} {role.upper()}" for n, (role, _) in enumerate(view.crew, 1) if role != by]
    by_others = f", or BY: {', '.join(others)}" if others else ""
    first, last = int(keys.first or 0), int(keys.typed or 0)
    titles = [one.title for one in view.card if one.first <= last and one.last >= first]
    return _asks(
        TITLES[Page.PAPER_SURE], Tone.CAUTION, width,
        f"{first} TO {last} ON PAPER, CARD REVISION {view.revision}, BY {by.upper()}",
        f"In {', '.join(titles)}." if titles else "",
        "Ordinary steps are done by this; limits still want their values.",
        f"{_plus(aside)} CONFIRMS{by_others}. Else back.",
    )  # fmt: skip


_SECOND = {
    Page.DISCONTINUE: _discontinue,
    Page.LEAVE: _leave,
    Page.WRONG: _wrong,
    Page.END: _end,
    Page.ACCEPT_SURE: _accept,
    Page.PAPER_SURE: _paper_sure,
}


# On paper -----------------------------------------------------------------------------------------


def _paper(view: View, aside: Aside, width: int) -> Laid:
    title = f"{TITLES[Page.PAPER]}, REVISION {view.revision}"
    entries = [
        Entry(valued(one.title, f"{one.first} TO {one.last}", width, Tone.STRONG))
        for one in view.card
    ]
    return Laid(title, Tone.STRONG, (_typed(aside.keys),), entries)


def _typed(keys: KeyState) -> Row:
    digits = Span(f"{keys.typed} ", Tone.INPUT)
    if keys.first:
        return (Span(f"FROM {keys.first} TO "), digits, Span("   ENTER", Tone.TEXT, "enter"))
    return (Span("FROM "), digits, Span("   ENTER, then the last", Tone.TEXT, "enter"))


_READ = {
    Page.CREW: lambda view, clock, aside, width, height: crew_page(view, aside, width),
    Page.OPEN: lambda view, clock, aside, width, height: open_items_page(view, width),
    Page.FLIGHTS: lambda view, clock, aside, width, height: flights_page(view, clock, width),
    Page.KEPT: lambda view, clock, aside, width, height: kept_page(view, clock, width),
    Page.COPY: copy_page,
    Page.RECEIPT: lambda view, clock, aside, width, height: receipt_page(aside, width, height),
    Page.DOCUMENTS: lambda view, clock, aside, width, height: documents_page(view, aside, width),
    Page.KEYS: _keys,
}
