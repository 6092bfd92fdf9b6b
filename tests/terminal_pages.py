"""Pages that a crew opens over the list: opened by their numbers, read sheet by sheet, put away.

Rules: a page is opened by the number that `/` shows for it; a sheet is turned by 0, a second after
the one before, and read from the screen; a page is read when its first sheet stands again.
"""

from __future__ import annotations

import re

from tests.terminal_crew import first_key
from tests.terminal_driver import Terminal

CREW = ("/", "0", "0", "4")
PAPER = ("/", "0", "0", "3")
CORRECT = ("/", "0", "6")
KEPT = ("/", "0", "0", "0", "3")
COPY_AT_THE_END, KEPT_AT_THE_END, FLIGHTS_AT_THE_END = ("1",), ("2",), ("3",)
_SHEET = re.compile(r"(\d+) OF (\d+) +NEXT 0$", re.M)


def open_page(screen: Terminal, keys: tuple[str, ...], title: str) -> None:
    """Presses the way to a page, and sees its title. A question that came meanwhile would put the
    page away: the first one stands when nothing is to read any more."""
    screen.see(lambda: "TO READ" not in screen.hint(), "the question behind the first page")
    screen.key(*keys, after_ms=1000)
    screen.see(lambda: screen.lines()[1].startswith(title), f"the page {title}")


def put_away(screen: Terminal) -> None:
    """Closes the page that lies over the list."""
    assert "BACK /" in screen.hint()
    screen.key("/", after_ms=1000)
    screen.see(lambda: "BACK /" not in screen.hint(), "what lay under the page")


def read_through(screen: Terminal) -> str:
    """The words of every sheet of the page that stands, one blank between them, and the page on
    its first sheet again. What lies outside the sheets is read with each."""
    found = []
    while True:
        rows = screen.lines()
        assert all(len(row) <= screen.columns for row in rows)
        found.append(" ".join(" ".join(rows[1:-1]).split()))
        sheet = _SHEET.search("\n".join(rows))
        if sheet is None:
            return found[0]
        at, last = int(sheet[1]), int(sheet[2])
        assert at == len(found)
        following = 1 if at == last else at + 1
        screen.key("0", after_ms=1000)
        screen.see_text(f"{following} OF {last} NEXT 0")
        if at == last:
            return " ".join(found)


def offered(screen: Terminal) -> str:
    """How the question that stands is answered, by the row of keys."""
    return first_key(screen.hint())
