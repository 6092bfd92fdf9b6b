"""What a state of the gallery is: where it begins and what is done until its picture is taken.

Rules: a scene knows no row and no column, only words, keys and pages; a page is reached by the key
that the tables of the program give for it, so that a key that moves takes its pictures along.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import chain
from typing import NamedTuple

from runner.terminal.aside import Size
from runner.terminal.commands import COMMAND_SHEETS, FUNCTION_KEYS
from runner.terminal.keystate import MORE_KEY, Page
from tests.gallery.stage import DEMO, Moment, Opening, Seat, moment_before, opened, played

SIZES = (Size(40, 12), Size(80, 24), Size(120, 40))


class Keys(NamedTuple):
    """Keys, by the names that the reducer knows."""

    names: tuple[str, ...]


class Typed(NamedTuple):
    """Characters on the keyboard."""

    text: str


class Opens(NamedTuple):
    """The key that lays a page over the list."""

    page: Page


Doing = str | Keys | Typed | Opens | Callable[[Seat], None]


class Start(NamedTuple):
    """Where a scene begins: the first page without a `step`, else where a script asks that step;
    `step` "end" is the end of the script."""

    step: str = ""
    script: str = "normal"
    flight: int = 1
    opening: Opening = DEMO


class Scene(NamedTuple):
    """A state with a name for its folder, what it shows, and how it is reached."""

    name: str
    shows: str
    start: Start
    doings: tuple[Doing, ...] = ()


def at(step: str, *, script: str = "normal", flight: int = 1, opening: Opening = DEMO) -> Start:
    """Where a script asks a step."""
    return Start(step, script, flight, opening)


def keys(*names: str) -> Keys:
    """Keys, one after the other."""
    return Keys(names)


def way_to(page: Page) -> tuple[str, ...]:
    """The keys that open a page from the list: its function key, else its number on a sheet."""
    for name, command in FUNCTION_KEYS.items():
        if command.page is page:
            return (name,)
    for sheet, commands in enumerate(COMMAND_SHEETS):
        for number, command in enumerate(commands, 1):
            if command.page is page:
                return (MORE_KEY, *"0" * sheet, str(number))
    raise LookupError(f"no key opens the page {page.value}")


def pages_of_commands() -> tuple[Page, ...]:
    """The pages that a numbered command opens, in the order of the commands."""
    named = (command.page for command in chain.from_iterable(COMMAND_SHEETS))
    return tuple(dict.fromkeys(page for page in named if page is not Page.NONE))


def play(scene: Scene, size: Size) -> Seat:
    """The screen of a scene at a size."""
    start = scene.start
    if not start.step:
        moment = Moment(opened(start.opening)[0], 0, "")
    elif start.step == "end":
        moment = played(start.script, start.opening)[-2]
    else:
        moment = moment_before(start.script, start.step, start.flight, start.opening)
    seat = Seat(moment, start.opening, size)
    if moment.words:
        # The words that bring the question are said before the screen, for it to show their echo.
        seat.words(moment.words)
    for doing in scene.doings:
        match doing:
            case str():
                seat.words(doing)
            case Keys(names):
                seat.press(*names)
            case Typed(text):
                seat.type(text)
            case Opens(page):
                seat.press(*way_to(page))
            case _:
                doing(seat)
    return seat
