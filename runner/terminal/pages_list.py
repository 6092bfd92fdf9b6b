"""The questions of a list that are pages of their own: station, memory items, standby.

Rules: the items of a station keep their order and their numbers, open ones stand in bold capitals
with what is expected, the others with their answer or a word how they stand; memory items stand all
at once, as large as the height allows; standby says where the list is held and for how long.
"""

from __future__ import annotations

from runner.engine.effects import Line, View
from runner.terminal.aside import Aside
from runner.terminal.blocks import large
from runner.terminal.clock import Clock
from runner.terminal.fill import Part, blank
from runner.terminal.parts import answers_by, option_rows
from runner.terminal.rows import Row, Rows, Span, Tone, block, led
from runner.terminal.statuswords import capitals
from runner.terminal.turning import Entry

PASSED = ("answered", "on paper", "accepted", "not required")
WORDS = {"answered": "TICKED", "unmet": "FAULT"}


def station_count(view: View) -> str:
    """How many items of a station are open."""
    count = sum(line.status not in PASSED for line in view.items)
    return f"{count or 'NONE'} OPEN OF {len(view.items)}"


def station_entries(view: View, width: int, height: int) -> list[Entry]:
    """The items of a station; a ticked one has its answer always, and the word where all fit."""
    whole = [_item(line, width, True) for line in view.items]
    rows = sum(len(entry.rows) for entry in whole)
    if rows <= height:
        by = block(f"BY {answers_by(view)}" if view.who else "", width)
        return [Entry(by), *whole] if by and rows + len(by) <= height else whole
    return [_item(line, width, False) for line in view.items]


def _item(line: Line, width: int, whole: bool) -> Entry:
    """Open: bold capitals through to the right edge, as on the card. Passed: small, the answer at
    once behind its item. Two shapes, so that without colour neither is taken for the other."""
    room = max(1, width - 2)
    if line.status == "open":
        rows = led(line.challenge.upper(), line.expected, room, Tone.BIG)
        return Entry(rows, pick=True, apart=True)
    word = WORDS.get(line.status, line.status.upper())
    why = f": {capitals(line.why)}" if line.why else ""
    if line.status in PASSED:
        said = f"{line.answer}, {word}" if whole else line.answer
        text = f"{line.challenge}: {said if line.answer else f'{word}{why}'}"
        return Entry(block(text, room, Tone.SMALL, 4), pick=True, apart=True)
    said = f"{line.expected}? {word}{why}" if line.expected else f"{word}{why}"
    return Entry(led(line.challenge, said, room, Tone.CAUTION), pick=True, apart=True)


def memory_entries(view: View, aside: Aside, width: int, height: int) -> list[Entry]:
    """All memory items with their numbers: the largest form that shows all of them at once."""
    plain = [_memory(n, text, width) for n, text in enumerate(view.memory, 1)]
    forms: list[list[Rows]] = [plain, [((), *rows) if n else rows for n, rows in enumerate(plain)]]
    tall = [_tall(n, text, width) for n, text in enumerate(view.memory, 1)] if aside.blocks else []
    if tall and all(tall):
        forms.append(tall)
        forms.append([((), *rows) if n else rows for n, rows in enumerate(tall)])
    fitting = [form for form in forms if sum(map(len, form)) <= height]
    return [Entry(rows) for rows in (fitting[-1] if fitting else plain)]


def _memory(number: int, text: str, width: int) -> Rows:
    return block(f"{number} {text.removesuffix(': ').removesuffix(':')}", width, Tone.BIG, 2)


def _tall(number: int, text: str, width: int) -> Rows:
    """An item in words and below that in large letters."""
    letters = large(text.removesuffix(": ").upper(), width - 2, 3)
    if not letters:
        return ()
    return (*_memory(number, text, width), *((Span("  " + row, Tone.BIG),) for row in letters))


def standby_parts(view: View, clock: Clock, aside: Aside, width: int) -> list[Part]:
    """Place and elapsed time, large."""
    elapsed = clock.since(view.standby_since) if view.standby_since is not None else ""
    since = f" SINCE {clock.utc(view.standby_since)}" if view.standby_since is not None else ""
    place = (view.standby_place or f"{view.number} {view.challenge}").upper()
    plain = block(f"STANDBY {elapsed}{since}", width, Tone.BIG)
    tall: Rows = ()
    if aside.blocks and elapsed:
        tall = tuple((Span(row, Tone.BIG),) for row in large(elapsed, width, 1))
    held = block(f"HELD AT {place}", width, Tone.BIG, 2)
    letters: tuple[Row, ...] = ()
    if aside.blocks:
        letters = tuple((Span(row, Tone.BIG),) for row in large(place, width, 3))
    return [
        blank("gap", 6),
        Part("standby", (plain, (*plain, *tall)), rank=5),
        blank("gap", 7),
        Part("place", (held, (*held, *letters)), rank=12),
        blank("gap", 8),
        Part("options", option_rows(view, width, True), rank=6),
    ]
