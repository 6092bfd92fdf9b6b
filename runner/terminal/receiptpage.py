"""The receipt on the screen: what the log has come to, to be copied, or read by a phone.

Rules: the head of the log stands whole, in groups that can be read out; the code for a camera is
drawn whole or not at all, and where it is not the page says what it would need and gives its text;
a cell that is filled is dark in the theme that writes dark on light, and light in every other.
"""

from __future__ import annotations

from collections.abc import Sequence

from runner.terminal.aside import Aside
from runner.terminal.rows import Span, Tone, cells
from runner.terminal.themes import DAY
from runner.terminal.turning import Entry, told

IN_A_ROW = 8
"""Groups of the head side by side: with their spaces no wider than the smallest screen."""
SPARE = 1
"""Rows of cells that the quiet zone may lose above and below where room is short: two modules above
and three below are left of the four that ISO/IEC 18004 asks for."""


def receipt_page(aside: Aside, width: int, height: int) -> list[Entry]:
    """The short code, how the log stands, its head, and the code for a camera or its text."""
    given = aside.receipt
    if not given.code:
        return [told(given.why or "There is no receipt.", width, Tone.STRONG)]
    groups = given.head
    rows = [groups[at : at + IN_A_ROW] for at in range(0, len(groups), IN_A_ROW)]
    out = [
        told(f"LOG SO FAR {aside.head_code}", width, Tone.BIG),
        told(given.state, width),
        told("HEAD OF THE LOG", width, Tone.STRONG)._replace(heads=True),
        Entry(tuple((Span(" ".join(row), Tone.BIG),) for row in rows)),
        told("Keep it away from this machine: it is a witness only there.", width),
    ]
    drawn = given.dark if aside.theme == DAY.name else given.light
    wide = cells(drawn[0]) if drawn else 0
    least = len(drawn) - 2 * SPARE
    if drawn and aside.blocks and wide <= width and least <= height:
        if aside.theme != DAY.name:
            key = aside.keymap.shown("f10")
            out.append(told(f"A camera reads it best in the day theme: {key}", width))
        return [*out, Entry(tuple((Span(row),) for row in fitted(drawn, height)), apart=True)]
    room = f"room of {wide} by {least} cells, here are {width} by {height}"
    why = f"it needs {room}" if drawn and aside.blocks else "this terminal cannot draw it"
    return [
        *out,
        told(f"No QR code: {given.why or why}. Its text:", width)._replace(heads=True, apart=True),
        told(given.code, width, Tone.STRONG),
    ]


def fitted(drawn: Sequence[str], height: int) -> Sequence[str]:
    """The rows of a code without so much of its quiet zone as a height has no room for, taken below
    first, where the odd number of modules leaves one more."""
    over = len(drawn) - height
    below, above = SPARE if over > 0 else 0, SPARE if over > SPARE else 0
    return drawn[above : len(drawn) - below]
