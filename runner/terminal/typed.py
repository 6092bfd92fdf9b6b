"""What is typed before it is sent: the digits of a value, and a line of words.

Rules: Enter ends what was typed and is nothing else, a second after its first character at the
soonest, so that no burst of keys and no pasted text is a typed answer; digits typed before the
question could be read are refused as a whole, never in part; what was typed is bound to the
question that stood when it was begun; a digit that comes twice by the bounce of its contact, or
because it is held, stands once.
"""

from __future__ import annotations

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
    say,
)

_NO_NUMBER = ("-", ".", "-.")
TOO_QUICK = "TYPED TOO QUICKLY: LOOK, THEN ENTER"


def digit_key(keys: KeyState, key: str, now: int) -> Result:
    """A digit, the point or the sign of a number."""
    if keys.sent:
        return say(keys, "ANSWER BEING RECORDED")
    if keys.bounced:
        return keys, None
    early = keys.early or now - keys.asked_at < GUARD_MS
    typed = keys.typed
    begun = keys.typed_at if typed else now
    if key == "-":
        typed = typed[1:] if typed.startswith("-") else "-" + typed
    elif key in ".,":
        typed = typed if "." in typed else typed + "."
    else:
        typed += key
    if len(typed) > LONGEST_NUMBER:
        return say(keys, "NO LONGER NUMBER IS TAKEN")
    return keys._replace(typed=typed, early=early, typed_at=begun), None


def ended_number(keys: KeyState, now: int, who: str, ask: int) -> Result:
    """Enter after digits; `who` is the prefix of the one who answers."""
    typed = keys.typed
    if keys.early:
        return say(keys._replace(typed="", early=False), f"{typed} TYPED TOO SOON: TYPE IT AGAIN")
    if keys.sent:
        return say(keys._replace(typed=""), "ANSWER BEING RECORDED")
    if now - keys.typed_at < APART_MS:
        return say(keys, TOO_QUICK)
    keys = keys._replace(typed="")
    if typed in _NO_NUMBER:
        return keys, None
    return answer(keys, who + typed, ask, now)


def in_line(keys: KeyState, key: str, now: int) -> Result:
    """A key while a line of words is open."""
    line = keys.line or ""
    if key == "backspace":
        return keys._replace(line=line[:-1] if len(line) > 1 else None), None
    if key == "escape":
        return (keys, None) if line.strip() else (keys._replace(line=None), None)
    if key == "enter":
        return _ended_line(keys, line, now)
    if len(key) == 1 and key.isprintable():
        if len(line) >= LONGEST_LINE:
            return say(keys, f"AT MOST {LONGEST_LINE} CHARACTERS ARE TAKEN")
        return keys._replace(line=line + key), None
    return keys, None


def _ended_line(keys: KeyState, line: str, now: int) -> Result:
    said = " ".join(line.split())
    if not said:
        return keys._replace(line=None), None
    if now - keys.typed_at < APART_MS:
        return say(keys, TOO_QUICK)
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
    return answer(keys, said, keys.line_ask, now)
