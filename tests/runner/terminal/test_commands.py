"""The numbered commands: one table, nine a sheet at most, every one does something of its own."""

from __future__ import annotations

from types import ModuleType

from runner.engine.effects import Prompt
from runner.terminal.commands import AT_THE_END, COMMAND_SHEETS, FUNCTION_KEYS, label, local, words
from runner.terminal.keystate import Page


def test_every_command_does_one_thing_and_says_what() -> None:
    commands = [command for sheet in COMMAND_SHEETS for command in sheet]
    assert all(1 <= len(sheet) <= 9 for sheet in COMMAND_SHEETS)
    for command in commands:
        does = (bool(command.send), bool(command.line), command.page is not Page.NONE)
        assert sum(does) == 1
        assert command.help
    assert len({command.label for command in commands}) == len(commands)
    assert set(AT_THE_END) <= set(commands)
    assert set(FUNCTION_KEYS.values()) <= set(commands)


def test_a_command_is_called_by_what_it_does_now(fakes: ModuleType) -> None:
    mark, hold = COMMAND_SHEETS[0][6], COMMAND_SHEETS[0][2]
    assert label(mark, fakes.view()) == "MARK TAKE-OFF"
    assert label(mark, fakes.view(airborne=True)) == "MARK LANDING"
    assert words(hold, fakes.view(prompt=Prompt.STANDBY)) == "continue"
    assert label(COMMAND_SHEETS[0][3], fakes.view()) == "PUT OFF"


def test_the_shells_own_words() -> None:
    assert local("Leave  run open") == "leave"
    assert local("words") == "keys"
    assert local("help") == "keys"
    assert local("theme night") == "theme night"
    assert local("released") == ""
