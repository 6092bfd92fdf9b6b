"""What a terminal reports: keys, clicks, and whether the keys come here at all.

Rules: what a terminal says of itself is no key, and counts in no guard of the keys; clicks (SGR
form, press and release, no motion) and focus are asked for when the screen comes and given up
before the terminal is given back; a report that is not understood does nothing; the numeric pad in
the mode of applications, as another program may have left it, sends its characters.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from typing import Any, NamedTuple, cast

from prompt_toolkit.input.ansi_escape_sequences import ANSI_SEQUENCES
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent, merge_key_bindings
from prompt_toolkit.key_binding.bindings.cpr import load_cpr_bindings
from prompt_toolkit.key_binding.key_bindings import KeyBindingsBase
from prompt_toolkit.keys import Keys

from runner.terminal.keymap import Keymap
from runner.terminal.keynames import reported
from runner.terminal.pointing import Point, read_point

FOCUS_IN, FOCUS_OUT = "\x1b[I", "\x1b[O"
_PAD = {
    **{chr(ord("p") + n): str(n) for n in range(10)},
    "j": "*", "k": "+", "l": ",", "m": "-", "n": ".", "o": "/",
}  # fmt: skip
_SINGLE = (
    Keys.ControlM, Keys.ControlJ, Keys.ControlH, Keys.Delete, Keys.Escape, Keys.PageUp,
    Keys.PageDown, Keys.BracketedPaste,
)  # fmt: skip


class Ears(NamedTuple):
    """Who is told of a key by its name, of a click, and of the keys going (False) or coming."""

    key: Callable[[str], None]
    point: Callable[[Point], None]
    focus: Callable[[bool], None]


def reports(mouse: bool) -> str:
    """What asks a terminal for its reports. XTerm Control Sequences, DECSET 1004 (focus), 1000
    (press and release), 1006 (SGR form); a console of Windows has other ways, and keeps to keys."""
    if os.name == "nt":
        return ""
    return "\x1b[?1004h" + ("\x1b[?1000h\x1b[?1006h" if mouse else "")


def understand_reports() -> None:
    """Makes the library's parser know the reports that it does not know by itself."""
    known = cast(dict[str, Any], ANSI_SEQUENCES)
    known[FOCUS_IN] = known[FOCUS_OUT] = Keys.Ignore
    for letter, character in _PAD.items():
        known.setdefault(f"\x1bO{letter}", character)
    known.setdefault("\x1bOM", Keys.ControlM)


def bindings(keymap: Keymap, ears: Ears) -> KeyBindings:
    """What the application does for everything that comes from the terminal."""
    understand_reports()
    found = KeyBindings()

    def pressed(event: KeyPressEvent) -> None:
        last = event.key_sequence[-1]
        ears.key(reported(last.key, last.data))

    def with_alt(event: KeyPressEvent) -> None:
        last = event.key_sequence[-1]
        name = reported(last.key, last.data if last.data.isprintable() else "")
        ears.key("alt-" + ("space" if name == " " else name))

    def pointed(event: KeyPressEvent) -> None:
        point = read_point(event.data) if keymap.mouse else None
        if point is not None:
            ears.point(point)

    def ignored(event: KeyPressEvent) -> None:
        if event.data in (FOCUS_IN, FOCUS_OUT):
            ears.focus(event.data == FOCUS_IN)

    found.add(Keys.Any)(pressed)
    for key in _SINGLE:
        found.add(key)(pressed)
    # A press of Escape and another key in the same moment look like Alt with that key, so only
    # those are looked for that mean something.
    for name in keymap.own:
        if name.startswith("alt-"):
            found.add(Keys.Escape, _after_escape(name.removeprefix("alt-")))(with_alt)
    found.add(Keys.Vt100MouseEvent)(pointed)
    found.add(Keys.Ignore)(ignored)
    for report in (Keys.WindowsMouseEvent, Keys.ScrollUp, Keys.ScrollDown):
        found.add(report)(lambda event: None)
    return found


def _after_escape(name: str) -> Keys | str:
    named = {"enter": Keys.ControlM, "space": " "}
    return named[name] if name in named else name if len(name) == 1 else Keys(name)


def answers_of_terminal() -> KeyBindingsBase:
    """The library's bindings that act without a field of text."""
    return merge_key_bindings([load_cpr_bindings()])


def throw_away_waiting() -> None:
    """Throws away what the terminal still holds: it was typed before this question."""
    try:
        import termios

        # one system's module: the checker for another finds nothing in it
        keyboard = termios.TCIFLUSH  # type: ignore[attr-defined,unused-ignore]
        termios.tcflush(sys.stdin.fileno(), keyboard)  # type: ignore[attr-defined,unused-ignore]
    except ImportError:
        _flush_console()
    except (OSError, ValueError):
        return


def _flush_console() -> None:
    try:
        import msvcrt
    except ImportError:
        return
    while msvcrt.kbhit():  # type: ignore[attr-defined,unused-ignore]
        msvcrt.getwch()  # type: ignore[attr-defined,unused-ignore]
