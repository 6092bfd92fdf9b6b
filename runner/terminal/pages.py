"""Whole pages: what stands over a list, and the questions that are pages of their own.

Rules: a page has a title and sheets; where there is more than one sheet the title says which one
stands and that 0 turns on; every line can be reached, none is cut; what is urgent stands on every
sheet. The sheets are cut here and nowhere else, so that a digit answers what is on the screen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from runner.engine.effects import Prompt, View
from runner.terminal.aside import Aside
from runner.terminal.clock import Clock
from runner.terminal.commands import COMMAND_SHEETS
from runner.terminal.fill import NEVER, Part, fit, least
from runner.terminal.keystate import Cut, Page
from runner.terminal.overlays import TITLES, laid, more
from runner.terminal.pages_day import closed_page, closed_title
from runner.terminal.pages_first import first_page
from runner.terminal.pages_list import memory_entries, station_count, station_entries
from runner.terminal.parts import running_rows
from runner.terminal.rows import Row, Rows, Span, Tone, block, cells, row_cells
from runner.terminal.turning import Entry, Sheet, cut, in_sheets, sheet_at

WHOLE = (Prompt.FIRST_PAGE, Prompt.STATION, Prompt.MEMORY_ITEMS, Prompt.CLOSED)
"""Questions that are pages of their own."""
ROOMY = 8
Title = tuple[str, str, Tone]
"""What stands at the left and at the right of a title, and its tone."""
Make = Callable[[int], Sequence[Entry]]
Which = Callable[[Sequence[Sheet]], int]
"""Which of the sheets stands."""


class Standing(NamedTuple):
    """The rows of what stands, and how it is cut."""

    rows: Rows
    cut: Cut


def overlay(view: View, clock: Clock, aside: Aside, width: int, height: int) -> Standing:
    """The page that a key laid over the list, at most `height` rows."""
    keys = aside.keys
    foot = (*_urgent(view, clock, aside, width), *block(keys.note, width, Tone.STRONG))
    height = max(1, height - len(foot))
    if keys.page is Page.MORE:
        sheet = min(keys.offset, len(COMMAND_SHEETS) - 1)
        head = title_rows((TITLES[Page.MORE], "", Tone.STRONG), sheet, len(COMMAND_SHEETS), width)
        rows = (*head, *more(view, sheet, width, height - len(head)))
        ends = [sum(map(len, COMMAND_SHEETS[: n + 1])) for n in range(len(COMMAND_SHEETS))]
        return Standing(
            _above(rows, foot, height), Cut(tuple(ends), (), tuple(range(len(COMMAND_SHEETS))))
        )
    page = laid(view, clock, aside, width, max(1, height - 1))
    stands, shown = _sheet(
        (page.title, "", page.tone), page.always, lambda _: page.entries,
        lambda stands: sheet_at(cut(stands).starts, keys.offset), width, height,
    )  # fmt: skip
    return Standing(_above(shown, foot, height), cut(stands))


def whole(
    view: View, clock: Clock, aside: Aside, width: int, height: int, foot: Sequence[Part] = ()
) -> Standing:
    """The question that is a page of its own, exactly `height` rows; `foot` stands below it."""
    # A line for what a key did not do: no sheet of what must be read is cut anew when one comes.
    spare = 1 if view.prompt is Prompt.FIRST_PAGE and height >= ROOMY else 0
    kept = max(0, height - max(spare, least(foot, NEVER)))
    title, make = _question(view, clock, aside, width)
    stands, shown = _sheet(title, (), make, lambda _: aside.keys.sheet, width, kept)
    return Standing(fit([Part("page", (shown,)), *foot], height), cut(stands))


def _question(view: View, clock: Clock, aside: Aside, width: int) -> tuple[Title, Make]:
    if view.prompt is Prompt.STATION:
        title = (view.title.upper(), station_count(view), Tone.STRONG)
        return title, lambda height: station_entries(view, width, height)
    if view.prompt is Prompt.MEMORY_ITEMS:
        many = f"{len(view.memory)} ITEM{'S' if len(view.memory) != 1 else ''}"
        title = (f"DRILL: {view.title}".upper(), many, Tone.WARNING)
        return title, lambda height: memory_entries(view, aside, width, height)
    if view.prompt is Prompt.CLOSED:
        title = (closed_title(view), "", Tone.BIG)
        return title, lambda height: closed_page(view, clock, aside, width, height)
    # What is as this person last saw it need not be read again, and the title does not ask for it.
    entries = first_page(view, clock, aside, width, 0)
    whole = all(entry.must for entry in entries if entry.rows)
    title = ("READ ALL OF THIS" if whole else "READ WHAT IS NEW", "", Tone.STRONG)
    return title, lambda height: first_page(view, clock, aside, width, height)


def _sheet(
    title: Title, always: Rows, make: Make, sheet: Which, width: int, height: int
) -> tuple[tuple[Sheet, ...], Rows]:
    """The sheets of a page and the rows of the one that stands, its title with them."""
    plain = title_rows(title, 0, 1, width)
    room = height - len(plain) - len(always)
    stands = in_sheets(make(room), room)
    if len(stands) == 1:
        return stands, (*plain, *always, *stands[0].rows)
    # The widest count there is: the title must not grow on a later sheet.
    most = len(title_rows(title, 99, 99, width))
    room = height - most - len(always)
    stands = in_sheets(make(room), room)
    at = min(sheet(stands), len(stands) - 1)
    head = title_rows(title, at, len(stands), width)
    gap: Rows = ((),) * (most - len(head))
    return stands, (*head, *gap, *always, *stands[at].rows)


def title_rows(title: Title, sheet: int, many: int, width: int) -> Rows:
    """The title of a page, what stands at the other end of it, and behind that which sheet stands
    and the key that turns on."""
    text, right, tone = title
    ends: Row = (Span(right, tone),) if right else ()
    if many > 1:
        gap = (Span("   "),) if right else ()
        turn = (Span(f"{sheet + 1} OF {many}  NEXT ", key="0"), Span("0", Tone.STRONG, "0"))
        ends = (*ends, *gap, *turn)
    if tone in (Tone.WARNING, Tone.BAND):
        ends = tuple(span._replace(tone=tone) for span in ends)
    room = width - cells(text) - row_cells(ends)
    if not ends:
        return block(text, width, tone)
    if room >= 2:
        return ((Span(text, tone), Span(" " * room, _paper(tone)), *ends),)
    return (*block(text, width, tone), ends)


def _paper(tone: Tone) -> Tone:
    """The tone of the gap behind a title: a band goes through to the edge."""
    return tone if tone in (Tone.WARNING, Tone.BAND, Tone.CAUTION) else Tone.TEXT


def _urgent(view: View, clock: Clock, aside: Aside, width: int) -> Rows:
    """By-times that run, and what was said with a warning: on every page."""
    maxima = tuple(one for one in view.running if one.maximum)
    rows: list[Row] = []
    if maxima:
        rows.extend(running_rows(view._replace(running=maxima), clock, width)[0])
    for said in aside.messages:
        if said.urgent:
            rows.extend(block(said.text, width, Tone.WARNING, 2))
    return tuple(rows)


def _above(rows: Rows, foot: Rows, height: int) -> Rows:
    """The page, and what is urgent at the foot of it."""
    gap = ((),) * max(0, height - len(rows)) if foot else ()
    return (*rows[:height], *gap, *foot)
