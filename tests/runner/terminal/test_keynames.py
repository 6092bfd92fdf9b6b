"""Names of keys: as a terminal reports them, and as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from prompt_toolkit.input.ansi_escape_sequences import ANSI_SEQUENCES
from prompt_toolkit.keys import Keys

from runner.terminal.keymap import DEFAULT
from runner.terminal.keynames import KEPT, NAMED, read_name, reduced, reported

NO_KEYS = {Keys.Ignore, Keys.ScrollUp, Keys.ScrollDown, Keys.BracketedPaste}


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("F13", "f13"), ("f13", "f13"), ("Space", " "), (" ", " "), ("plus", "+"),
        ("keypad +", "+"),
        ("Keypad 5", "5"), ("Page Down", "pagedown"), ("page_down", "pagedown"),
        ("PgDn", "pagedown"),
        ("Ctrl+T", "ctrl-t"), ("control t", "ctrl-t"), ("C-t", "ctrl-t"), ("alt x", "alt-x"),
        ("alt-+", "alt-+"), ("alt-space", "alt-space"), ("ctrl page down", "ctrl-pagedown"),
        ("ctrl shift home", "ctrl-shift-home"), ("Return", "enter"), ("minus", "-"), ("-", "-"),
        ("é", "é"), ("N", "N"),
    ],
)  # fmt: skip
def test_a_key_as_people_write_it(written: str, name: str) -> None:
    assert read_name(written) == name


@pytest.mark.parametrize("written", ["f25", "f0", "no such", "hyper-x", "", "\x07", "ctrl-"])
def test_what_is_no_key(written: str) -> None:
    assert read_name(written) == ""


def test_whatever_the_library_reports_of_one_key_can_be_written_or_is_kept() -> None:
    """Every key of the library's own table of sequences, keys with Alt apart."""
    unknown = set()
    for data, key in ANSI_SEQUENCES.items():
        if isinstance(key, tuple) or key in NO_KEYS or not isinstance(key, Keys):
            continue
        name = reported(key, data)
        if name not in DEFAULT and name not in KEPT and read_name(name) != name:
            unknown.add(name)
    # Control with a sign: its place differs from keyboard to keyboard.
    assert unknown <= {
        "ctrl-\\", "ctrl-]", "ctrl-^", "ctrl-_", "shift-escape", "ctrl-shift-0", "ctrl-shift-1",
        "ctrl-shift-2", "ctrl-shift-3", "ctrl-shift-4", "ctrl-shift-5", "ctrl-shift-6",
        "ctrl-shift-7", "ctrl-shift-8", "ctrl-shift-9",
    }  # fmt: skip


@given(st.sampled_from(sorted(NAMED)))
def test_every_name_reads_as_itself_in_any_case(name: str) -> None:
    assert read_name(name).casefold() == name.casefold()
    assert read_name(name.upper()).casefold() == name.casefold()


def test_a_control_key_without_a_meaning_is_any_control_key() -> None:
    assert reduced(reported(Keys.ControlD, "\x04")) == "ctrl"
    assert reduced(reported(Keys.Up, "\x1b[A")) == "up"
    assert reduced(reported(" ", " ")) == " "
    assert reported(Keys.ControlM, "\r") == "enter"
