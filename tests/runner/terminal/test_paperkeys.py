"""A range on paper by digits alone, and a second key of a named person."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest

from runner.engine.effects import CardRange
from runner.terminal.keystate import BOUNCE_MS, GUARD_MS, KeyState, Page
from runner.terminal.paperkeys import paper_words, within

OPENS = ("/", "0", "0", "3")


@pytest.fixture
def pad(fakes: ModuleType) -> Any:
    def make(**changes: Any) -> Any:
        changes = {"card": fakes.CARD, **changes}
        return fakes.Pad(fakes.view(**changes)).key(*OPENS)

    return make


def test_first_enter_last_enter_and_a_second_key(pad: Any) -> None:
    one = pad().key("3", "1", "enter", "4", "7", "enter")
    assert one.sent == []
    assert one.state.page is Page.PAPER_SURE
    assert "31 TO 47 ON PAPER, CARD REVISION 6, BY COMMANDER" in one.screen
    assert "or BY: 2 COPILOT" in one.screen
    assert one.key("+").sent == ["commander: on paper 31 to 47 revision 6"]
    assert one.state.typed == ""


def test_the_point_goes_on_as_enter_does(pad: Any) -> None:
    one = pad().key("3", "1", ".", "4", "7", ".")
    assert one.state.page is Page.PAPER
    assert one.key("enter", "+").sent == ["commander: on paper 31 to 47 revision 6"]


def test_who_vouches_is_who_presses_the_number(pad: Any) -> None:
    keys = ("3", "1", "enter", "4", "7", "enter")
    assert pad().key(*keys, "2").sent == ["copilot: on paper 31 to 47 revision 6"]
    assert pad().key(*keys, "1").sent == ["commander: on paper 31 to 47 revision 6"]
    assert pad().key(*keys, "3").state.page is Page.NONE
    assert pad().key(*keys, "-").sent == []


def test_the_second_key_is_a_later_one(pad: Any) -> None:
    one = pad().key("3", "1", "enter", "4", "7", "enter")
    assert one.key("+", after=GUARD_MS - 1).sent == []
    assert "TOO SOON" in one.screen
    assert one.key("+").sent == ["commander: on paper 31 to 47 revision 6"]


def test_a_number_that_the_card_does_not_have_is_said(pad: Any) -> None:
    one = pad().key("9", "9", "enter")
    assert "THE CARD HAS NO 99" in one.screen
    assert (one.state.first, one.state.typed) == ("", "")
    one.key("4", "7", "enter", "3", "1", "enter")
    assert "THE LAST IS NOT BEFORE 47" in one.screen
    assert one.state.page is Page.PAPER
    assert "THE LAST ONE" in one.key("enter").screen


def test_back_takes_a_digit_then_the_first_number_then_the_page(pad: Any) -> None:
    one = pad().key("3", "1", "enter", "4", "backspace")
    assert "FROM 31 TO ENTER" in one.screen
    assert "FROM 31 ENTER" in one.key("backspace").screen
    one.key("backspace", "backspace")
    assert one.state.page is Page.PAPER
    assert one.key("backspace").state.page is Page.NONE
    assert one.sent == []


def test_what_was_typed_there_is_no_answer_to_the_list(pad: Any) -> None:
    one = pad().key("3", "1", "/")
    assert (one.state.page, one.state.typed) == (Page.NONE, "")
    one = pad().key("3", "1", "*")
    assert (one.state.page, one.state.typed) == (Page.DRILLS, "")


def test_zero_turns_before_any_digit_and_is_a_digit_after_one(pad: Any) -> None:
    card = tuple(CardRange(f"List {n}", 10 * n, 10 * n + 9) for n in range(1, 20))
    one = pad(card=card)
    assert "1 OF 3" in one.screen
    assert "2 OF 3" in one.key("0").screen
    assert one.key("1", "0").state.typed == "10"


def test_no_number_is_longer_than_the_card_can_have(pad: Any) -> None:
    one = pad().key("1", "2", "1", "2", "1", "2")
    assert one.state.typed == "12121"
    assert "NO LONGER NUMBER" in one.screen


def test_without_a_card_in_the_view_the_engine_judges(fakes: ModuleType) -> None:
    assert within((), 700)
    assert within(fakes.CARD, 47)
    assert not within(fakes.CARD, 30)
    keys = KeyState(first="1", typed="9")
    alone = fakes.view(crew=(("copilot", "R Byrne"),))
    assert paper_words(keys, alone) == "copilot: on paper 1 to 9 revision 6"
    assert paper_words(keys, fakes.view(crew=())) == "commander: on paper 1 to 9 revision 6"


def test_two_equal_digits_of_a_number_are_two_and_a_bounce_is_none(pad: Any) -> None:
    one = pad().key("3").key("3", after=BOUNCE_MS)
    assert "FROM 33" in one.screen
    assert pad().key("3").key("3", after=BOUNCE_MS - 1).state.typed == "3"
    one.key("enter").key("4").key("0").key("0", after=BOUNCE_MS - 1)
    assert "FROM 33 TO 40" in one.screen


def test_a_held_enter_takes_no_number_twice(pad: Any) -> None:
    one = pad().key("3", "1", "enter").key("enter", after=BOUNCE_MS)
    assert (one.state.page, one.state.first, one.state.typed) == (Page.PAPER, "31", "")
