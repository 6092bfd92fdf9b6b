"""What is typed before it is sent: the digits of a value, and a line of words.

Rules: Enter ends what was typed and is nothing else, a second after the first character of what was
typed in one go at the soonest, and not in the same moment as the key before it, so that no burst of
keys and no pasted text is a typed answer; digits typed before the question could be read are
refused as a whole, never in part; what was typed is bound to the question that stood when it was
begun; the words of having read the first page count no sooner than its key; a sign is taken only
where the value may lie below zero; a digit that comes twice by the bounce of its contact, or
because it is held, stands once.
"""

from __future__ import annotations

from runner.engine.effects import View
from runner.terminal.commands import local
from runner.terminal.keystate import (
    APART_MS,
    GUARD_MS,
    LONGEST_LINE,
    LONGEST_NUMBER,
    Action,
    Do,
    KeyState,
    Page,
    Result,
    answer,
    open_page,
    refuse,
    say,
)
from runner.terminal.reading import still_to_read

READ = "page read"
"""The words, behind whoever says them, of having read the first page."""
_NO_NUMBER = ("-", ".", "-.")
PAUSE_MS = 2_000
"""After so long, what is typed further is a go of its own."""
TOO_QUICK = "TYPED TOO QUICKLY: LOOK, THEN ENTER"


def digit_key(keys: KeyState, key: str, now: int) -> Result:
    """A digit, the point or the sign of a number."""
    if keys.sent:
        return say(keys, "ANSWER BEING RECORDED")
    if keys.bounced:
        return keys, None
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
    return edited(keys, now)._replace(typed=typed, early=early), None


def edited(keys: KeyState, now: int) -> KeyState:
    """The state with one more change to what is typed; after a pause a new go begins."""
    goes_on = bool(keys.typed or keys.line) and now - keys.edited_at < PAUSE_MS
    return keys._replace(typed_at=keys.typed_at if goes_on else now, edited_at=now)


def _too_quick(keys: KeyState, now: int) -> bool:
    again = keys.held and now - keys.burst_at < GUARD_MS
    return now - keys.typed_at < APART_MS or keys.burst_at == now or again


def ended_number(keys: KeyState, now: int, who: str, ask: int) -> Result:
    """Enter after digits; `who` is the prefix of the one who answers."""
    typed = keys.typed
    if keys.early:
        return say(keys._replace(typed="", early=False), f"{typed} TYPED TOO SOON: TYPE IT AGAIN")
    if keys.sent:
        return say(keys._replace(typed=""), "ANSWER BEING RECORDED")
    if _too_quick(keys, now):
        return refuse(keys, TOO_QUICK, now)
    keys = keys._replace(typed="")
    if typed in _NO_NUMBER:
        return keys, None
    return answer(keys, who + typed, ask, now)


def in_line(keys: KeyState, key: str, now: int, view: View) -> Result:
    """A key while a line of words is open."""
    line = keys.line or ""
    if key == "backspace":
        return edited(keys, now)._replace(line=line[:-1] if len(line) > 1 else None), None
    if key == "escape":
        return keys._replace(line=None), None
    if key == "enter":
        return _ended_line(keys, line, now, view)
    if len(key) == 1 and key.isprintable():
        if len(line) >= LONGEST_LINE:
            return say(keys, f"AT MOST {LONGEST_LINE} CHARACTERS ARE TAKEN")
        return edited(keys, now)._replace(line=line + key), None
    return keys, None


def _ended_line(keys: KeyState, line: str, now: int, view: View) -> Result:
    said = " ".join(line.split())
    if not said:
        return keys._replace(line=None), None
    if _too_quick(keys, now):
        return refuse(keys, TOO_QUICK, now)
    keys = keys._replace(line=None)
    own = local(said)
    if own == "leave":
        return keys, Action(Do.LEAVE)
    if own == "keys":
        return open_page(keys, Page.KEYS, now), None
    if own:
        return keys, Action(Do.THEME, own.removeprefix("theme").strip())
    words = said.casefold().rstrip(".!?")
    if words.endswith(READ) and (unread := still_to_read(keys, view)):
        return say(keys, unread)
    if said.casefold() == "snag":
        said = "snag words later"
    return answer(keys, said, keys.line_ask, now)
