"""Keys of drills, commands and what takes a second key: from a list, by number and by words."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest

from runner.engine.effects import Prompt
from runner.terminal.keys import settle
from runner.terminal.keystate import GUARD_MS, HELD_MS, Action, Do, Page


def test_drills_page_and_a_drill_in_two_keys_from_every_prompt(board: Any) -> None:
    for prompt in Prompt:
        for key in ("f1", "*"):
            keyboard = board(prompt=prompt).key(key)
            assert keyboard.state.page is Page.DRILLS
            assert keyboard.key("4").sent == ["drill Oil pressure low"]


def test_drills_page_turns_and_closes(board: Any) -> None:
    keyboard = board().key("*", "0", "1")
    assert keyboard.sent == ["drill Magneto out of limits"]
    assert board().key("*", "*").state.page is Page.NONE
    assert board().key("*", "backspace").state.page is Page.NONE
    keyboard = board().key("*", "6", "6")
    assert keyboard.sent == ["drill Clutch slip or needles not joining"]


COMMANDS = [
    ("f2", "say again"),
    ("f3", "stand by"),
    ("f4", "put off"),
    ("f7", "mark take-off"),
]


@pytest.mark.parametrize(("key", "text"), COMMANDS)
def test_function_key_and_its_number_say_the_same(board: Any, key: str, text: str) -> None:
    assert board().key(key).sent == [text]
    assert board().key("/", key[1:]).sent == [text]
    assert board().key(key, key, after=HELD_MS - 1).sent == [text]


def test_commands_fit_the_state(board: Any) -> None:
    assert board(prompt=Prompt.STANDBY).key("f3").sent == ["continue"]
    assert board(airborne=True).key("f7").sent == ["mark landing"]
    assert board(may_put_off=False).key("f4").did == []
    assert board().key("f6", "2").sent == ["timer Starter"]
    assert board(timers=(("starter", "Starter"),)).key("f6").sent == ["timer Starter"]
    assert board(timers=()).key("f6").did == []
    assert board().key("f10").did == [Action(Do.THEME)]
    assert board().key("/", "0", "1").sent == ["unable"]
    assert board().key("/", "0", "7").sent == ["hand over"]
    assert board().key("/", "0", "0", "1").sent == ["next flight"]


def test_discontinue_takes_two_different_keys(board: Any) -> None:
    assert board().key("f9").did == []
    assert board().key("f9", "f9", "f9").did == []
    assert board().key("f9", "+").sent == ["discontinue"]
    assert board().key("/", "9", " ").sent == ["discontinue"]
    assert board().key("f9", "1").state.page is Page.NONE
    keyboard = board().key("f9")
    assert keyboard.key("+", after=GUARD_MS - 1).did == []


def test_accepting_takes_a_reason_and_a_second_key(board: Any, fakes: ModuleType) -> None:
    unmet = {"prompt": Prompt.UNMET, "accept_class": "commander"}
    reason = fakes.REASONS[1]
    keyboard = board(fakes.number(), **unmet).key("f8", "2")
    assert keyboard.did == []
    assert keyboard.state.page is Page.ACCEPT_SURE
    assert keyboard.key("+").sent == [f'commander: accept "{reason}"']
    unmet["accept_class"] = "emergency only"
    keyboard = board(fakes.number(), **unmet).key("f8", "2", "+")
    assert keyboard.sent == [f'commander: accept emergency "{reason}"']
    unmet["accept_class"] = "maintenance only"
    assert board(fakes.number(), **unmet).key("f8", "2", "+").did == []
    assert "MAINTENANCE" in board(**unmet).key("f8").state.note
    assert board(accept_class="").key("f8").state.page is Page.NONE


@pytest.mark.parametrize("accept_class", ["", "maintenance only"])
@pytest.mark.parametrize("keys", [("f8", "2", "+"), ("f8", "+"), ("f8", "2", " ")])
def test_the_keys_of_an_acceptance_that_is_denied_answer_nothing(
    board: Any, accept_class: str, keys: tuple[str, ...]
) -> None:
    keyboard = board(prompt=Prompt.UNMET, accept_class=accept_class).key(*keys, after=2000)
    assert keyboard.did == []
    assert "NOTHING WAS ACCEPTED" in keyboard.state.note
    # A deliberate key after it is an answer again.
    assert keyboard.key("+", after=2000).did != []


def test_a_value_is_typed_after_a_denied_acceptance_as_ever(board: Any, fakes: ModuleType) -> None:
    keyboard = board(fakes.number(), prompt=Prompt.UNMET, accept_class="").key("f8", "2")
    assert keyboard.state.typed == "2"


def test_an_acceptance_page_closes_with_its_question(board: Any, fakes: ModuleType) -> None:
    keyboard = board(prompt=Prompt.UNMET, accept_class="commander").key("f8", "2")
    keyboard.state = settle(keyboard.state, fakes.view(ask=8), keyboard.at)
    assert keyboard.state.page is Page.NONE


def test_typed_words(board: Any) -> None:
    keyboard = board().key(*"released", "enter")
    assert keyboard.sent == ["released"]
    keyboard = board().key("/", *"next flight", "enter")
    assert keyboard.sent == ["next flight"]
    keyboard = board().key("f5", *"vibration", "enter")
    assert keyboard.sent == ["snag vibration"]
    assert board().key("f5", "enter").sent == ["snag words later"]
    assert board().key("s", "backspace", "enter").did == []
    assert board().key(*"theme night", "enter").did == [Action(Do.THEME, "night")]


def test_typed_words_stay_bound_to_their_question(board: Any, fakes: ModuleType) -> None:
    keyboard = board().key(*"released")
    keyboard.view = fakes.view(ask=8)
    keyboard.state = settle(keyboard.state, keyboard.view, keyboard.at)
    assert keyboard.state.line == "released"
    assert keyboard.key("enter").did == [Action(Do.SEND, "released", 7)]


def test_leaving_takes_more_than_one_key(board: Any) -> None:
    assert board().key("/", "0", "9").did == []
    assert board().key("/", "0", "9", "+").did == [Action(Do.LEAVE)]
    assert board().key(*"leave run open", "enter").did == [Action(Do.LEAVE)]
    assert board().key("/", "0", "9", "1", "+").sent == ["RELEASED"]
