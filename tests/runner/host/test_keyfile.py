"""The file of keys: read whole or not at all, every fault with its place and what is allowed."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.flow.faults import FlowErrors
from runner.host.keyfile import in_force, key_file, read
from runner.host.places import PlaceFault
from runner.terminal.keymap import Keymap

GOOD = """\
# two pedals and the yoke
keys:
  F13: as shown
  "page down": not so
  ctrl-t: transmit
  home: 5
mouse: off
"""


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "keymap.yaml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_a_file_of_keys(tmp_path: Path) -> None:
    assert read(written(tmp_path, GOOD)) == Keymap(
        {"f13": "as shown", "pagedown": "not so", "ctrl-t": "transmit", "home": "digit 5"}, False
    )
    assert read(written(tmp_path, "mouse: on\n")) == Keymap()


FAULTS = [
    ("keys:\n  f25: as shown\n", "2:3", "no terminal reports", "did you mean f"),
    (
        "keys:\n  F13: as shwon\n",
        "2:8",
        "unknown action, found 'as shwon'",
        "did you mean as shown?",
    ),
    ("keys:\n  F13: discontinue\n", "2:8", "what no single key does", "discontinue page?"),
    ("keys:\n  F13: accept\n", "2:8", "what no single key does", "accept page?"),
    ("keys:\n  F13: leave\n", "2:8", "what no single key does", "second, later key"),
    ("keys:\n  F13: talk\n  f13: mark\n", "3:3", "F13 stands twice", "one key means one thing"),
    ("keys:\n  F13: talk\n  F13: mark\n", "3:3", "'F13' stands twice", "keep one of them"),
    ("keys:\n  F13: [talk, mark]\n", "2:8", "a key means one action", "allowed: as shown"),
    ("keys:\n  ctrl-m: talk\n", "2:3", "cannot be given a meaning", "reports it as enter"),
    ("keys:\n  ctrl-c: talk\n", "2:3", "cannot be given a meaning", "no key ends a run"),
    ("keys: [F13]\n", "1:7", "keys is no table", "KEY: ACTION"),
    ("mouse: of\n", "1:8", "mouse is on or off, found 'of'", "did you mean off?"),
    ("mouse: {a: b}\n", "1:8", "mouse is on or off", "allowed: on, off"),
    ("kyes: {}\n", "1:1", "an unknown key, found 'kyes'", "did you mean keys?"),
    ("keys:\n  '*': talk\n  F1: mark\n", "1:1", "no key is left for drills", "could be opened"),
    ("keys:\n  '7': talk\n", "1:1", "no key is left for digit 7", "give it a key"),
    ("keys: {enter: talk}\n", "1:1", "no key is left for enter", "give it a key"),
    ("keys:\n  /: nothing\n  F9: nothing\n", "1:1", "no key is left for discontinue page", ""),
    ("- a\n", "1:1", "not a mapping", "keys and values"),
    ("keys:\n\tF13: talk\n", "2:1", "", ""),
    (b"\xff\xfe", "1:1", "", ""),
]


@pytest.mark.parametrize(("text", "place", "what", "allowed"), FAULTS)
def test_what_is_wrong_is_said_with_its_place(
    tmp_path: Path, text: str | bytes, place: str, what: str, allowed: str
) -> None:
    path = written(tmp_path, text)
    with pytest.raises(FlowErrors) as caught:
        read(path)
    lines = str(caught.value).splitlines()
    assert any(f"{path}:{place}:" in line and what in line and allowed in line for line in lines)


def test_every_fault_is_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(FlowErrors) as caught:
        read(written(tmp_path, "keys:\n  f25: talk\n  F13: tlak\nmouse: maybe\nx: 1\n"))
    assert len(caught.value.faults) == 4


def test_a_file_that_is_not_there_or_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(PlaceFault, match="cannot be read"):
        read(tmp_path / "nowhere.yaml")
    with pytest.raises(PlaceFault, match="cannot be read"):
        read(tmp_path)


def test_a_run_goes_by_the_file_or_says_why_not() -> None:
    assert in_force() == (Keymap(), "")
    key_file().parent.mkdir(parents=True, exist_ok=True)
    key_file().write_text(GOOD, "utf-8")
    keymap, said = in_force()
    assert (keymap.means("f13"), keymap.mouse, said) == ("as shown", False, "")
    key_file().write_text("keys:\n  F13: as shown\n  F14: tlak\n", "utf-8")
    keymap, said = in_force()
    assert (keymap.own, keymap.mouse) == ({}, True)
    assert "did you mean talk?" in keymap.fault
    assert "is not used, the keys of the program hold" in said
    assert "latchword keymap" in said
    assert "\n" not in said
