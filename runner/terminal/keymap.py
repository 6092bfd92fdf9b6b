"""A table of keys of one's own: which key of the terminal means which of our actions.

Rules: an own table is laid over the keys that the program comes with; a key means one action, an
action may have many keys; there is no action that accepts, discontinues or leaves by itself, so no
key can; what a crew may not be without has always a key, or the table is refused as a whole; inside
a line of words a key that is a character types itself. Nothing here reads a file.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from runner.terminal.voicekeys import CALLER, TALK, TRANSMIT

NOTHING = "nothing"


class Act(NamedTuple):
    """What a key may mean: its name, the key it stands for in the reducer, and what it does."""

    name: str
    key: str
    does: str


_DIGITS = tuple(
    Act(f"digit {n}", str(n), "a digit of a value, or the numbered line") for n in range(10)
)
ACTS: tuple[Act, ...] = (
    Act("as shown", "as shown", "as shown, seen by me"),
    Act("not so", "not so", "not so"),
    Act("drills", "f1", "the drills, numbered"),
    Act("more", "more", "the numbered pages of everything else; closes a page"),
    Act("say again", "f2", "the call once more"),
    Act("stand by", "f3", "holds the list, and goes on"),
    Act("put off", "f4", "sets the step aside"),
    Act("snag", "f5", "something noticed, kept for later"),
    Act("timer", "f6", "starts a by-time"),
    Act("mark", "f7", "take-off or landing, now"),
    Act("accept page", "f8", "the page where the commander accepts"),
    Act("discontinue page", "f9", "the page that leads to the shutdown list"),
    *_DIGITS,
    Act("point", ".", "the decimal point; choices beside a value"),
    Act("minus", "-", "not so, or the sign of a value below zero"),
    Act("enter", "enter", "ends what was typed"),
    Act("back", "backspace", "takes back a character; closes a page"),
    Act("page down", "pagedown", "turns a page"),
    Act("page up", "pageup", "turns a page back"),
    Act("theme", "f10", "day, night, dark-adapted, plain"),
    Act("keys", "f12", "what each key does here"),
    Act(TALK, TALK, "talk to the list"),
    Act(TRANSMIT, TRANSMIT, "transmitting on the radio: silence here"),
    Act(CALLER, CALLER, "by voice: the program calls, or the copilot reads"),
    Act(NOTHING, "", "nothing"),
)  # fmt: skip
NAMES: Mapping[str, Act] = {act.name: act for act in ACTS}

DEFAULT: Mapping[str, str] = {
    " ": "as shown", "+": "as shown", "n": "not so", "N": "not so", "-": "minus", "*": "drills",
    "f1": "drills", "/": "more", "f2": "say again", "f3": "stand by", "f4": "put off",
    "f5": "snag", "f6": "timer", "f7": "mark", "f8": "accept page", "f9": "discontinue page",
    **{str(n): f"digit {n}" for n in range(10)}, ".": "point", ",": "point", "enter": "enter",
    "backspace": "back", "escape": "back", "pagedown": "page down", "pageup": "page up",
    "f10": "theme", "f12": "keys",
}  # fmt: skip
"""Every key that means something where nobody made a table of their own, and its action."""

OF_VOICE: Mapping[str, str] = {"tab": TALK, "insert": CALLER}
"""Keys that mean something in a run by voice alone, where nobody gave them another meaning."""

NEEDED: tuple[tuple[tuple[str, ...], str], ...] = (
    (("as shown",), "no step could be answered by a key"),
    (("not so", "minus"), "what is wrong could not be said by a key"),
    (("drills",), "no drill could be opened by a key"),
    (("discontinue page", "more"), "the list could not be discontinued by a key"),
    *(((act.name,), "values and numbered lines could not be typed") for act in _DIGITS),
    (("point",), "values with decimals could not be typed"),
    (("minus",), "values below zero could not be typed"),
    (("enter",), "what was typed could not be ended"),
    (("back",), "what was typed could not be taken back"),
)
"""One of these actions must have a key, and what could not be done without."""


class Keymap(NamedTuple):
    """`own`: key to action, laid over `DEFAULT`; `mouse`: whether clicks are read; `fault`: why a
    table of one's own is not in force, one line, or empty."""

    own: Mapping[str, str] = {}
    mouse: bool = True
    fault: str = ""

    def means(self, key: str, in_words: bool = False) -> str:
        """The key of the reducer for a key of the terminal; empty where it means nothing.

        `in_words`: a line of words is open, in which a character is a character.
        """
        if key not in self.own or (in_words and len(key) == 1):
            return key
        return NAMES[self.own[key]].key

    def for_voice(self) -> Keymap:
        """The same with the keys of a run by voice, for what has no key of one's own."""
        given = set(self.own.values())
        more = {k: name for k, name in OF_VOICE.items() if name not in given and k not in self.own}
        return self._replace(own={**more, **self.own})

    def table(self) -> dict[str, str]:
        """Key to action as in force, the keys that mean nothing left out."""
        found = {**DEFAULT, **self.own}
        return {key: name for key, name in found.items() if name != NOTHING}

    def keys_of(self, name: str) -> tuple[str, ...]:
        """The keys of an action, one's own first."""
        mine = [key for key, act in self.own.items() if act == name]
        return (*mine, *(k for k, act in DEFAULT.items() if act == name and k not in self.own))

    def shown(self, key: str) -> str:
        """How the screen names a key of the pad: itself while it means what it means by default,
        else the key that has taken its place, or nothing."""
        name = DEFAULT.get(key, "")
        if not name or self.table().get(key) == name:
            return called(key)
        keys = self.keys_of(name)
        if not keys and name == "minus":
            keys = self.keys_of("not so")
        return called(keys[0]) if keys else ""


NO_OWN_KEYS = Keymap()

_CALLED = {" ": "SPACE", "pageup": "PAGE UP", "pagedown": "PAGE DOWN"}


def called(key: str) -> str:
    """A key as the screen and the table of keys call it: F13, SPACE, CTRL-T, +."""
    if key in _CALLED:
        return _CALLED[key]
    return key if len(key) == 1 and key.isalpha() and not key.isupper() else key.upper()


def lacking(own: Mapping[str, str]) -> Iterable[tuple[str, str]]:
    """What must have a key and would have none: the actions it takes, and what for."""
    given = set({**DEFAULT, **own}.values())
    for names, why in NEEDED:
        if not given & set(names):
            yield " or ".join(names), why
