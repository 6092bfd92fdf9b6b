"""Turning the page of a question, and having read the first one: which sheets have stood.

Rules: a sheet counts as read when it has stood on the screen for the guard's time, with nothing
laid over it; the page counts as read when every line that must be read has stood; another question
begins at its first sheet; a flight begins with what it skips. What was read is counted in lines and
not in sheets, so that another size of the terminal in between makes nothing read that was not.
"""

from __future__ import annotations

from runner.engine.effects import Prompt, View
from runner.terminal.keystate import GUARD_MS, KeyState, Page
from runner.terminal.turning import turned


def placed(keys: KeyState, view: View) -> KeyState:
    """The state at a question: another page begins at its first sheet, the same one stays."""
    keys = _flight(keys, view)
    place = f"{view.prompt.value}, {view.flow}, {view.flight}"
    if place == keys.place:
        return keys
    return keys._replace(place=place, sheet=0, read=0)


def _flight(keys: KeyState, view: View) -> KeyState:
    """The state at the beginning of a flight: what it skips as still valid is shown before its
    first question, over the list, and answers nothing."""
    before, keys = keys.flight, keys._replace(flight=view.flight)
    on_list = view.prompt not in (Prompt.FIRST_PAGE, Prompt.CLOSED)
    skips = on_list and any(line.status == "still valid" for line in view.lists)
    if not before or view.flight <= before or not skips or keys.page is not Page.NONE:
        return keys
    return keys._replace(page=Page.FLIGHTS, begins=True, offset=0)


def stood(keys: KeyState, now: int, view: View) -> KeyState:
    """The state with what has stood on the screen until this key."""
    if keys.page is not Page.NONE:
        return keys._replace(sheet_at=now)
    must = keys.cut.must
    if view.prompt is not Prompt.FIRST_PAGE or not must:
        return keys
    sheet = min(keys.sheet, len(must) - 1)
    before = must[sheet - 1] if sheet else 0
    if before > keys.read or now - max(keys.sheet_at, keys.asked_at) < GUARD_MS:
        return keys
    return keys._replace(read=max(keys.read, must[sheet]))


def turn(keys: KeyState, key: str, now: int) -> KeyState:
    """The state with the next sheet of the question's page, or the one before."""
    sheet = turned(keys.sheet, len(keys.cut.picks), key == "pageup")
    return keys._replace(sheet=sheet, sheet_at=now)


def still_to_read(keys: KeyState, view: View) -> str:
    """Which sheet of the first page has still to be read; empty when all have stood."""
    must = keys.cut.must
    if view.prompt is not Prompt.FIRST_PAGE or not must or keys.read >= must[-1]:
        return ""
    sheet = next(n for n, end in enumerate(must, 1) if end > keys.read)
    if len(must) == 1:
        return "READ ON: IT HAS JUST COME"
    return f"READ ON: {sheet} OF {len(must)}, BY 0"
