"""The paper sizes and the sizes of type, in millimetres.

Rules: what the crew acts on is never set smaller than `BODY`; furniture of the page may be.
Sources: sans serif, no long capitals or italics, a generous gap between lines: Degani, NASA
CR-177605 (1992), read in excerpts. Letters at least 0.10 inch (2.5 mm) high and a gap of a quarter
to a third of the letter between lines: the same report, from memory. The knee-board size of 5 by 8
inches, the left margin for rings: common practice, no published source.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

Size = Literal["a5", "knee"]


class Paper(NamedTuple):
    """One size: the sheet, and its margins at the top and bottom, left and right; in mm."""

    wide: float
    high: float
    ends: float
    left: float
    right: float


PAPERS: Final[dict[Size, Paper]] = {
    "a5": Paper(148.0, 210.0, 13.0, 13.0, 8.0),
    "knee": Paper(127.0, 203.0, 12.0, 11.0, 6.0),
}
CAPITAL: Final = 0.688
"""The height of a capital in Liberation Sans, in parts of the size."""
BODY: Final = 3.7
"""Capitals of 2.54 mm (0.10 inch): challenge, response, condition, caution, note."""
HEADING: Final = 4.0
TITLE: Final = 5.2
SMALL: Final = 2.9
"""What stands at the edge of the page, and the legend."""
LEADING: Final = 1.3
"""From line to line, in parts of the size: a gap of more than half a capital between capitals."""
