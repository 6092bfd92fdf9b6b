"""Keys to words: a pure reducer, and the table of what a key means at each prompt.

Rules: one key answers one question at most; an accept within 0.4 s of a new question, a key that is
held, and pasted text answer nothing, and the screen says so; digits typed too early are refused as
a whole, never in part; Enter ends what was typed and is nothing else; no single key, and no Ctrl-C,
ends a run; drills, discontinue and marks work at every prompt. `-` at the start of an answer is
"not so", except for a reading that may be below zero, where it begins the number. Where a value may
be typed, a digit never chooses, so that the first digit of a value cannot be taken for a choice:
choices are then behind the decimal point.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import NamedTuple

from runner.engine.effects import Listen, Prompt, View
from runner.terminal.commands import FUNCTION_KEYS, local
from runner.terminal.keystate import (
    ACCEPT_KEYS,
    ASK_BOUND,
    BACK_KEYS,
    BURST_MS,
    DRILL_KEY,
    GUARD_MS,
    HELD_MS,
    LONG_AGO,
    LONGEST_LINE,
    LONGEST_NUMBER,
    MORE_KEY,
    NOT_SO_KEYS,
    Action,
    Do,
    KeyState,
    Page,
    Result,
    not_accepted,
    open_page,
    say,
    send,
)
from runner.terminal.pagekeys import command_key, on_page, option, station_items


class Means(StrEnum):
    """What a cell of the table does."""

    SEND = "send"
    RESPONSE = "the response asked for"
    FAULT = "ask which item"
    NOTE = "nothing, and say"


class Cell(NamedTuple):
    """What one key means at one prompt; `text` is sent, or said where nothing is sent."""

    means: Means
    text: str = ""


def _sends(text: str) -> Cell:
    return Cell(Means.SEND, text)


def _says(text: str) -> Cell:
    return Cell(Means.NOTE, text)


_RESPONSE = Cell(Means.RESPONSE)
TABLE: Mapping[Prompt, tuple[Cell, Cell]] = {
    Prompt.FIRST_PAGE: (_sends("page read"), _says("IF IT IS NOT THIS ONE, TYPE: WRONG AIRCRAFT")),
    Prompt.ASKING: (_RESPONSE, _sends("not so")),
    Prompt.READ_BACK: (_sends("affirm"), _sends("not so")),
    Prompt.UNMET: (_RESPONSE, _sends("not so")),
    Prompt.WAITING: (_RESPONSE, _sends("condition lost")),
    Prompt.CLOSING: (_RESPONSE, _sends("not so")),
    Prompt.CAUTION: (_sends("roger"), _sends("not so")),
    Prompt.STATION: (_says("TICK EACH ITEM BY ITS NUMBER"), Cell(Means.FAULT)),
    Prompt.MEMORY_ITEMS: (_sends("memory items done"), _sends("not so")),
    Prompt.STANDBY: (_sends("continue"), _says("STANDING BY: AS SHOWN GOES ON")),
    Prompt.CHOOSING: (_says("CHOOSE BY NUMBER"), _sends("disregard")),
    Prompt.CLOSED: (_sends("end of day"), _says("NO LIST IS OPEN")),
}
"""Prompt to the meaning of *as shown* and of *not so*."""


def press(keys: KeyState, key: str, now: int, view: View, listen: Listen) -> Result:
    """The next state and what to do for one key.

    `key` is a printable character or one of: enter, backspace, escape, pageup, pagedown, f1 to
    f12, paste, ctrl (any other control key). `now` is run time, ms. Never raises for a key.
    """
    held = key == keys.last and now - keys.last_at < HELD_MS
    rushed = key != keys.last and now - keys.last_at < BURST_MS
    before, keys = keys, keys._replace(last=key, last_at=now, note="", denied=False)
    if key == "paste":
        return say(keys, "PASTED TEXT ANSWERS NOTHING")
    if key == "ctrl":
        return say(keys, "NO KEY ENDS A RUN; / 0 9 LEAVES IT OPEN")
    if key in FUNCTION_KEYS:
        if held:
            return keys._replace(note=before.note), None
        return command_key(keys, FUNCTION_KEYS[key], now, view)
    if keys.page is not Page.NONE:
        return on_page(keys, key, now, view, listen, held, rushed)
    if keys.line is not None:
        return _in_line(keys, key, now, view, listen)
    if key == DRILL_KEY:
        return (keys, None) if held else (open_page(keys, Page.DRILLS, now), None)
    if key in BACK_KEYS:
        return keys._replace(typed=keys.typed[:-1] if key == "backspace" else keys.typed), None
    if key == MORE_KEY:
        return open_page(keys, Page.MORE, now)._replace(typed="", early=False), None
    if key == "enter":
        return _number(keys, now, view) if keys.typed else (keys, None)
    if before.denied and not listen.number:
        # What usually follows the key of acceptance, a reason and *as shown*, is no answer here.
        if key.isdigit():
            return keys._replace(denied=True, note=before.note), None
        if key in ACCEPT_KEYS:
            return say(keys, "NOTHING WAS ACCEPTED; AGAIN GIVES THE ANSWER")
    if key in ACCEPT_KEYS or key in NOT_SO_KEYS or (key in ".," or key.isdigit()):
        return _answer(keys, key, now, view, listen, held, rushed)
    if len(key) == 1 and key.isprintable():
        return keys._replace(line=key, line_ask=view.ask, typed="", early=False), None
    return keys, None


def settle(keys: KeyState, view: View, now: int) -> KeyState:
    """The state after effects came: a new question starts the guard and drops typed digits."""
    if view.ask == keys.ask:
        return keys._replace(sent=False)
    note = f"A NEW CALL CAME: TYPED {keys.typed} DROPPED" if keys.typed else ""
    page = Page.NONE if keys.page in ASK_BOUND else keys.page
    return keys._replace(
        ask=view.ask, asked_at=now, typed="", early=False, sent=False, note=note, page=page,
        denied=False,
    )  # fmt: skip


def _number(keys: KeyState, now: int, view: View) -> Result:
    typed, keys = keys.typed, keys._replace(typed="")
    if keys.early:
        return say(keys._replace(early=False), f"{typed} TYPED TOO SOON: TYPE IT AGAIN")
    if keys.sent:
        return say(keys, "ANSWER BEING RECORDED")
    if typed in ("-", ".", "-."):
        return keys, None
    who = f"{view.waiting_for[0]}: " if both_look(view) else ""
    return send(keys, who + typed, view.ask)


def _answer(
    keys: KeyState, key: str, now: int, view: View, listen: Listen, held: bool, rushed: bool
) -> Result:
    if takes_number(view, listen) and not (key in ACCEPT_KEYS or key in "nN"):
        begins = listen.low is not None and listen.low < 0
        if key.isdigit() or keys.typed or (key == "-" and begins):
            return _digit(keys, key, now)
        if key in ".," and view.options:
            return open_page(keys, Page.OPTIONS, now), None
        if key in ".,":
            return _digit(keys, ".", now)
    if keys.typed:
        return say(keys, "DIGITS STAND THERE: ENTER, OR BACKSPACE")
    if key.isdigit():
        return _numbered(keys, int(key), now, view, listen, held, rushed)
    if key in ".,":
        return keys, None
    reason = not_accepted(keys, now, held, rushed)
    keys = keys._replace(accept_at=now)
    if reason:
        return say(keys, reason)
    return _cell(keys, key in ACCEPT_KEYS, now, view, listen)


def _digit(keys: KeyState, key: str, now: int) -> Result:
    if keys.sent:
        return say(keys, "ANSWER BEING RECORDED")
    early = keys.early or now - keys.asked_at < GUARD_MS
    typed = keys.typed
    if key == "-":
        typed = typed[1:] if typed.startswith("-") else "-" + typed
    elif key in ".,":
        typed = typed if "." in typed else typed + "."
    else:
        typed += key
    if len(typed) > LONGEST_NUMBER:
        return say(keys, "NO LONGER NUMBER IS TAKEN")
    return keys._replace(typed=typed, early=early), None


def _cell(keys: KeyState, yes: bool, now: int, view: View, listen: Listen) -> Result:
    cell = TABLE[view.prompt][0 if yes else 1]
    if yes and each_reads(view):
        return say(keys, "EACH READS IT: EACH BY THE NUMBER OF THEIR OWN")
    if cell.means is Means.SEND:
        who = f"{view.waiting_for[0]}: " if both_look(view) and cell.text == "not so" else ""
        return send(keys, who + cell.text, view.ask)
    if cell.means is Means.FAULT:
        return open_page(keys, Page.FAULT, now), None
    if cell.means is Means.NOTE:
        return say(keys, cell.text)
    if both_look(view):
        return say(keys, "BOTH LOOK: EACH BY THE NUMBER OF THEIR OWN")
    if view.options:
        return say(keys, "CHOOSE BY NUMBER")
    if listen.responses and not listen.number:
        return send(keys, listen.responses[0], view.ask)
    if listen.number and view.prompt is Prompt.UNMET:
        return say(keys, "LIMIT NOT MET: TYPE THE VALUE READ NOW")
    if listen.number:
        return say(keys, "A VALUE IS ASKED: TYPE WHAT IS READ")
    return say(keys, "NOTHING IS ASKED NOW")


def takes_number(view: View, listen: Listen) -> bool:
    """Whether digits are a value here: asked for, or in place of what is read back or offered."""
    instead = view.prompt in (Prompt.READ_BACK, Prompt.CHOOSING) and view.gauge is not None
    return listen.number or instead


def both_look(view: View) -> bool:
    """Whether the step is answered by each of several people."""
    return view.who == "both" and bool(view.waiting_for)


def each_reads(view: View) -> bool:
    """Whether the first page is read by two, each by a key of their own."""
    alone = {"solo", "single-pilot"} & set(view.modes)
    pilots = {"commander", "copilot"} & {*(role for role, _ in view.crew), *view.unread}
    return view.prompt is Prompt.FIRST_PAGE and not alone and len(pilots) > 1


def numbered_readers(view: View) -> tuple[str, ...]:
    """Who has still to read the first page, with the number of their key where two read it."""
    if not each_reads(view):
        return tuple(role.upper() for role in view.unread)
    return tuple(f"{seats(view).index(role) + 1} {role.upper()}" for role in view.unread)


def seats(view: View) -> tuple[str, ...]:
    """Roles in the order of the numbers that answer a both-look step or the first page."""
    known = tuple(role for role, _ in view.crew)
    wanted = view.unread if view.prompt is Prompt.FIRST_PAGE else view.waiting_for
    return known + tuple(role for role in wanted if role not in known)


def _numbered(
    keys: KeyState, digit: int, now: int, view: View, listen: Listen, held: bool, rushed: bool
) -> Result:
    """A digit that answers: a choice, an item, a person."""
    choices: tuple[str, ...]
    if view.prompt is Prompt.STATION:
        choices = tuple(f"tick {text}" for _, text in station_items(view, listen))
        if len(choices) > 9:
            return _digit(keys, str(digit), now)
    elif view.prompt is Prompt.FIRST_PAGE:
        choices = tuple(f"{role}: page read" for role in seats(view))
    elif both_look(view) and view.options:
        choices = tuple(f"{view.waiting_for[0]}: {text}" for text in view.options)
    elif both_look(view) and listen.responses:
        choices = tuple(f"{role}: {listen.responses[0]}" for role in seats(view))
    else:
        choices = view.options
    if not 1 <= digit <= len(choices):
        return say(keys, f"NO NUMBER {digit} HERE")
    if keys.sent or held or rushed or now - keys.asked_at < GUARD_MS:
        return say(keys, not_accepted(keys._replace(accept_at=LONG_AGO), now, held, rushed))
    return option(keys, choices[digit - 1], now, view)


def _in_line(keys: KeyState, key: str, now: int, view: View, listen: Listen) -> Result:
    line = keys.line or ""
    if key == "backspace":
        return keys._replace(line=line[:-1] if len(line) > 1 else None), None
    if key == "escape":
        return (keys, None) if line.strip() else (keys._replace(line=None), None)
    if key == "enter":
        said = " ".join(line.split())
        if not said:
            return keys._replace(line=None), None
        keys = keys._replace(line=None)
        own = local(said)
        if own == "leave":
            return keys, Action(Do.LEAVE)
        if own == "keys":
            return open_page(keys, Page.KEYS, now), None
        if own:
            return keys, Action(Do.THEME, own.removeprefix("theme").strip())
        if said.casefold() == "snag":
            said = "snag words later"
        return send(keys, said, keys.line_ask)
    if len(key) == 1 and key.isprintable():
        if len(line) >= LONGEST_LINE:
            return say(keys, f"AT MOST {LONGEST_LINE} CHARACTERS ARE TAKEN")
        return keys._replace(line=line + key), None
    return keys, None
