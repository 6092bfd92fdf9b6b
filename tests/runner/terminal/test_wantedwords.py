"""Words that want more say what, in a row that fits the cockpit's screen."""

from __future__ import annotations

from types import ModuleType

import pytest

from runner.terminal.aside import Aside
from runner.terminal.hints import input_rows
from runner.terminal.keystate import KeyState
from runner.terminal.rows import cells, text
from runner.terminal.wantedwords import NAMES, VALUE_OR_WORDS, wanted


@pytest.mark.parametrize("begun", [word for word, _ in NAMES])
def test_begun_words_say_what_is_to_be_added(fakes: ModuleType, begun: str) -> None:
    aside = Aside(keys=KeyState(line=f"{begun} "), listen=fakes.listen())
    rows = input_rows(fakes.view(), aside, 40)
    asked, typed = (row.rstrip() for row in text(rows).splitlines()[:2])
    assert asked == f"ADD {dict(NAMES)[begun]}"
    assert cells(asked) <= 40
    assert typed.startswith(f"WORDS  {begun}")


def test_nothing_is_asked_for_once_it_stands_there() -> None:
    assert wanted("maintenance oil line tightened") == ""
    assert wanted("correct Rotor brake 5") == ""
    assert wanted("released") == ""
    assert wanted("copilot: released") == ""
    assert wanted("copilot:") == ""


def test_who_speaks_may_stand_before_it() -> None:
    assert wanted("copilot: correct") == dict(NAMES)["correct"]
    assert wanted("crew ground: ") == "THE NAME OF WHO TAKES OVER"


def test_after_the_step_the_value_is_asked_for() -> None:
    assert wanted("correct Rotor brake (34) ") == VALUE_OR_WORDS


def test_a_line_that_needs_all_rows_keeps_them(fakes: ModuleType) -> None:
    long = "correct " + "wheel brakes and parking brake " * 3
    rows = input_rows(fakes.view(), Aside(keys=KeyState(line=long), listen=fakes.listen()), 40)
    assert len(rows) == 3
    assert "ADD" not in text(rows)
