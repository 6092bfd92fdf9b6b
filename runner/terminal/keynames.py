"""What the keys of a terminal are called: as the library reports them, and as people write them.

Rules: one name for one key, in small letters, a printable character being its own name; what two
keys send alike has one name (Tab and Ctrl-I); the numeric pad of a plain terminal sends the same
characters as the other digits, so its keys have their names; a name that no terminal reports is
none.
"""

from __future__ import annotations

import re

from prompt_toolkit.keys import Keys

_ALIKE = {
    Keys.ControlM: "enter", Keys.ControlJ: "enter", Keys.ControlH: "backspace",
    Keys.Delete: "backspace", Keys.Escape: "escape", Keys.PageUp: "pageup",
    Keys.PageDown: "pagedown", Keys.BracketedPaste: "paste", Keys.ControlI: "tab",
    Keys.ControlAt: "ctrl-space",
}  # fmt: skip
_MOVING = (
    "up", "down", "left", "right", "home", "end", "insert", "delete", "pageup", "pagedown",
)  # fmt: skip
_FUNCTION = tuple(f"f{n}" for n in range(1, 25))
_LETTERS = tuple("abcdefgklnopqrstuvwxyz")
KEPT = {
    "ctrl-c": "the hand presses it to end a program, and no key ends a run",
    "ctrl-h": "a terminal reports it as backspace", "ctrl-i": "a terminal reports it as tab",
    "ctrl-j": "a terminal reports it as enter", "ctrl-m": "a terminal reports it as enter",
    "paste": "pasted text answers nothing",
}  # fmt: skip
"""Names that are keys and yet cannot be given a meaning, and why."""
SPELT = {
    "space": " ", "plus": "+", "minus": "-", "star": "*", "slash": "/", "point": ".",
    "comma": ",", "return": "enter", "back": "backspace", "esc": "escape", "page up": "pageup",
    "page down": "pagedown", "pgup": "pageup", "pgdn": "pagedown", "ins": "insert",
}  # fmt: skip
"""Other spellings of a key in a table of keys; keypad + is written the same as +."""

NAMED = frozenset({
    *_FUNCTION, *(name for name in _MOVING if name != "delete"), "enter", "backspace", "escape",
    "tab", "shift-tab", "ctrl-space",
    *(f"ctrl-{letter}" for letter in _LETTERS), *(f"ctrl-{n}" for n in range(10)),
    *(f"{held}-{name}" for held in ("ctrl", "shift", "ctrl-shift") for name in _MOVING),
    *(f"ctrl-{name}" for name in _FUNCTION),
    *(f"alt-{chr(code)}" for code in range(0x21, 0x7F)), "alt-enter", "alt-space",
    *(f"alt-{name}" for name in ("up", "down", "left", "right", "home", "end")),
})  # fmt: skip
"""Every name of a key that is no single character."""


def reported(key: Keys | str, data: str) -> str:
    """The name of a key as the library reports it; `data` is what the terminal sent."""
    if key in _ALIKE:
        return _ALIKE[Keys(key)]
    name = key.value if isinstance(key, Keys) else key
    if len(data) == 1 and data.isprintable():
        return data
    for short, long in (("c-s-", "ctrl-shift-"), ("c-", "ctrl-"), ("s-", "shift-")):
        if name.startswith(short):
            return long + name.removeprefix(short)
    return name


def reduced(name: str) -> str:
    """A name for the reducer of keys, where no table gives it a meaning."""
    if name.startswith("ctrl-") and name.removeprefix("ctrl-").rpartition("-")[2] not in _MOVING:
        return "ctrl"
    return name


def read_name(text: str) -> str:
    """The name of a key as people write it, in any case and with spaces or signs between its
    parts; empty where there is no such key."""
    if len(text) == 1:
        return text if text.isprintable() else ""
    plain = " ".join(re.sub(r"_(?=.)", " ", text.casefold()).split())
    pad = plain.removeprefix("keypad ").removeprefix("pad ").removeprefix("num ")
    if len(pad) == 1 and pad != plain:
        return pad
    plain = SPELT.get(pad, SPELT.get(plain, plain))
    # A sign that joins is one between two names; the last one is the key itself.
    joined = re.sub(r"[ +]+(?=.)", "-", plain).replace("page-", "page") if plain[1:] else plain
    for start in ("control-", "ctl-", "c-"):
        if joined.startswith(start):
            joined = "ctrl-" + joined.removeprefix(start)
    if joined in KEPT or joined in NAMED or len(joined) == 1:
        return joined
    held, _, last = joined.rpartition("-")
    spelt = SPELT.get(last, last)
    named = f"{held}-{spelt if spelt != ' ' else 'space'}"
    return named if named in NAMED else ""
