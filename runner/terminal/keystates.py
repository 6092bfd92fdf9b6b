"""What every key does in every state of the keyboard, found by pressing it.

Rules: nothing is written here of what a key does; each cell is what the reducer of keys did with
that key in that state, so the documentation cannot say otherwise. The states are made up, with the
least that makes each of them what it is.
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from runner.engine.effects import Gauge, Listen, Prompt, View
from runner.terminal.keymap import DEFAULT, called
from runner.terminal.keys import press, settle
from runner.terminal.keystate import Do, KeyState, Page

_CALM = 60_000
_ASK = 1
RESPONSE, REASON = "THE RESPONSE", "a reason"


class At(NamedTuple):
    """A state: its name in the table, the question, what answers it, and the keyboard over it."""

    name: str
    view: View
    listen: Listen
    keys: KeyState = KeyState()


def _view(prompt: Prompt = Prompt.ASKING, **changes: object) -> View:
    base = View(
        at=0, ask=_ASK, prompt=prompt, aircraft="", operator="", revision="", modes=(),
        crew=(("commander", ""), ("copilot", "")), handling="commander", flight=1, airborne=False,
        engine_running=False, rotor_turning=False, title="", flow="", is_drill=False, section="",
        number=1, done=0, required=1, challenge="", response=RESPONSE, who="handling",
        waiting_for=(), critical=False, gauge=None, unmet_why="", may_put_off=True,
        accept_class="commander", reasons=(REASON,), options=(), read_back="", blocked="",
        before=(), after=(), items=(), memory=(), put_off=(), open_lines=(), running=(),
        standby_since=None, standby_place="", lists=(), drills=(("drill", "FIRST DRILL"),),
        timers=(("timer", "THE TIMER"),), snags=(), defects=(), flags=(), drill_hint="",
        unread=(), marks=(),
    )  # fmt: skip
    return base._replace(**changes)  # type: ignore[arg-type]


_WORDS = Listen(_ASK, Prompt.ASKING, responses=(RESPONSE,))
_VALUE = Listen(_ASK, Prompt.ASKING, number=True, low=Decimal(0))
_COLD = _VALUE._replace(low=Decimal(-50))
_GAUGE = Gauge("", "", 0, "")


def states() -> tuple[At, ...]:
    """The states of the table, the list first."""
    choices = ("FIRST CHOICE", "SECOND CHOICE")
    return (
        At("a response is asked", _view(), _WORDS),
        At("a value is asked", _view(gauge=_GAUGE), _VALUE),
        At("a value that may be below zero", _view(gauge=_GAUGE), _COLD),
        At("digits stand there", _view(gauge=_GAUGE), _VALUE, KeyState(typed="12")),
        At("a choice is asked", _view(options=choices), _WORDS._replace(responses=choices)),
        At("both look", _view(who="both", waiting_for=("commander", "copilot")), _WORDS),
        At("words are typed", _view(), _WORDS, KeyState(line="word")),
        At("in flight", _view(airborne=True), _WORDS),
        At("standby", _view(Prompt.STANDBY), _WORDS),
        At("memory items", _view(Prompt.MEMORY_ITEMS, is_drill=True, may_be_mistake=True), _WORDS),
        At("the drills lie over it", _view(), _WORDS, KeyState(page=Page.DRILLS)),
        At("the commands lie over it", _view(), _WORDS, KeyState(page=Page.MORE)),
        At(
            "a second key is asked", _view(), _WORDS,
            KeyState(page=Page.ACCEPT_SURE, reason=REASON),
        ),
    )  # fmt: skip


def keys() -> tuple[str, ...]:
    """Every key that means something by default, digits but 0 and 1 left out, and a letter."""
    left = [key for key in DEFAULT if not (key.isdigit() and key not in "01") and key != "N"]
    return (*left, "a")


def cell(at: At, key: str) -> str:
    """What a key does in a state."""
    before = settle(at.keys, at.view, 0)._replace(
        page=at.keys.page, typed=at.keys.typed, note="", line_ask=_ASK
    )
    after, action = press(before, key, _CALM, at.view, at.listen)
    if action is not None:
        return f"`{action.text}`" if action.do is Do.SEND else action.do.value
    if (after.typed, after.line) != (before.typed, before.line):
        stands = after.line if after.line is not None else after.typed
        if stands:
            return f"stands: `{stands}`"
    if after.page is not before.page:
        return "the page closes" if after.page is Page.NONE else f"page *{after.page.value}*"
    if after.note:
        return f"says: {after.note.capitalize()}"
    return "the next sheet" if after.offset != before.offset else "nothing"


def table() -> list[tuple[str, ...]]:
    """The key, then its cell in each state."""
    every = states()
    return [(called(key), *(cell(at, key) for at in every)) for key in keys()]
