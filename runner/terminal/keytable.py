"""The table of keys for the documentation, from the same tables that the keys go by.

Rules: generated, never written by hand; one row a prompt for the answering keys, one row a command
for the numbered ones.
"""

from __future__ import annotations

from runner.engine.effects import Prompt
from runner.terminal.commands import COMMAND_SHEETS, FUNCTION_KEYS
from runner.terminal.keys import TABLE, Cell, Means

_DIGITS = {
    Prompt.FIRST_PAGE: "who has read it; the only way where two read it",
    Prompt.ASKING: "the value, the choice, or who looked",
    Prompt.READ_BACK: "the value in its place",
    Prompt.UNMET: "the value read now, the choice, or who looked",
    Prompt.WAITING: "the value asked for",
    Prompt.STATION: "ticks the item",
    Prompt.CHOOSING: "the choice; beside a value, `.` and then the choice",
    Prompt.CLOSED: "the next flight, or a page to look at",
}


def _said(cell: Cell) -> str:
    if cell.means is Means.SEND:
        return f"`{cell.text}`"
    return "says why not" if cell.means is Means.NOTE else cell.means.value


def answering() -> list[tuple[str, str, str, str]]:
    """Prompt, *as shown* (Space, `+`), *not so* (N, `-`), digits."""
    return [
        (prompt.value, _said(yes), _said(no), _DIGITS.get(prompt, "nothing"))
        for prompt, (yes, no) in TABLE.items()
    ]


def commands() -> list[tuple[str, str, str, str]]:
    """Function key, keys of a numeric pad, name, meaning."""
    keys = {id(command): name.upper() for name, command in FUNCTION_KEYS.items()}
    return [
        (keys.get(id(command), ""), "/ " + "0 " * sheet + str(number), command.label, command.help)
        for sheet, commands_ in enumerate(COMMAND_SHEETS)
        for number, command in enumerate(commands_, 1)
    ]


def markdown() -> str:
    """Both tables in Markdown."""
    out = ["| question | Space or + | N or - | digits |", "| --- | --- | --- | --- |"]
    out += [f"| {' | '.join(row)} |" for row in answering()]
    out += ["", "| key | on the pad | name | what it does |", "| --- | --- | --- | --- |"]
    out += [f"| {' | '.join(row)} |" for row in commands()]
    return "\n".join(out) + "\n"
