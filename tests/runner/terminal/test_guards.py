"""What is no deliberate key: a sleeve, a key that is held, text that is pasted. At every question
and on every page, such keys pass one step at most, and none that one deliberate key would not."""

from __future__ import annotations

from types import ModuleType
from typing import Any, NamedTuple

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from runner.engine.effects import Listen, Prompt, View
from runner.terminal.keys import press, settle
from runner.terminal.keystate import APART_MS, GUARD_MS, Do, KeyState, Page

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

PAD = [*"0123456789+-*/.", "enter"]
KEYBOARD = [
    *PAD, " ", "n", "x", "backspace", "escape", "paste", "ctrl", "pageup", "pagedown", "talk",
    "transmit", "as shown", "not so", "more", *(f"f{n}" for n in range(1, 13)),
]  # fmt: skip
PASSES_NOTHING = (
    "say again", "stand by", "continue", "disregard", "confirm", "drill ", "timer ", "mark ",
    "condition lost", "hand over", "next flight", "fault ", "not so", "discontinue", "turn to ",
    "wrong aircraft",
)  # fmt: skip
"""What is said without passing a step, or comes back: the engine's table is `cells.py`."""
RECORDED_MS = 20


class Stage(NamedTuple):
    """A question, and what may answer it."""

    view: View
    listen: Listen


def stages(fakes: ModuleType) -> list[Stage]:
    """Every question in its forms."""
    both = {"who": "both", "waiting_for": ("commander", "copilot")}
    choices = ("FIRING", "NOT FIRING")
    chosen = fakes.listen(responses=choices)
    made: list[tuple[dict[str, Any], Listen]] = [
        *(({"prompt": prompt, "accept_class": "commander"}, fakes.listen()) for prompt in Prompt),
        *(
            ({"prompt": prompt, "gauge": fakes.GAUGE, "accept_class": "commander"}, fakes.number())
            for prompt in (Prompt.ASKING, Prompt.UNMET, Prompt.READ_BACK, Prompt.WAITING)
        ),
        ({}, fakes.number(low=-50)), ({"options": choices}, chosen), (both, fakes.listen()),
        ({"options": choices, **both}, chosen), ({"options": choices}, fakes.number()),
        ({"prompt": Prompt.UNMET, "options": choices}, chosen),
        ({"prompt": Prompt.CHOOSING, "options": choices}, chosen),
        ({"prompt": Prompt.CHOOSING, "options": choices, "gauge": fakes.GAUGE}, chosen),
        ({"prompt": Prompt.STATION, "items": fakes.STATION}, fakes.listen()),
        ({"prompt": Prompt.FIRST_PAGE, "unread": ("commander", "copilot")}, fakes.listen()),
        ({"prompt": Prompt.FIRST_PAGE, "unread": ("commander",), "modes": ("solo",)},
         fakes.listen()),
        ({"prompt": Prompt.READ_BACK, "accept_class": "emergency only"}, fakes.listen()),
    ]  # fmt: skip
    return [Stage(fakes.view(**changes), listen) for changes, listen in made]


def passing(text: str, stage: Stage) -> bool:
    """Whether a text that was sent can pass a step at this question."""
    words = text.rpartition(": ")[2].casefold()
    if words == "affirm":
        return stage.view.prompt in (Prompt.READ_BACK, Prompt.MEMORY_ITEMS)
    if words == "unable":
        return False  # it asks what instead
    return not words.startswith(PASSES_NOTHING)


def calm(stage: Stage, page: Page, typed: str, at: int) -> KeyState:
    """A keyboard that nobody has touched for a while, with what was opened or typed before."""
    state = settle(KeyState(), stage.view, at - 20_000)
    return state._replace(
        page=page, page_at=at - 10_000, typed=typed, typed_at=at - 10_000,
        reason=stage.view.reasons[0] if page is Page.ACCEPT_SURE else "",
        first="31" if page in (Page.PAPER, Page.PAPER_SURE) else "",
    )  # fmt: skip


def deliberate(stage: Stage, state: KeyState, at: int) -> set[str]:
    """What one deliberate key would say here."""
    said = set()
    for key in KEYBOARD:
        _, action = press(state, key, at, stage.view, stage.listen)
        if action is not None and action.do is Do.SEND:
            said.add(action.text)
    return said


def run(
    stage: Stage, state: KeyState, keys: list[tuple[int, str]], after: list[Stage]
) -> list[tuple[int, str, Stage]]:
    """Keys at their times; each answer brings the next question. What passed a step, and when."""
    passed: list[tuple[int, str, Stage]] = []
    coming = iter(after)
    due: tuple[int, Stage] | None = None
    ask = stage.view.ask
    for now, key in keys:
        if due is not None and now >= due[0]:
            stage, due = due[1], None
            state = settle(state, stage.view, now)
        state, action = press(state, key, now, stage.view, stage.listen)
        if action is None:
            continue
        assert action.do is not Do.LEAVE
        if action.do is not Do.SEND:
            continue
        if passing(action.text, stage):
            passed.append((now, action.text, stage))
        following = next(coming)
        ask += 1
        due = (now + RECORDED_MS, following._replace(view=following.view._replace(ask=ask)))
    return passed


def texts(passed: list[tuple[int, str, Stage]]) -> list[tuple[int, str]]:
    """When and what, for a failure that can be read."""
    return [(at, text) for at, text, _ in passed]


PAGES = [page for page in Page if page is not Page.LEAVE]
"""Where leaving waits for its second key, one deliberate key leaves: that is what it is for."""
NUMBER = st.integers(0, 999)
SLEEVE = st.lists(
    st.tuples(st.integers(0, 999), st.sampled_from(KEYBOARD)), min_size=20, max_size=20
)
PAD_SLEEVE = st.lists(
    st.tuples(st.integers(0, 999), st.sampled_from(PAD)), min_size=20, max_size=20
)


@settings(max_examples=500, deadline=None)
@given(data=st.data(), keys=st.one_of(PAD_SLEEVE, SLEEVE), page=st.sampled_from(PAGES))
@pytest.mark.parametrize("typed", ["", "1600"])
def test_a_sleeve_for_a_second_passes_one_step_at_most_and_none_that_takes_two_keys(
    fakes: ModuleType, typed: str, data: st.DataObject, keys: list[tuple[int, str]], page: Page
) -> None:
    every = stages(fakes)
    stage = every[data.draw(NUMBER) % len(every)]
    after = [every[data.draw(NUMBER) % len(every)] for _ in range(20)]
    began = 100_000
    state = calm(stage, page, typed, began)
    passed = run(stage, state, [(began + at, key) for at, key in sorted(keys)], after)
    assert len(texts(passed)) <= 1
    for _, text, where in passed:
        if where is stage:
            # The first key of the sleeve may have closed the page, or dropped the digits.
            bare = [state, state._replace(page=Page.NONE), state._replace(page=Page.NONE, typed="")]
            allowed = set().union(*(deliberate(stage, one, began) for one in bare))
            assert text in allowed or text == "affirm"


@settings(max_examples=200, deadline=None)
@given(
    data=st.data(), key=st.sampled_from(KEYBOARD), page=st.sampled_from(PAGES),
    first=st.integers(250, 749), every_ms=st.integers(15, 500),
)  # fmt: skip
@example(data=None, key="+", page=Page.NONE, first=500, every_ms=500)
def test_a_held_key_passes_one_step_at_most_at_any_rate(
    fakes: ModuleType, data: st.DataObject | None, key: str, page: Page, first: int, every_ms: int
) -> None:
    """30 s at 2 to 66 repeats a second, after a first delay of a quarter to three quarters."""
    every = stages(fakes)
    stage = data.draw(st.sampled_from(every)) if data else every[1]
    after = (
        data.draw(st.lists(st.sampled_from(every), min_size=70, max_size=70)) if data else every * 3
    )
    began = 100_000
    keys = [(began, key)]
    keys += [(began + first + n * every_ms, key) for n in range(30_000 // every_ms)]
    passed = run(stage, calm(stage, page, "", began), keys, after * 100)
    assert len(texts(passed)) <= 1


@settings(max_examples=400, deadline=None)
@given(
    data=st.data(), page=st.sampled_from(PAGES), slow=st.integers(1, 40),
    text=st.text(st.sampled_from("0123456789+-*/. nxreleasd\r"), min_size=200, max_size=400),
)  # fmt: skip
def test_pasted_text_without_brackets_passes_one_step_at_most(
    fakes: ModuleType, data: st.DataObject, page: Page, slow: int, text: str
) -> None:
    """Keys within milliseconds, however long a slow machine takes over all of them."""
    every = stages(fakes)
    stage = every[data.draw(NUMBER) % len(every)]
    after = [every[data.draw(NUMBER) % len(every)] for _ in range(20)]
    began = 100_000
    state = calm(stage, page, "", began)
    keys = [(began + n * slow, "enter" if c == "\r" else c) for n, c in enumerate(text)]
    passed = run(stage, state, keys, after * 40)
    assert len(texts(passed)) <= 1


@pytest.mark.parametrize("gap", [60, 100, 150, 250, 700])
def test_the_same_digit_twice_is_typed_twice(fakes: ModuleType, gap: int) -> None:
    """1, 1, 0, 0: quick deliberate presses of one key are digits."""
    view, listen = fakes.view(), fakes.number()
    state, now = settle(KeyState(), view, 0), 10_000
    for key in "1100":
        now += gap
        state, _ = press(state, key, now, view, listen)
    assert state.typed == "1100"
    state, action = press(state, "enter", now + APART_MS, view, listen)
    assert action is not None
    assert action.text == "1100"


@pytest.mark.parametrize("gap", [1, 5, 33, 59])
def test_the_bounce_of_a_contact_is_one_digit(fakes: ModuleType, gap: int) -> None:
    view, listen = fakes.view(), fakes.number()
    state, now = settle(KeyState(), view, 0), 10_000
    for _ in range(20):
        now += gap
        state, _ = press(state, "1", now, view, listen)
    assert state.typed == "1"


def test_a_deliberate_key_counts_again_soon_after_a_sleeve(fakes: ModuleType) -> None:
    view, listen = fakes.view(), fakes.listen()
    state, now = settle(KeyState(), view, 0), 10_000
    for key in "123123":
        now += 40
        state, _ = press(state, key, now, view, listen)
    early, action = press(state, "+", now + 100, view, listen)
    assert action is None
    assert "TOO QUICK" in early.note
    _, action = press(state, "+", now + GUARD_MS, view, listen)
    assert action is not None
    assert action.text == "RELEASED"
