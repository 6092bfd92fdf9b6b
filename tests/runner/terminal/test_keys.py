"""Keys: one key answers one question, held, early and pasted keys answer none."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine.effects import Listen, Prompt
from runner.terminal.aside import Aside
from runner.terminal.hints import input_rows
from runner.terminal.keys import TABLE, Means, press, settle
from runner.terminal.keystate import GUARD_MS, HELD_MS, Action, Do, KeyState, Page
from runner.terminal.rows import text

YES = {
    Prompt.FIRST_PAGE: [],  # two read it, each by a key of their own
    Prompt.ASKING: ["RELEASED"],
    Prompt.READ_BACK: ["affirm"],
    Prompt.UNMET: ["RELEASED"],
    Prompt.WAITING: ["RELEASED"],
    Prompt.CLOSING: ["RELEASED"],
    Prompt.CAUTION: ["roger"],
    Prompt.STATION: [],
    Prompt.MEMORY_ITEMS: ["memory items done"],
    Prompt.STANDBY: ["continue"],
    Prompt.CHOOSING: [],
    Prompt.CLOSED: [],
}
NO = {
    **{prompt: ["not so"] for prompt in Prompt},
    Prompt.FIRST_PAGE: [],  # it would end the run, which no single key does
    Prompt.WAITING: ["condition lost"],
    Prompt.STATION: [],
    Prompt.STANDBY: [],
    Prompt.CHOOSING: ["disregard"],
    Prompt.CLOSED: [],
}


def test_table_has_a_cell_for_every_prompt() -> None:
    assert set(TABLE) == set(Prompt)
    assert all(cell.text for row in TABLE.values() for cell in row if cell.means is Means.SEND)


@pytest.mark.parametrize("prompt", list(Prompt))
@pytest.mark.parametrize("key", [" ", "+"])
def test_as_shown_at_every_prompt(board: Any, prompt: Prompt, key: str) -> None:
    keyboard = board(prompt=prompt).key(key)
    assert keyboard.sent == YES[prompt]
    if not YES[prompt]:
        assert keyboard.state.note or keyboard.state.page is Page.END


@pytest.mark.parametrize("prompt", list(Prompt))
@pytest.mark.parametrize("key", ["-", "n", "N"])
def test_not_so_at_every_prompt(board: Any, prompt: Prompt, key: str) -> None:
    assert board(prompt=prompt).key(key).sent == NO[prompt]


def test_words_that_begin_with_the_key_of_not_so_begin_behind_the_key_for_more(board: Any) -> None:
    keyboard = board().key("/", *"next flight")
    assert (keyboard.state.line, keyboard.did) == ("next flight", [])


@pytest.mark.parametrize("prompt", list(Prompt))
def test_enter_escape_control_and_paste_answer_nothing(board: Any, prompt: Prompt) -> None:
    keyboard = board(prompt=prompt).key("enter", "escape", "backspace", "ctrl", "paste")
    assert keyboard.did == []
    assert "PASTED" in keyboard.state.note


def test_accept_within_the_guard_is_ignored_and_said(board: Any) -> None:
    keyboard = board()
    keyboard.key(" ", after=GUARD_MS - 1)
    assert keyboard.did == []
    assert "TOO SOON" in keyboard.state.note
    assert board().key(" ", after=GUARD_MS).sent == ["RELEASED"]


def test_a_held_key_answers_once_and_never_the_next_question(board: Any, fakes: ModuleType) -> None:
    keyboard = board().key(" ")
    keyboard.view = fakes.view(ask=8)
    keyboard.state = settle(keyboard.state, keyboard.view, keyboard.at)
    for gap in (500, *[30] * 200):
        keyboard.key(" ", after=gap)
    assert keyboard.sent == ["RELEASED"]
    assert "HELD" in keyboard.state.note
    assert keyboard.key(" ", after=HELD_MS).sent == ["RELEASED", "RELEASED"]


def test_two_accept_keys_are_one_key_when_pressed_together(board: Any, fakes: ModuleType) -> None:
    keyboard = board().key(" ")
    keyboard.view = fakes.view(ask=8)
    keyboard.state = settle(keyboard.state, keyboard.view, keyboard.at)
    assert keyboard.key("+", after=GUARD_MS + 10).sent == ["RELEASED"]


def test_nothing_more_is_taken_until_the_answer_is_recorded(board: Any) -> None:
    keyboard = board()
    keyboard.state, first = press(keyboard.state, " ", 1000, keyboard.view, keyboard.listen)
    assert first == Action(Do.SEND, "RELEASED", 7)
    state, second = press(keyboard.state, "+", 3000, keyboard.view, keyboard.listen)
    assert second is None
    assert "RECORDED" in state.note


def test_a_value_is_typed_and_ended_by_enter(board: Any, fakes: ModuleType) -> None:
    keyboard = board(fakes.number(), gauge=fakes.GAUGE)
    keyboard.key(*"1605", "backspace", "0", ".", "5")
    assert keyboard.state.typed == "1600.5"
    assert keyboard.key("enter").did == [Action(Do.SEND, "1600.5", 7)]
    assert keyboard.state.typed == ""


def test_as_shown_never_sends_a_value(board: Any, fakes: ModuleType) -> None:
    keyboard = board(fakes.number(responses=("1600",))).key(" ")
    assert keyboard.did == []
    assert keyboard.key("1", " ").did == []
    assert keyboard.state.typed == "1"


def test_minus_is_not_so_at_the_start_and_a_sign_where_it_can_be_one(
    board: Any, fakes: ModuleType
) -> None:
    assert board(fakes.number()).key("-").sent == ["not so"]
    assert board(fakes.number()).key("5", "-", "enter").sent == ["5"]
    assert "NOT BELOW ZERO" in board(fakes.number()).key("5", "-").state.note
    cold = fakes.number(low=-50)
    assert board(cold).key("-", "1", "2", "enter").sent == ["-12"]
    assert board(cold).key("1", "2", "-", "enter").sent == ["-12"]
    assert board(cold).key("n").sent == ["not so"]
    assert board(cold).key("-", "enter").did == []


def test_the_hint_says_what_the_minus_key_does(fakes: ModuleType) -> None:
    def hinted(listen: Listen, typed: str = "", **changes: Any) -> str:
        aside = Aside(listen=listen, keys=KeyState(typed=typed))
        view = fakes.view(gauge=fakes.GAUGE, **changes) if listen.number else fakes.view(**changes)
        return text(input_rows(view, aside, 80))

    cold = fakes.number(low=-50)
    assert "VALUE, ENTER    MINUS -" in hinted(cold)
    assert "- SIGN" in hinted(cold, "12")
    assert "MINUS" not in hinted(fakes.number()) + hinted(fakes.number(), "12")
    assert "NOT SO -" in hinted(fakes.listen())
    assert "CONDITION LOST -" in hinted(fakes.listen(), prompt=Prompt.WAITING, may_be_lost=True)
    assert "DISREGARD -" in hinted(fakes.listen(), prompt=Prompt.CHOOSING, options=("A", "B"))


def test_digits_typed_too_early_are_refused_whole(board: Any, fakes: ModuleType) -> None:
    keyboard = board(fakes.number())
    keyboard.key("1", after=100).key("6", "0", "0", "enter", after=500)
    assert keyboard.did == []
    assert "1600 TYPED TOO SOON" in keyboard.state.note
    assert keyboard.key(*"1600", "enter").sent == ["1600"]


def test_a_new_question_drops_typed_digits_and_says_so(board: Any, fakes: ModuleType) -> None:
    keyboard = board(fakes.number()).key(*"160")
    keyboard.state = settle(keyboard.state, fakes.view(ask=8), keyboard.at)
    assert keyboard.state.typed == ""
    assert "160 DROPPED" in keyboard.state.note


def test_choices_by_number(board: Any, fakes: ModuleType) -> None:
    both = {"options": ("FIRING", "NOT FIRING"), "response": ""}
    listen = fakes.listen(responses=("FIRING", "NOT FIRING"))
    assert board(listen, **both).key("2").sent == ["NOT FIRING"]
    assert board(listen, **both).key("3").did == []
    assert board(listen, **both).key(" ").did == []
    assert board(listen, **both).key("2", after=GUARD_MS - 1).did == []


def test_where_a_value_may_be_typed_no_digit_chooses(board: Any, fakes: ModuleType) -> None:
    """142 typed at an offered choice is 142 and never choice 1 followed by 42."""
    offered = {
        "prompt": Prompt.CHOOSING,
        "gauge": fakes.GAUGE,
        "options": ("WAIT ON", "DRILL CLUTCH SLIP", "DISCONTINUE"),
    }
    listen = fakes.listen(responses=offered["options"])
    assert board(listen, **offered).key(*"142", "enter").sent == ["142"]
    keyboard = board(listen, **offered).key(".")
    assert keyboard.state.page is Page.OPTIONS
    assert keyboard.key("2").sent == ["DRILL CLUTCH SLIP"]


def test_read_back_takes_a_value_in_its_place(board: Any, fakes: ModuleType) -> None:
    keyboard = board(fakes.listen(responses=()), prompt=Prompt.READ_BACK, gauge=fakes.GAUGE)
    assert keyboard.key(*"1580", "enter").sent == ["1580"]


def test_station_items_by_number_and_fault(board: Any, fakes: ModuleType) -> None:
    station = {"prompt": Prompt.STATION, "items": fakes.STATION}
    assert board(**station).key("2", "4").sent == [
        "tick Engine oil level",
        "tick Exhaust collector",
    ]
    keyboard = board(**station).key("-")
    assert keyboard.state.page is Page.FAULT
    assert keyboard.key("4").sent == ["fault Exhaust collector"]


def test_both_look_each_by_the_number_of_their_own(board: Any) -> None:
    both = {"who": "both", "waiting_for": ("commander", "copilot")}
    assert board(**both).key("2", "1").sent == ["copilot: RELEASED", "commander: RELEASED"]
    assert board(**both).key(" ").did == []
    assert board(**both).key("-").sent == ["commander: not so"]


def test_first_page_is_read_by_each_by_a_key_of_their_own(board: Any) -> None:
    """One person's key, pressed twice, never reads it for two."""
    page: dict[str, Any] = {"prompt": Prompt.FIRST_PAGE, "unread": ("commander", "copilot")}
    keyboard = board(**page).key(" ", "+", " ")
    assert keyboard.sent == []
    assert "EACH BY THE NUMBER OF THEIR OWN" in keyboard.state.note
    assert board(**page).key("1", "2").sent == ["commander: page read", "copilot: page read"]
    assert board(**page).key("3").sent == []
    left = {**page, "unread": ("copilot",)}
    assert board(**left).key(" ").sent == []
    assert board(**left).key("2").sent == ["copilot: page read"]


@pytest.mark.parametrize("mode", ["solo", "single-pilot"])
def test_one_person_alone_reads_the_first_page_by_one_key(board: Any, mode: str) -> None:
    page = {"prompt": Prompt.FIRST_PAGE, "unread": ("commander",), "modes": (mode,)}
    for key in (" ", "+"):
        assert board(**page).key(key).sent == ["page read"]
    assert board(**page).key("1").sent == ["commander: page read"]


def test_what_was_not_so_is_answered_by_the_same_key_once_it_is_so(
    board: Any, fakes: ModuleType
) -> None:
    unmet: dict[str, Any] = {"prompt": Prompt.UNMET, "unmet_why": "not so"}
    assert board(**unmet).key(" ").sent == ["RELEASED"]
    assert board(**unmet, who="both", waiting_for=("commander", "copilot")).key(" ").sent == []
    keyboard = board(fakes.number(), **unmet, gauge=fakes.GAUGE).key(" ")
    assert keyboard.sent == []
    assert "LIMIT NOT MET" in keyboard.state.note


def test_choices_by_number_where_one_was_unmet(board: Any, fakes: ModuleType) -> None:
    unmet = {"prompt": Prompt.UNMET, "options": ("FIRING", "FIRE"), "unmet_why": "drill"}
    listen = fakes.listen(responses=("FIRING", "FIRE"))
    assert board(listen, **unmet).key("1").sent == ["FIRING"]
    assert board(listen, **unmet).key(" ").sent == []


ANY_KEY = st.sampled_from(
    [*"0123456789+-*/. nNabz", "enter", "backspace", "escape", "paste", "ctrl", "pageup"]
    + [f"f{n}" for n in range(1, 13)]
)


@settings(max_examples=300, deadline=None)
@given(
    keys=st.lists(st.tuples(ANY_KEY, st.integers(0, 100)), min_size=20, max_size=40),
    prompt=st.sampled_from(list(Prompt)),
)
def test_a_sleeve_over_the_pad_answers_no_two_questions_at_once(
    fakes: ModuleType, keys: list[tuple[str, int]], prompt: Prompt
) -> None:
    """However 20 and more random keys fall, two answers are a held key's time apart."""
    view, listen = fakes.view(prompt=prompt), fakes.listen()
    state = settle(KeyState(), view, 0)
    now, answered_at, answers = 10_000, None, 0
    for key, gap in keys:
        now += gap
        state, action = press(state, key, now, view, listen)
        if action is None:
            continue
        assert action.do in Do
        if action.do is Do.SEND and action.text in ("RELEASED", "affirm", "roger"):
            assert answered_at is None or now - answered_at >= HELD_MS
            answered_at, answers = now, answers + 1
            view = fakes.view(prompt=prompt, ask=view.ask + 1)
        state = settle(state, view, now)


@settings(max_examples=300, deadline=None)
@given(keys=st.lists(ANY_KEY, max_size=1), prompt=st.sampled_from(list(Prompt)))
def test_no_single_key_ends_a_run(fakes: ModuleType, keys: list[str], prompt: Prompt) -> None:
    view = fakes.view(prompt=prompt, accept_class="commander")
    state = settle(KeyState(), view, 0)
    for key in keys:
        state, action = press(state, key, 10_000, view, fakes.listen())
        assert action is None or action.do is not Do.LEAVE
        if action is not None and action.do is Do.SEND:
            assert "discontinue" not in action.text
            assert "accept" not in action.text
