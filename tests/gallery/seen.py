"""What the checks of the gallery look at: the words that stand on a screen, and which screens.

Rules: words are compared in capitals and with single spaces, so that a wrapped text is the same
text; of a wide screen the list is looked at, not the column beside it.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from runner.engine.effects import Prompt
from runner.terminal.keystate import Page
from runner.terminal.layout import SIDE_FROM, SIDE_WIDTH
from runner.terminal.rows import row_text
from tests.gallery.draw import Taken, gallery

LISTED = (
    Prompt.ASKING, Prompt.UNMET, Prompt.WAITING, Prompt.CLOSING, Prompt.CAUTION, Prompt.READ_BACK,
    Prompt.CHOOSING,
)  # fmt: skip
"""Prompts whose screen shows one challenge."""


def rows_of(one: Taken) -> list[str]:
    """The rows of a screen; of a wide one the left column alone, where a list stands beside it."""
    rows = [row_text(row) for row in one.rows["day"]]
    beside = one.size.columns >= SIDE_FROM and any(f"FLIGHT {one.view.flight}" in r for r in rows)
    if beside and on_list(one):
        return [row[: one.size.columns - SIDE_WIDTH - 3] for row in rows]
    return rows


def seen(one: Taken) -> str:
    """All words of a screen, in order, single spaces, capitals."""
    return flat(" ".join(rows_of(one)))


def flat(words: str) -> str:
    return " ".join(words.split()).upper()


def on_list(one: Taken) -> bool:
    """Whether the list is seen and no page lies over it."""
    return one.aside.keys.page is Page.NONE


def asked(one: Taken) -> bool:
    """Whether the screen shows one challenge."""
    return on_list(one) and one.view.prompt in LISTED


def each(wanted: Callable[[Taken], bool] = lambda one: True) -> pytest.MarkDecorator:
    """A test of every state at every size that is wanted."""
    chosen = [one for one in gallery() if wanted(one)]
    return pytest.mark.parametrize("one", chosen, ids=[one.named for one in chosen])
