"""Keys of the page on paper: the first and the last number of the card, then who vouches for it.

Rules: digits only, so that a numeric pad does it; Enter or the decimal point goes on to the last
number, Enter to the page where a second key of a named person confirms; a number that the card does
not have is said at once; 0 before any other digit turns the page.
"""

from __future__ import annotations

from runner.engine.effects import CardRange, View
from runner.terminal.keystate import KeyState, Page, Result, open_page, say

LONGEST = 5


def on_card(keys: KeyState, key: str, now: int, view: View) -> Result | None:
    """A key for the numbers; None where it is none of theirs."""
    typed = keys.typed
    if key == "backspace":
        if typed:
            return keys._replace(typed=typed[:-1]), None
        return (keys._replace(typed=keys.first, first=""), None) if keys.first else None
    if key.isdigit():
        if key == "0" and not typed:
            return None
        if len(typed) >= LONGEST:
            return say(keys, "NO LONGER NUMBER IS TAKEN")
        return keys._replace(typed=typed + key), None
    if not typed:
        return say(keys, "TYPE THE FIRST NUMBER OF THE CARD" if not keys.first else "THE LAST ONE")
    if not within(view.card, int(typed)):
        return say(keys._replace(typed=""), f"THE CARD HAS NO {typed}")
    if not keys.first:
        return keys._replace(first=typed, typed=""), None
    if key != "enter":
        return keys, None
    if int(typed) < int(keys.first):
        return say(keys._replace(typed=""), f"THE LAST IS NOT BEFORE {keys.first}")
    first = keys.first
    return open_page(keys, Page.PAPER_SURE, now)._replace(first=first, typed=typed), None


def within(card: tuple[CardRange, ...], number: int) -> bool:
    """Whether the card has a number."""
    return not card or any(part.first <= number <= part.last for part in card)


def voucher(view: View) -> str:
    """Who vouches unless another one presses: the commander, or the only one aboard."""
    roles = [role for role, _ in view.crew]
    return "commander" if "commander" in roles or not roles else roles[0]


def paper_words(keys: KeyState, view: View, role: str = "") -> str:
    """What the crew says of a range that was done on paper."""
    by = role or voucher(view)
    return f"{by}: on paper {keys.first} to {keys.typed} revision {view.revision}"
