"""The help behind one key: what it says a key does, the key does."""

from __future__ import annotations

import re
from types import ModuleType
from typing import Any

import pytest

from runner.engine.effects import Listen, Prompt, View
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.keyhelp import keys_here
from runner.terminal.keymap import Keymap
from runner.terminal.keys import press, settle
from runner.terminal.keystate import Do, KeyState, Page
from runner.terminal.layout import screen
from runner.terminal.rows import row_cells, text


def states(fakes: ModuleType) -> list[tuple[View, Listen]]:
    both = {"who": "both", "waiting_for": ("commander", "copilot")}
    made: list[tuple[dict[str, Any], Listen]] = [
        *(({"prompt": prompt}, fakes.listen()) for prompt in Prompt),
        *(({"prompt": p}, fakes.number()) for p in (Prompt.ASKING, Prompt.UNMET)),
        ({}, fakes.number(low=-50)), ({"options": ("ON", "OFF")}, fakes.listen()),
        (both, fakes.listen()), ({"options": ("ON", "OFF"), **both}, fakes.listen()),
        ({"prompt": Prompt.CAUTION, **both}, fakes.listen(responses=("ROGER",))),
        ({"may_put_off": False}, fakes.listen()), ({"timers": ()}, fakes.listen()),
        ({}, fakes.listen(responses=())),
        ({"prompt": Prompt.FIRST_PAGE, "unread": ("commander",), "modes": ("solo",)},
         fakes.listen()),
    ]  # fmt: skip
    return [(fakes.view(**changes), listen) for changes, listen in made]


def does(lines: list[str], key: str) -> str:
    """What the help says of a key; empty where it says nothing of it."""
    for line in lines:
        keys, _, what = line.partition(": ")
        if key in re.split(r" or ", keys):
            return what
    return ""


PRESSED = {"SPACE": " ", "N": "n", "-": "-", **{f"F{n}": f"f{n}" for n in (2, 3, 4, 6, 7, 8)}}


@pytest.mark.parametrize("name", PRESSED)
def test_what_the_help_says_of_a_key_is_what_it_does(fakes: ModuleType, name: str) -> None:
    for view, listen in states(fakes):
        lines = keys_here(view, Aside(listen=listen))
        said = does(lines, name)
        state = settle(KeyState(), view, 0)
        state, action = press(state, PRESSED[name], 10_000, view, listen)
        where = (view.prompt, name, said, state.note)
        if action is not None and action.do is Do.SEND:
            sent = action.text.rpartition(": ")[2]
            assert said.casefold() == sent.casefold(), where
        elif state.page is not Page.NONE:
            assert said, where
            assert not said.startswith("nothing"), where
        elif not state.typed:
            assert said.startswith("nothing"), where
        else:
            assert name == "-", where


def test_own_keys_are_in_the_help_and_lost_ones_are_not(fakes: ModuleType) -> None:
    own = Keymap({"f13": "as shown", "+": "nothing", "f2": "transmit", "ctrl-s": "say again"})
    lines = keys_here(fakes.view(), Aside(listen=fakes.listen(), keymap=own))
    assert does(lines, "F13") == does(lines, "SPACE") == "RELEASED"
    assert does(lines, "+") == ""
    assert does(lines, "CTRL-S") == "say again"
    assert does(lines, "F2").startswith("transmitting")


@pytest.mark.parametrize("size", [Size(40, 12), Size(80, 24), Size(120, 40)])
def test_every_line_of_the_help_can_be_turned_to(fakes: ModuleType, size: Size) -> None:
    for view, listen in states(fakes):
        aside = Aside(listen=listen)
        seen = []
        for sheet in range(12):
            keys = KeyState(page=Page.KEYS, offset=4 * sheet)
            rows = screen(view, Clock(0, 0), size, aside._replace(keys=keys))
            assert all(row_cells(row) == size.columns for row in rows)
            seen.append(" ".join(" ".join(span.text for span in row) for row in rows))
        shown = " ".join(" ".join(seen).split())
        for line in keys_here(view, aside):
            assert " ".join(line.split()) in shown or all(w in shown for w in line.split())


def test_a_caution_for_two_is_no_single_key(fakes: ModuleType) -> None:
    both = {"who": "both", "waiting_for": ("commander", "copilot")}
    view, listen = fakes.view(prompt=Prompt.CAUTION, **both), fakes.listen(responses=("ROGER",))
    shown = text(screen(view, Clock(0, 0), Size(40, 12), Aside(listen=listen)))
    assert "BOTH LOOK 1 2" in shown
    assert "ROGER +" not in shown
    state = settle(KeyState(), view, 0)
    held, action = press(state, "+", 10_000, view, listen)
    assert action is None
    assert held.note == "BOTH LOOK: EACH BY THE NUMBER OF THEIR OWN"
    _, action = press(state, "2", 10_000, view, listen)
    assert action is not None
    assert action.text == "copilot: ROGER"
