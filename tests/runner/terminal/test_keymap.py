"""A table of keys of one's own: what a key then means, and what may never be without one."""

from __future__ import annotations

import pytest

from runner.engine.effects import Prompt
from runner.terminal.keymap import ACTS, DEFAULT, NAMES, NOTHING, Keymap, called, lacking
from runner.terminal.keys import NAMED, press, settle
from runner.terminal.keystate import Do, KeyState
from runner.terminal.voicekeys import CALLER, TALK, VOICE_KEYS


def test_every_default_key_has_a_known_action_and_every_action_but_talking_a_key() -> None:
    assert set(DEFAULT.values()) <= set(NAMES)
    assert set(NAMES) - set(DEFAULT.values()) == {*VOICE_KEYS, CALLER, NOTHING}
    assert not list(lacking({}))


def test_a_key_means_what_its_table_says_and_all_others_what_they_did() -> None:
    keymap = Keymap({"f13": "as shown", "x": "drills", "5": NOTHING, "pagedown": "digit 5"})
    assert keymap.means("f13") == "as shown"
    assert keymap.means("x") == "f1"
    assert keymap.means("5") == ""
    assert keymap.means("pagedown") == "5"
    assert [keymap.means(key) for key in (" ", "4", "f9", "f14")] == [" ", "4", "f9", "f14"]


def test_in_a_line_of_words_a_character_is_itself_and_a_pedal_is_not() -> None:
    keymap = Keymap({"x": "as shown", "f13": "not so"})
    assert keymap.means("x", in_words=True) == "x"
    assert keymap.means("f13", in_words=True) == "not so"


@pytest.mark.parametrize("act", [act for act in ACTS if act.key], ids=lambda act: act.name)
def test_no_action_ends_leaves_or_accepts_by_itself(act: object, fakes: object) -> None:
    """Whatever a key is made to mean, at every question, pressed once and held."""
    key = act.key  # type: ignore[attr-defined]
    for prompt in Prompt:
        view = fakes.view(prompt=prompt, accept_class="commander", options=())  # type: ignore[attr-defined]
        state = settle(KeyState(), view, 0)
        now = 10_000
        for gap in (0, 500, *[100] * 30):
            now += gap
            state, action = press(state, key, now, view, fakes.listen())  # type: ignore[attr-defined]
            assert action is None or action.do is not Do.LEAVE
            if action is not None and action.do is Do.SEND:
                assert "discontinue" not in action.text
                assert "accept" not in action.text
                state = settle(state, view, now)


def test_names_for_the_reducer_are_those_that_it_knows() -> None:
    assert set(NAMED) <= {act.key for act in ACTS}


@pytest.mark.parametrize(
    ("own", "wanted"),
    [
        ({" ": NOTHING, "+": NOTHING}, "as shown"),
        ({"n": NOTHING, "N": NOTHING, "-": "as shown"}, "not so or minus"),
        ({"*": "talk", "f1": "talk"}, "drills"),
        ({"/": NOTHING, "f9": NOTHING}, "discontinue page or more"),
        ({"3": "transmit"}, "digit 3"),
        ({"enter": "as shown"}, "enter"),
        ({"-": NOTHING}, "minus"),
    ],
)  # fmt: skip
def test_what_a_crew_may_not_be_without_is_missed(own: dict[str, str], wanted: str) -> None:
    found = dict(lacking(own))
    assert wanted in found
    assert all(found.values())


def test_a_key_taken_away_and_given_elsewhere_is_not_missed() -> None:
    assert not list(lacking({"3": "transmit", "home": "digit 3"}))
    assert not list(lacking({"/": NOTHING}))


def test_the_screen_names_the_key_that_is_in_force() -> None:
    assert Keymap().shown("+") == "+"
    assert Keymap({"f13": "as shown"}).shown("+") == "+"
    taken = Keymap({"+": NOTHING, "f13": "as shown", "-": "talk", "ctrl-t": "minus"})
    assert taken.shown("+") == "F13"
    assert taken.shown("-") == "CTRL-T"
    assert Keymap({"f12": NOTHING}).shown("f12") == ""
    assert called("n") == "n"
    assert called("N") == "N"
    assert called(" ") == "SPACE"


def test_a_run_by_voice_has_keys_of_its_own_where_nobody_gave_them_away() -> None:
    plain = Keymap().for_voice()
    assert {plain.means("tab"), plain.means("insert")} == {TALK, CALLER}
    mine = Keymap({"f13": TALK, "insert": "say again"}).for_voice()
    assert (mine.means("f13"), mine.means("tab"), mine.means("insert")) == (TALK, "tab", "f2")
    assert Keymap().means("tab") == "tab"
