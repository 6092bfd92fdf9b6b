"""What a run has kept, to be looked at: crew, open items, snags and defects, the copy page.

Rules: nothing is left out and nothing is judged; what is not known says so; a figure stands in the
operator's order with its unit, as it is copied onto the paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from runner.engine.effects import Figure, View
from runner.terminal.aside import Aside
from runner.terminal.clock import Clock
from runner.terminal.open_items import (
    GROUNDED,
    accepted_texts,
    kept_of,
    kept_where,
    left_over,
    list_of,
    open_now,
    put_off_texts,
    step_text,
)
from runner.terminal.pagekeys import page_lines
from runner.terminal.pages_day import REPORT_NOTE, drawn, indented
from runner.terminal.rows import Rows, Span, Tone, beside, block, led, row_text
from runner.terminal.shell import Owed
from runner.terminal.turning import Entry, head, pick, told

NOT_KNOWN = "not known"
DRAWN_WIDTH = 60
DRAWN_HEIGHT = 18
LETTERS_AT = 44


def crew_page(view: View, aside: Aside, width: int) -> list[Entry]:
    """Who has which role and duty, the place, what is open; then who takes over."""
    out = [
        told(f"{role.upper()} {name}{_duty(view, role)}", width, Tone.BIG)
        for role, name in view.crew
    ]
    takeovers = page_lines(aside.keys, view, aside.listen)
    out += [pick(command.label, width, Tone.STRONG) for command in takeovers]
    out.append(told(f"PLACE: {place(view)}", width)._replace(apart=True))
    out += [told(text, width) for text in (_turning(view), *left_over(view))]
    out += [told(text, width) for text in owed_texts(aside.owed)]
    return out


def owed_texts(owed: Sequence[Owed]) -> list[str]:
    """Who owes which signature, and when it is given."""
    return [
        f"SIGNATURE OWED by {', '.join(one.names)}: {one.what}, given at END OF DAY, after shutdown"
        for one in owed
    ]


def _duty(view: View, role: str) -> str:
    if role == view.handling:
        return ", HANDLING"
    return ", MONITORING" if role in ("commander", "copilot") and view.handling else ""


def place(view: View) -> str:
    """Where the list stands."""
    if not view.title:
        return "no list is open"
    kind = f"DRILL {view.title}" if view.is_drill else view.title
    step = f", {view.number} {view.challenge}" if view.number else ""
    return f"{kind}{step}, {view.done} OF {view.required}"


def _turning(view: View) -> str:
    engine = "ENGINE RUNNING" if view.engine_running else "ENGINE STOPPED"
    rotor = "ROTOR TURNING" if view.rotor_turning else "ROTOR STOPPED"
    return f"{engine}, {rotor}" + (", IN FLIGHT" if view.airborne else "")


def open_items_page(view: View, width: int) -> list[Entry]:
    """The open lines of each list, what is put off and where it comes back, what was accepted."""
    out: list[Entry] = []
    for title, those in groupby(open_now(view), key=lambda line: list_of(view, line)):
        found = list(those)
        out.append(head(f"{title.upper()}, {len(found)} OPEN", width))
        for line in found:
            # nothing stands at its right: what is open must not look answered
            status = ": NOT MET" if line.status == "unmet" else ""
            out.append(told(f"{step_text(line)}{status}", width))
        if title == view.title and not view.is_drill:
            # the count beside the list's name is another one: it says what it counts
            counts = f"{view.done} OF {view.required}: STEPS REQUIRED BY NOW, AND THE CLOSING CALL"
            out.append(told(counts, width, Tone.SMALL))
    for name, texts in (
        ("PUT OFF", put_off_texts(view)),
        ("COMMANDER ACCEPTS", accepted_texts(view)),
    ):
        if texts:
            out.append(head(f"{name} ({len(texts)})", width))
            out += [told(text, width) for text in texts]
    return out or [told("NOTHING IS OPEN, PUT OFF OR ACCEPTED", width)]


def kept_page(view: View, clock: Clock, width: int) -> list[Entry]:
    """Snags and defects, numbered as they came, and what was flagged; each with when and where."""
    out: list[Entry] = []
    for name, kind in (
        ("SNAGS, TO BE WRITTEN UP", "snag"),
        ("DEFECTS OPEN", "defect"),
        ("FLAGS", "flag"),
    ):
        found = kept_of(view, kind)
        if found:
            out.append(head(f"{name} ({len(found)})", width))
        for number, one in enumerate(found, 1):
            text = f"{number}. {one.text}"
            tone = Tone.WARNING if one.grounding else Tone.TEXT
            first = block(f"{text}: {GROUNDED}" if one.grounding else text, width, tone, 3)
            out.append(Entry((*first, *indented(kept_where(one, clock), width, 3, Tone.SMALL))))
    return out or [told("NO SNAG AND NO DEFECT IS KEPT", width)]


def copy_page(view: View, clock: Clock, aside: Aside, width: int, height: int) -> list[Entry]:
    """Every figure for the paper technical log, in its order; drawn large where there is room."""
    if not view.figures:
        return [told("No figure is kept for the technical log.", width)]
    tall = aside.blocks and width >= DRAWN_WIDTH and height >= DRAWN_HEIGHT
    out: list[Entry] = []
    for flight, those in groupby(view.figures, key=lambda one: one.flight):
        if flight or out:
            out.append(head(f"FLIGHT {flight}" if flight else "DAY", width))
        out += [Entry(_figure(clock.figure(one), width, tall), apart=True) for one in those]
    return [*out, told(REPORT_NOTE, width, Tone.SMALL)._replace(ends=True)]


def _figure(one: Figure, width: int, tall: bool) -> Rows:
    """A figure in words, and beside them its value in large letters."""
    value = f"{one.value} {one.unit}".strip() if one.value else NOT_KNOWN
    tone = Tone.BIG if one.value else Tone.TEXT
    letters = drawn(one.value, width - LETTERS_AT, tall) if one.value else ()
    if not letters:
        return valued(one.label, value, width, tone)
    words = valued(one.label, value, LETTERS_AT - 4, tone)
    return beside(words, letters, LETTERS_AT - 2, 2)


def valued(left: str, right: str, width: int, tone: Tone) -> Rows:
    """A row with leaders, its right end in another tone."""
    rows = led(left, right, width, Tone.TEXT)
    last = row_text(rows[-1])
    if not right or not last.endswith(right):
        return rows
    return (*rows[:-1], (Span(last[: -len(right)]), Span(right, tone)))
