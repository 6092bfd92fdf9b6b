"""What a screen shows beside the view: what the keyboard holds, what was said, the fixed bands.

Rules: plain data; a `Message` is the last text said about the current question.
"""

from __future__ import annotations

from typing import NamedTuple

from runner.engine.effects import Listen, Prompt, Voice
from runner.terminal.keymap import NO_OWN_KEYS, Keymap
from runner.terminal.keystate import KeyState
from runner.terminal.shell import Document, Owed, Receipt


class Size(NamedTuple):
    """Cells of the terminal."""

    columns: int
    rows: int


class Message(NamedTuple):
    """A text that was said, its kind, whether it came with a warning sound, and when (run time,
    ms)."""

    text: str
    kind: Voice
    urgent: bool = False
    at: int | None = None


class Aside(NamedTuple):
    """`waited`: ms since the call, `calls`: how often it was called; `theme`: its name;
    `blocks`: whether the terminal can show half cells; `documents` and `machine`: of this run, for
    the first page; `receipt` and `owed` (signatures): while the page
    that shows them stands; `voice`: whether the run is worked by voice too."""

    keys: KeyState = KeyState()
    listen: Listen = Listen(0, Prompt.ASKING)
    bands: tuple[str, ...] = ()
    registration: str = ""
    head_code: str = ""
    messages: tuple[Message, ...] = ()
    waited: int = 0
    calls: int = 1
    theme: str = "day"
    blocks: bool = True
    keymap: Keymap = NO_OWN_KEYS
    documents: tuple[Document, ...] = ()
    machine: tuple[str, ...] = ()
    receipt: Receipt = Receipt()
    owed: tuple[Owed, ...] = ()
    voice: bool = False
