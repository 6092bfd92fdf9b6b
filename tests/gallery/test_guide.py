"""The guide for the crew: its pictures are the program's, its keys are the program's, two pages."""

from __future__ import annotations

import re

from runner.terminal.commands import COMMAND_SHEETS, FUNCTION_KEYS
from tests.gallery.guide import GUIDE, PICTURES, SHOWN, drawn, named

AGAIN = "look at the change, then draw again: python tests/gallery/guide.py"
WORDS_OF_TWO_PAGES = 1100
"""Two pages of A4 in a small type hold about this many words beside five small pictures."""


def test_its_pictures_are_what_the_program_draws() -> None:
    assert named() == list(SHOWN)
    assert sorted(path.stem for path in PICTURES.iterdir()) == sorted(SHOWN)
    for name, picture in drawn().items():
        assert (PICTURES / f"{name}.svg").read_text(encoding="utf-8") == picture, AGAIN


def test_it_names_function_keys_for_what_they_do() -> None:
    text = GUIDE.read_text(encoding="utf-8")
    rows = dict(re.findall(r"^\| (F\d+) +\| ([^|]+?) +\|$", text, re.M))
    assert rows
    for key, does in rows.items():
        assert does.upper().startswith(FUNCTION_KEYS[key.lower()].label.split()[0]), (key, does)


def test_every_command_that_it_writes_in_capitals_is_one() -> None:
    labels = {command.label for sheet in COMMAND_SHEETS for command in sheet}
    text = GUIDE.read_text(encoding="utf-8")
    for label in re.findall(r"`/` ([A-Z][A-Z ,]+)", text):
        assert label.strip() in labels, label


def test_it_is_read_before_a_flight_and_says_what_it_is_not() -> None:
    text = " ".join(GUIDE.read_text(encoding="utf-8").split())
    assert len(text.split()) <= WORDS_OF_TWO_PAGES
    assert "approved flight manual, local rules and licensed practice govern" in text
    assert "not approved data and not an instrument" in text
