"""The full screen as a pure function: view, clock, size and what lies beside them, to rows.

Rules: exactly `size.rows` rows of exactly `size.columns` cells; the bands stand first and the input
row last, always; the current challenge, what is expected and why nothing goes on never yield to
anything else; a size below 40x12 shows what fits of the same order. Nothing here decides or writes.
"""

from __future__ import annotations

from runner.engine.effects import Line, Prompt, View
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.fill import NEVER, Part, blank, fit, spring
from runner.terminal.gauge import gauge_rows
from runner.terminal.keys import each_reads, numbered_readers, takes_number
from runner.terminal.keystate import Page
from runner.terminal.pages import (
    closed_page,
    counted,
    first_page,
    list_rows,
    memory_page,
    overlay,
    standby_page,
    station_page,
)
from runner.terminal.parts import (
    band_rows,
    band_words,
    challenge_rows,
    expected_rows,
    heading,
    identity,
    large_wait,
    message_parts,
    neighbours,
    option_rows,
    put_off_rows,
    running_rows,
)
from runner.terminal.rows import Row, Rows, Span, Tone, beside, block, clip, filled, wrap

SIDE_FROM = 100
SIDE_WIDTH = 38

_YES = {
    Prompt.FIRST_PAGE: "READ",
    Prompt.ASKING: "AS SHOWN",
    Prompt.READ_BACK: "AFFIRM",
    Prompt.CLOSING: "AS SHOWN",
    Prompt.CAUTION: "ROGER",
    Prompt.MEMORY_ITEMS: "ITEMS DONE",
    Prompt.STANDBY: "GO ON",
    Prompt.CLOSED: "END OF DAY",
}


def screen(view: View, clock: Clock, size: Size, aside: Aside | None = None) -> Rows:
    """The rows of the screen. `aside` holds the keyboard's state, bands and last message."""
    beside_it = aside if aside is not None else Aside()
    width = max(10, size.columns)
    bands = band_rows(band_words(view, beside_it.bands), width)
    bottom = input_rows(view, beside_it, width)
    room = max(1, size.rows - len(bands) - len(bottom))
    if beside_it.keys.page is not Page.NONE:
        note = block(beside_it.keys.note, width, Tone.STRONG)
        middle = overlay(view, beside_it, Size(width, size.rows), room - len(note))
        middle = (*middle[: max(0, room - len(note))], *note)
    elif width >= SIDE_FROM and room >= 18 and view.prompt not in _WHOLE_PAGES:
        main = width - SIDE_WIDTH - 3
        left = fit(parts_of(view, clock, beside_it, main), room)
        middle = beside(left, fit(side(view, clock, SIDE_WIDTH), room), main, 3)
    else:
        middle = fit(parts_of(view, clock, beside_it, width), room)
    rows = [*bands, *middle[:room], *((),) * (room - len(middle)), *bottom]
    return tuple(filled(row, width) for row in rows[: max(1, size.rows)])


_WHOLE_PAGES = (Prompt.FIRST_PAGE, Prompt.CLOSED)


def drills_per_page(view: View, aside: Aside, size: Size) -> int:
    """How many lines a numbered page has at this size; a shell puts it into `KeyState`."""
    bands = band_rows(band_words(view, aside.bands), max(10, size.columns))
    return max(1, min(9, size.rows - len(bands) - 3))


def parts_of(view: View, clock: Clock, aside: Aside, width: int) -> list[Part]:
    """The parts of the screen between bands and input row, from top to bottom."""
    said = message_parts(view, aside, width)
    if view.prompt is Prompt.FIRST_PAGE:
        return [*first_page(view, clock, aside, width), *said]
    if view.prompt is Prompt.CLOSED:
        return [*closed_page(view, clock, aside, width), *said]
    foot = foot_parts(view, clock, width)
    top = [
        Part("identity", ((), identity(view, aside, clock, width)), rank=40),
        heading(view, clock, width),
    ]
    if view.prompt is Prompt.MEMORY_ITEMS:
        return [*top, *memory_page(view, width), *said, *foot]
    if view.prompt is Prompt.STANDBY:
        return [*top, *standby_page(view, clock, width), *said, blank("gap", 8), *foot]
    body: list[Part] = [
        Part("before", neighbours(_around(view, view.before), width, last=True), rank=12),
        blank("above", 5),
        blank("above more", 22),
        *_caution(view, width),
        Part("challenge", challenge_rows(view, width, aside.blocks), rank=16),
        blank("below", 18),
    ]
    if view.prompt is Prompt.WAITING:
        body.append(Part("left", (_wait_left(view, clock, width),)))
    body.append(Part("expected", (expected_rows(view, width),), yields=30))
    if view.prompt is Prompt.STATION:
        body.extend(station_page(view, width))
    if view.gauge is not None:
        body.append(Part("gauge", gauge_rows(view.gauge, width), rank=3))
    numbered = not takes_number(view, aside.listen)
    yields = NEVER if numbered else 22
    body.append(Part("options", (option_rows(view, width, numbered),), yields=yields))
    body.append(Part("note", (waits(aside, width),), yields=2))
    body.extend(said)
    body.append(blank("after gap", 6))
    body.append(blank("after gap more", 23))
    body.append(Part("after", neighbours(_around(view, view.after), width, last=False), rank=14))
    return [*top, *body, *foot]


def _around(view: View, lines: tuple[Line, ...]) -> tuple[Line, ...]:
    """Neighbours; a station shows all its items already."""
    return () if view.prompt is Prompt.STATION else lines


def _caution(view: View, width: int) -> list[Part]:
    if view.prompt is not Prompt.CAUTION:
        return []
    return [Part("caution", (block("CAUTION", width, Tone.CAUTION),))]


def _wait_left(view: View, clock: Clock, width: int) -> Rows:
    one = large_wait(view)
    if one is None:
        return ()
    return block(f"{clock.left(one.ends)} LEFT", width, Tone.BIG)


def waits(aside: Aside, width: int) -> Rows:
    """That the call waits for its answer, once it has been made again."""
    if aside.waited < 10_000 or aside.calls < 2:
        return ()
    seconds = aside.waited // 1000
    text = f"CALLED {aside.calls} TIMES, WAITING {seconds // 60}:{seconds % 60:02}"
    return block(text, width, Tone.STRONG)


def foot_parts(view: View, clock: Clock, width: int) -> list[Part]:
    """What goes on beside the list: timers, put off, open, flags, snags."""
    parts = [spring(), blank("foot gap", 9)]
    if view.open_lines and view.prompt is Prompt.CLOSING:
        open_ones = tuple(f"{line.number} {line.challenge}" for line in view.open_lines)
        title = f"{view.title.upper()}, {len(open_ones)} OPEN"
        short = block(f"{title}: {open_ones[0]}", width, Tone.STRONG, 2)
        full = block(f"{title}: {', '.join(open_ones)}", width, Tone.STRONG, 2)
        parts.append(Part("open", (short, full), rank=4))
    running = running_rows(view, clock, width)
    if running[0]:
        parts.append(Part("running", running, rank=7))
    put_off = put_off_rows(view, width)
    if put_off:
        parts.append(Part("put off", put_off, rank=11, yields=20))
    for part in counted("FLAG", view.flags, width, 13):
        parts.append(Part(part.name, part.forms, part.rank, yields=15))
    if view.snags or view.defects:
        text = ", ".join(
            f"{len(texts)} {name}{'S' if len(texts) != 1 else ''}"
            for name, texts in (("SNAG", view.snags), ("DEFECT", view.defects))
            if texts
        )
        parts.append(Part("kept", ((), block(text, width)), rank=25))
    return parts


def side(view: View, clock: Clock, width: int) -> list[Part]:
    """The right column of a wide screen: the lists of the day, snags and defects."""
    return [
        Part("title", (block(f"FLIGHT {view.flight}", width, Tone.STRONG),)),
        Part("lists", ((), list_rows(view.lists, clock, width)), rank=1),
        blank("gap", 2),
        *[Part(p.name, ((), *p.forms), p.rank) for p in counted("DEFECT", view.defects, width, 3)],
        *[Part(p.name, ((), *p.forms), p.rank) for p in counted("SNAG", view.snags, width, 4)],
    ]


def input_rows(view: View, aside: Aside, width: int) -> Rows:
    """What is being typed, or the keys of this prompt."""
    keys = aside.keys
    if keys.line is not None and keys.page is Page.NONE:
        lines = wrap(f"> {keys.line}", width - 1) or (">",)
        last = lines[-1] + (" " if keys.line.endswith(" ") else "") + "_"
        rows: list[Row] = [(Span(line, Tone.INPUT),) for line in (*lines[:-1], last)]
        return tuple(rows[-3:])
    if keys.typed and keys.page is Page.NONE:
        unit = f" {aside.listen.unit}" if aside.listen.unit else ""
        return ((Span(f"> {keys.typed}_", Tone.INPUT), Span(f"{unit}  ENTER"[: width - 14])),)
    return ((Span(_hint(view, aside, width)),),)


def _page_hint(aside: Aside, width: int) -> str:
    page = aside.keys.page
    first = {
        Page.ACCEPT_SURE: "+ ACCEPTS",
        Page.DISCONTINUE: "+ DISCONTINUES",
        Page.LEAVE: "+ LEAVES",
        Page.KEYS: "",
        Page.MORE: "NUMBER OR WORDS  0 NEXT",
        Page.DRILLS: "NUMBER OPENS",
    }.get(page, "NUMBER CHOOSES")
    drills = "" if page is Page.DRILLS else "* DRILLS"
    for parts in ((first, "- BACK", drills), (first, "- BACK")):
        text = "  ".join(part for part in parts if part)
        if len(text) <= width:
            return text
    return clip(first, width)


def _hint(view: View, aside: Aside, width: int) -> str:
    number = takes_number(view, aside.listen)
    yes = _YES.get(view.prompt, "")
    first = f"+ {yes}" if yes else ""
    if view.prompt is Prompt.FIRST_PAGE and view.unread:
        by = " ".join(numbered_readers(view)) if each_reads(view) else view.unread[0].upper()
        first = f"READ BY {by}" if each_reads(view) else f"+ READ BY {by}"
    if view.prompt in (Prompt.ASKING, Prompt.UNMET, Prompt.WAITING):
        if number:
            first = "DIGITS, ENTER"
        elif view.options:
            first = "NUMBER CHOOSES"
        elif view.who == "both":
            first = "1 2 BOTH LOOK"
        elif not aside.listen.responses:
            first = ""
        else:
            first = "+ AS SHOWN"
    elif view.prompt is Prompt.STATION:
        first = "NUMBER TICKS"
    elif view.prompt is Prompt.CHOOSING:
        first = ". THEN NUMBER" if number else "NUMBER CHOOSES"
    if aside.keys.page is not Page.NONE:
        return _page_hint(aside, width)
    no = "- FAULT" if view.prompt is Prompt.STATION else "- NOT SO"
    if view.prompt is Prompt.WAITING:
        no = "- COND. LOST"
    if view.prompt in (Prompt.STANDBY, Prompt.CLOSED, Prompt.FIRST_PAGE):
        no = ""
    most = [first, no, "* DRILLS", "/ MORE", "F12 KEYS", f"F10 THEME: {aside.theme.upper()}"]
    while most:
        for gap in ("  ", " "):
            text = gap.join(part for part in most if part)
            if len(text) <= width:
                return text
        most.pop()
    return ""
