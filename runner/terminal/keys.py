"""Keys to words: a pure reducer, and the table of what a key means at each prompt.

Rules: one key answers one question at most, and two answers are a second apart; an answer within
0.4 s of a new question, a key that is held, keys in a burst, and pasted text answer nothing, and
the screen says so; no single key, and no Ctrl-C, ends a run; drills, discontinue and marks work at
every prompt. `-` at the start of an answer is "not so" and nothing else; only of a reading that may
be below zero, of which nothing can be "not so", it is the sign, and the hint says so. Where a value
may be typed, a digit never chooses, so that the first digit of a value cannot be taken for a
choice: choices are then behind the decimal point.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import NamedTuple

from runner.engine.effects import Listen, Prompt, View
from runner.terminal.commands import FUNCTION_KEYS
from runner.terminal.keystate import (
    ACCEPT_KEYS,
    ASK_BOUND,
    BACK_KEYS,
    BOUNCE_MS,
    BURST_MS,
    DRILL_KEY,
    GUARD_MS,
    HELD_MS,
    LONGEST_NUMBER,
    MORE_KEY,
    NOT_SO_KEYS,
    KeyState,
    Page,
    Result,
    answer,
    not_accepted,
    open_page,
    refuse,
    say,
)
from runner.terminal.pagekeys import (
    TURN_KEYS,
    as_opened,
    command_key,
    numbered_end,
    on_page,
    on_sheet,
    open_line,
    option,
    station_items,
)
from runner.terminal.reading import placed, still_to_read, stood, turn
from runner.terminal.turning import DIGITS
from runner.terminal.typed import digit_key, edited, ended_number, in_line
from runner.terminal.voicekeys import CALLER, VOICE_KEYS, voice_key

NAMED: Mapping[str, str] = {"as shown": "+", "not so": "n", "more": MORE_KEY}
"""Keys that a person's own table of keys sends by their name: what they are on the pad."""


class Means(StrEnum):
    """What a cell of the table does."""

    SEND = "send"
    RESPONSE = "the response asked for"
    FAULT = "ask which item"
    WRONG = "ask for a second key: wrong aircraft"
    END = "ask for a second key: end of day"
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
    Prompt.FIRST_PAGE: (_sends("page read"), Cell(Means.WRONG)),
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
    Prompt.CLOSED: (Cell(Means.END), _says("NO LIST IS OPEN")),
}
"""Prompt to the meaning of *as shown* and of *not so*."""


def press(keys: KeyState, key: str, now: int, view: View, listen: Listen) -> Result:
    """The next state and what to do for one key.

    `key` is a printable character or one of: enter, backspace, escape, pageup, pagedown, f1 to
    f12, paste, ctrl (any other control key), talk, transmit, or a name in `NAMED`. `now` is run
    time, ms. Never raises for a key.
    """
    if key in VOICE_KEYS:
        return voice_key(keys, key, now), None
    if key == CALLER:
        return keys._replace(caller_at=now), None
    after, action = _pressed(keys, key, now, view, listen)
    if key.isdigit() and keys.page is not Page.NONE and after.page is Page.NONE:
        after = after._replace(page_took_at=now)
    return as_opened(keys, after, view, listen), action


def _pressed(keys: KeyState, key: str, now: int, view: View, listen: Listen) -> Result:
    before, keys = keys, _timed(keys, key, now)
    if key == "paste":
        return refuse(keys, "PASTED TEXT ANSWERS NOTHING", now)
    if key == "ctrl":
        return say(keys, "NO KEY ENDS A RUN; / 0 9 LEAVES IT OPEN")
    if key in FUNCTION_KEYS:
        if keys.held:
            return keys._replace(note=before.note), None
        return command_key(keys, FUNCTION_KEYS[key], now, view)
    if key in NAMED:
        if keys.line is not None and keys.page is Page.NONE:
            return say(keys, "WORDS STAND THERE: ENTER, OR BACK")
        key = NAMED[key]
    keys = stood(keys, now, view)
    if keys.page is not Page.NONE:
        return on_page(keys, key, now, view, listen)
    if keys.line is not None:
        return in_line(keys, key, now, view)
    if key in ".,0123456789" and now - keys.page_took_at < GUARD_MS:
        # The rest of a value whose first digit a page took is no value; nor is what follows it.
        return say(keys._replace(page_took_at=now), f"{key} CAME BEHIND A PAGE: NOT TAKEN")
    if key == DRILL_KEY:
        return (keys, None) if keys.held else (open_page(keys, Page.DRILLS, now), None)
    if key in BACK_KEYS:
        if key == "backspace" and keys.typed:
            left = keys.typed[:-1] if key == "backspace" else ""
            return edited(keys, now)._replace(typed=left), None
        if view.prompt is Prompt.MEMORY_ITEMS and view.may_be_mistake and not keys.held:
            reason = not_accepted(keys, now)
            mistake = "drill opened by mistake"
            return refuse(keys, reason, now) if reason else answer(keys, mistake, view.ask, now)
        return keys, None
    if key == MORE_KEY:
        return open_page(keys, Page.MORE, now)._replace(typed="", early=False), None
    if key == "enter":
        if not keys.typed:
            # It ends nothing, and what the keys before it were told stays to be read.
            return keys._replace(note=before.note), None
        who = f"{view.waiting_for[0]}: " if both_look(view) else ""
        return ended_number(keys, now, who, view.ask)
    if key in TURN_KEYS and len(keys.cut.picks) > 1:
        return keys if keys.held else turn(keys, key, now), None
    if before.denied and not listen.number:
        # What usually follows the key of acceptance, a reason and *as shown*, is no answer here.
        if key.isdigit():
            return keys._replace(denied=True, note=before.note), None
        if key in ACCEPT_KEYS:
            return say(keys, "NOTHING WAS ACCEPTED; AGAIN GIVES THE ANSWER")
    if key in ACCEPT_KEYS or key in NOT_SO_KEYS or (key in ".," or key.isdigit()):
        return _answer(keys, key, now, view, listen)
    if len(key) == 1 and key.isprintable():
        return open_line(keys, key, now, view), None
    return keys, None


def _timed(keys: KeyState, key: str, now: int) -> KeyState:
    """The state with this key as the last one, and what its time says of it."""
    again, gap = key == keys.last, now - keys.last_at
    return keys._replace(
        last=key, last_at=now, note="", denied=False, held=again and gap < HELD_MS,
        bounced=again and gap < BOUNCE_MS,
        burst_at=now if not again and gap < BURST_MS else keys.burst_at,
    )  # fmt: skip


def settle(keys: KeyState, view: View, now: int) -> KeyState:
    """The state after effects came: a new question starts the guard and drops typed digits."""
    if view.ask == keys.ask:
        return keys._replace(sent=False, behind="")
    note = f"A NEW CALL CAME: TYPED {keys.typed} DROPPED" if keys.typed else ""
    if keys.behind:
        note = f"{keys.behind} CAME BEHIND AN ANSWER: NOT TAKEN"
    page = Page.NONE if keys.page in ASK_BOUND else keys.page
    keys = placed(keys._replace(page=page), view)
    return keys._replace(
        ask=view.ask, asked_at=now, typed="", early=False, sent=False, note=note, denied=False,
        behind="",
    )  # fmt: skip


def _answer(keys: KeyState, key: str, now: int, view: View, listen: Listen) -> Result:
    if takes_number(view, listen) and not (key in ACCEPT_KEYS or key in "nN"):
        if key == "-" and keys.typed and listen.low is not None and listen.low >= 0:
            return say(keys, "THIS VALUE IS NOT BELOW ZERO")
        if key.isdigit() or keys.typed or (key == "-" and begins_below_zero(listen)):
            return digit_key(keys, key, now)
        if key in ".," and view.options:
            return open_page(keys, Page.OPTIONS, now), None
        if key in ".,":
            return digit_key(keys, ".", now)
    if keys.typed:
        return say(keys, "DIGITS STAND THERE: ENTER, OR BACKSPACE")
    if key.isdigit():
        return _numbered(keys, int(key), now, view, listen)
    if key in ".,":
        return keys, None
    reason = not_accepted(keys, now)
    if reason:
        return refuse(keys, reason, now)
    return _cell(keys, key in ACCEPT_KEYS, now, view, listen)


def _cell(keys: KeyState, yes: bool, now: int, view: View, listen: Listen) -> Result:
    cell = TABLE[view.prompt][0 if yes else 1]
    if yes and each_reads(view):
        return say(keys, "EACH READS IT: EACH BY THE NUMBER OF THEIR OWN")
    if yes and (unread := still_to_read(keys, view)):
        return say(keys, unread)
    if yes and both_look(view) and view.prompt is Prompt.CAUTION:
        return say(keys, "BOTH LOOK: EACH BY THE NUMBER OF THEIR OWN")
    if cell.means is Means.SEND:
        who = f"{view.waiting_for[0]}: " if both_look(view) and cell.text == "not so" else ""
        return answer(keys, who + cell.text, view.ask, now)
    if cell.means is Means.FAULT:
        return open_page(keys, Page.FAULT, now), None
    if cell.means in (Means.WRONG, Means.END):
        page = Page.WRONG if cell.means is Means.WRONG else Page.END
        return open_page(keys, page, now), None
    if cell.means is Means.NOTE:
        return say(keys, cell.text)
    if both_look(view):
        return say(keys, "BOTH LOOK: EACH BY THE NUMBER OF THEIR OWN")
    if view.options:
        return say(keys, "CHOOSE BY NUMBER")
    if listen.responses and not listen.number:
        return answer(keys, listen.responses[0], view.ask, now)
    if listen.number and view.prompt is Prompt.UNMET:
        return say(keys, "LIMIT NOT MET: TYPE THE VALUE READ NOW")
    if listen.number:
        return say(keys, "A VALUE IS ASKED: TYPE WHAT IS READ")
    return say(keys, "NOTHING IS ASKED NOW")


def takes_number(view: View, listen: Listen) -> bool:
    """Whether digits are a value here: asked for, or in place of what is read back or offered."""
    instead = view.prompt in (Prompt.READ_BACK, Prompt.CHOOSING) and view.gauge is not None
    return listen.number or instead


def begins_below_zero(listen: Listen) -> bool:
    """Whether a number is asked that may be below zero, so that a sign may begin it."""
    return listen.number and listen.low is not None and listen.low < 0


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


def _numbered(keys: KeyState, digit: int, now: int, view: View, listen: Listen) -> Result:
    """A digit that answers: a choice, an item, a person."""
    choices: tuple[str, ...]
    if keys.sent:
        # Digits behind one that was taken: the answer's call says that they were none.
        behind = (keys.behind + str(digit))[:LONGEST_NUMBER]
        return say(keys._replace(behind=behind), "ANSWER BEING RECORDED")
    if view.prompt is Prompt.STATION:
        choices = tuple(f"tick {text}" for _, text in station_items(view, listen))
        at = on_sheet(keys, digit, len(choices))
        if at is None:
            other = 1 <= digit <= len(choices) <= DIGITS
            where = "IS ON ANOTHER SHEET: TURN BY 0" if other else "STANDS AT NO ITEM HERE"
            return say(keys, f"{digit} {where}")
        if at < len(view.items) and view.items[at].status == "answered":
            return say(keys, f"{digit} IS TICKED ALREADY")
        digit = at + 1
    elif view.prompt is Prompt.FIRST_PAGE:
        readers = seats(view)
        choices = tuple(f"{role}: page read" for role in readers)
        if 1 <= digit <= len(readers) and readers[digit - 1] == "ground" not in view.unread:
            return say(keys, f"{digit} IS GROUND, WHO IS NOT ASKED TO READ IT")
        if 1 <= digit <= len(choices) and (unread := still_to_read(keys, view)):
            return say(keys, unread)
    elif view.prompt is Prompt.CLOSED:
        return numbered_end(keys, digit, now, view)
    elif both_look(view) and view.options:
        choices = tuple(f"{view.waiting_for[0]}: {text}" for text in view.options)
    elif both_look(view) and listen.responses:
        choices = tuple(f"{role}: {listen.responses[0]}" for role in seats(view))
    else:
        choices = view.options
    if not choices:
        return refuse(keys, "NO NUMBER IS ASKED FOR HERE", now)
    if not 1 <= digit <= len(choices):
        # The digits of a value that is typed where none is asked: what follows at once is none.
        return refuse(keys, f"NO NUMBER {digit} HERE", now)
    reason = not_accepted(keys, now)
    return refuse(keys, reason, now) if reason else option(keys, choices[digit - 1], now, view)
