"""The question alone, where the screen itself could not be drawn: our fault must not hide a list.

Rules: uses none of the parts that draw the real screen, so that what failed there cannot fail here;
says first that the screen failed, then the question, all memory items and choices, what is typed
and what was said; the keys act as ever, on pages that have one sheet.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from runner.engine.effects import View
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.keystate import Page
from runner.terminal.layout import screen
from runner.terminal.rows import Row, Rows, Span, Tone, clean

FAILED = "THE SCREEN FAILED, THE LIST GOES ON"


def our_fault(fault: object) -> str:
    """A fault of the screen for the crew: what happened, that no step is lost by it, what to do.

    What the fault says of itself is for us, and stays out of a cockpit.
    """
    kind = type(fault).__name__ if isinstance(fault, BaseException) else "no name"
    return (
        f"A FAULT OF THE PROGRAM ({kind}); THE LIST STANDS WHERE IT STOOD. "
        "GO ON, BY CARD IF IT COMES AGAIN"
    )


def drawn(view: View, clock: Clock, size: Size, aside: Aside) -> Rows:
    """The rows of this moment; never raises."""
    try:
        return screen(view, clock, size, aside)
    except Exception as fault:
        return bare(view, size, aside, fault)


def bare(view: View, size: Size, aside: Aside, fault: Exception) -> Rows:
    """The question in words, `size` large; where rows lack, what was said gives way first."""
    width = max(1, size.columns)
    rows = [row for text, tone in _texts(view, aside, fault) for row in _rows(text, tone, width)]
    rows = rows[: size.rows]
    blank: Row = (Span(" " * width),)
    return (*rows, *(blank,) * (size.rows - len(rows)))


def _texts(view: View, aside: Aside, fault: Exception) -> Iterator[tuple[str, Tone]]:
    yield FAILED, Tone.BAND
    for band in aside.bands:
        yield band, Tone.BAND
    yield f"{view.title} {view.section}".strip(), Tone.TEXT
    yield f"{view.number or ''} {view.challenge}".strip(), Tone.STRONG
    yield f"{view.who}: {view.response}".strip(": "), Tone.STRONG
    for text in view.memory:
        yield text, Tone.STRONG
    for number, text in enumerate(view.options, 1):
        yield f"{number} {text}", Tone.TEXT
    keys = aside.keys
    if keys.page is not Page.NONE:
        yield f"page open: {keys.page}; / closes it", Tone.BAND
    if keys.typed or keys.line is not None:
        yield f"> {keys.line or keys.typed}_", Tone.INPUT
    for text in (view.read_back, view.unmet_why, view.blocked, keys.note):
        if text:
            yield text, Tone.TEXT
    for said in aside.messages:
        yield said.text, Tone.TEXT
    yield our_fault(fault), Tone.TEXT


def _rows(text: str, tone: Tone, width: int) -> Iterator[Row]:
    said = clean(text).upper()
    for line in textwrap.wrap(said, width):
        yield (Span(line.ljust(width), tone),)
