"""Digits that answer nothing: what is said of them, and that none of them passes a step."""

from __future__ import annotations

from types import ModuleType

import pytest

from runner.engine.effects import Prompt
from runner.terminal.keys import press, settle
from runner.terminal.keystate import GUARD_MS
from tests.runner.terminal.keyboard import Keyboard

CHOICES = ("FIRING", "NOT FIRING", "FIRE")


@pytest.fixture
def choice(fakes: ModuleType) -> Keyboard:
    return Keyboard(fakes.view(options=CHOICES), fakes.listen(responses=CHOICES))


@pytest.fixture
def plain(fakes: ModuleType) -> Keyboard:
    return Keyboard(fakes.view(), fakes.listen())


@pytest.mark.parametrize("gap", [10, 100, 300])
def test_a_number_where_none_is_asked_is_told_and_stays_told(plain: Keyboard, gap: int) -> None:
    plain.key("1").key("6", "5", "enter", after=gap)
    assert plain.did == []
    assert plain.state.note == "NO NUMBER IS ASKED FOR HERE"


@pytest.mark.parametrize("gap", [10, 100, 300])
def test_the_digits_behind_one_that_is_no_choice_choose_nothing(choice: Keyboard, gap: int) -> None:
    choice.key("6").key("1", "enter", after=gap)
    assert choice.did == []
    assert choice.state.note == "KEY HELD OR TOO QUICK: PRESS AGAIN"
    assert choice.key("1").sent == ["FIRING"]


def test_digits_behind_an_answer_are_not_taken_and_the_next_call_says_so(
    choice: Keyboard,
) -> None:
    view, heard = choice.view, choice.listen
    state, first = press(choice.state, "1", 1_000, view, heard)
    state, second = press(state, "6", 1_010, view, heard)
    state, third = press(state, "5", 1_020, view, heard)
    assert first is not None
    assert first.text == "FIRING"
    assert (second, third) == (None, None)
    state = settle(state, view._replace(ask=view.ask + 1), 1_030)
    assert state.note == "65 CAME BEHIND AN ANSWER: NOT TAKEN"
    # It is told once.
    assert settle(state, view._replace(ask=view.ask + 2), 9_000).note == ""


@pytest.mark.parametrize("gap", [10, 100, 300])
def test_a_second_digit_at_the_next_choice_is_not_taken(choice: Keyboard, gap: int) -> None:
    choice.key("1")
    choice.view = choice.view._replace(ask=choice.view.ask + 1)
    choice.state = settle(choice.state, choice.view, choice.at)
    choice.key("2", "3", after=gap)
    assert choice.sent == ["FIRING"]
    assert choice.state.note


def test_an_answer_without_a_new_call_tells_nothing_later(choice: Keyboard) -> None:
    state, _ = press(choice.state, "1", 1_000, choice.view, choice.listen)
    state, _ = press(state, "6", 1_010, choice.view, choice.listen)
    state = settle(state, choice.view, 1_020)
    assert settle(state, choice.view._replace(ask=8, prompt=Prompt.ASKING), 5_000).note == ""


def test_the_rest_of_a_value_whose_first_digit_a_page_took_is_not_taken(fakes: ModuleType) -> None:
    heard = fakes.listen(number=True)
    one = Keyboard(fakes.view(), heard).key("/", "2")
    assert one.sent == ["say again"]
    one.key("2", ".", "8", after=GUARD_MS - 1)
    assert one.state.typed == ""
    assert "8 CAME BEHIND A PAGE: NOT TAKEN" in one.state.note
    assert one.key("2", after=GUARD_MS).state.typed == "2"


def test_an_item_that_is_ticked_is_not_sent_again(fakes: ModuleType) -> None:
    first, *others = fakes.STATION
    items = (first._replace(status="answered"), *others)
    one = Keyboard(fakes.view(prompt=Prompt.STATION, items=items), fakes.listen()).key("1")
    assert one.sent == []
    assert one.state.note == "1 IS TICKED ALREADY"
