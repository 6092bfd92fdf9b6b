"""The receipt on the screen: whole at every size, its code whole or not there at all."""

from __future__ import annotations

from types import ModuleType

import pytest

from audit.receipt import Receipt as Given
from runner.commands.slip import shown
from runner.engine.effects import Prompt
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.keystate import KeyState, Page
from runner.terminal.layout import screen
from runner.terminal.rows import text
from runner.terminal.shell import Receipt

GIVEN = Given("ab" * 32, "20261124-215003-ab12cd", 3, 57, False, 1_795_557_003_412, "c0d1" * 16)
RECEIPT = shown(GIVEN)
SIZES = [
    Size(40, 12),
    Size(41, 21),
    Size(40, 40),
    Size(53, 20),
    Size(80, 24),
    Size(80, 32),
    Size(120, 40),
]
FILLED = set("\N{UPPER HALF BLOCK}\N{LOWER HALF BLOCK}\N{FULL BLOCK}")


def aside(theme: str = "day", **changes: object) -> Aside:
    keys = KeyState(page=Page.RECEIPT)
    given = Aside(keys=keys, receipt=RECEIPT, head_code="C0D1 C0D1", theme=theme)
    return given._replace(**changes)  # type: ignore[arg-type]


def rows_of(fakes: ModuleType, size: Size, beside: Aside) -> list[str]:
    clock = Clock(fakes.UTC_AT_ZERO, 0)
    return text(screen(fakes.view(prompt=Prompt.CLOSED), clock, size, beside)).split("\n")


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_head_and_code_stand_whole(fakes: ModuleType, size: Size) -> None:
    view = fakes.view(prompt=Prompt.CLOSED)
    seen = " ".join(fakes.every_sheet(view, size, aside()))
    assert " ".join(RECEIPT.head) in seen
    assert "LOG SO FAR C0D1 C0D1" in seen
    assert "still open, last line 57, 2026-11-24 21:50:03 UTC" in seen
    drawn = bool(FILLED & set(seen))
    assert drawn is (size.columns >= 41 and size.rows >= 22)
    if not drawn:
        assert GIVEN.short in "".join(seen.split())
        assert "No QR code: it needs room of 41 by 19 cells, here are " in seen


@pytest.mark.parametrize("theme", ["day", "night", "dark", "plain"])
def test_the_drawn_code_is_the_one_of_the_theme(fakes: ModuleType, theme: str) -> None:
    """Filled cells are dark by day, and light on the dark paper of the others."""
    wanted = RECEIPT.dark if theme == "day" else RECEIPT.light
    seen = rows_of(fakes, Size(120, 40), aside(theme))
    first = next(n for n, row in enumerate(seen) if FILLED & set(row))
    first -= next(n for n, row in enumerate(wanted) if FILLED & set(row))
    assert seen[first : first + len(wanted)] == [row.rstrip() for row in wanted]


def test_a_terminal_without_half_cells_gets_the_text(fakes: ModuleType) -> None:
    seen = " ".join(rows_of(fakes, Size(120, 40), aside(blocks=False)))
    assert not FILLED & set(seen)
    assert "this terminal cannot draw it" in seen
    assert GIVEN.short in "".join(seen.split())


def test_where_no_code_can_be_drawn_the_reason_stands(fakes: ModuleType) -> None:
    bare = RECEIPT._replace(dark=(), light=(), why="the package segno is not installed")
    seen = " ".join(rows_of(fakes, Size(120, 40), aside(receipt=bare)))
    assert "No QR code: the package segno is not installed" in seen


def test_without_a_receipt_the_page_says_why(fakes: ModuleType) -> None:
    none = aside(receipt=Receipt(why="The log is not being written."))
    assert "The log is not being written." in " ".join(rows_of(fakes, Size(40, 12), none))
