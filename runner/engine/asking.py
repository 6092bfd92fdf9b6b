"""What stands before the crew, and the half-made answers to it.

Rules: a half-made answer names the place it belongs to, and is worth nothing at another; nothing
here decides anything. Times are run time in milliseconds, -1 means never.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from runner.engine.effects import Prompt

NEVER = -1
Spot = tuple[int, int, int]
"""Visit, step, and condition of a wait."""


class Question(NamedTuple):
    """What stands before the crew: the place, and which condition of a wait (`sub`)."""

    prompt: Prompt
    visit: int = 0
    step: int = -1
    sub: int = -1

    @property
    def place(self) -> Spot:
        """Where the question stands, whatever the prompt."""
        return (self.visit, self.step, self.sub)


class Look(NamedTuple):
    """What one of two who must both look has answered, and where."""

    spot: Spot
    role: str
    text: str


class Pending(NamedTuple):
    """A value that was read back and wants *affirm*: where it was given, and when it was read."""

    value: str
    role: str
    source: str
    spot: Spot
    at: int


class Choosing(NamedTuple):
    """A choice the engine offers; `kind` says what the options mean, `spot` whose choice it is."""

    kind: str
    options: tuple[str, ...]
    spot: Spot = (0, -1, -1)


PLACED = ("unable", "plateau")
"""The kinds of choice that belong to one step and fall away when another is asked."""


class Standing(NamedTuple):
    """A standby: since when, and what was turning then."""

    since: int
    engine: bool
    rotor: bool


class Trend(NamedTuple):
    """The values read at one unmet limit, and from when its patience is counted."""

    visit: int
    step: int
    began: int
    points: tuple[tuple[int, str], ...] = ()
    noticed: int = NEVER


class Mistake(NamedTuple):
    """What goes back if the drill of visit `drill`, opened by a person, was opened by mistake.

    `values` (name, its type, its text) and `givers` of what its steps would give, its by-times,
    the choice or standby it came over, the drill it `replaced` and that one's own `before`.
    """

    drill: int
    values: tuple[tuple[str, str, str], ...] = ()
    givers: tuple[tuple[str, tuple[int, int]], ...] = ()
    timers: tuple[tuple[str, Any], ...] = ()
    choosing: Choosing | None = None
    standby: Standing | None = None
    replaced: str = ""
    before: Mistake | None = None
