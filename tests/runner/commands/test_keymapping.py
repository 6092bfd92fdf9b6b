"""`keymap`, and what the doctor says of a file of keys."""

from __future__ import annotations

import json
from pathlib import Path

from runner.host.keyfile import key_file
from runner.terminal.keymap import DEFAULT
from tests.runner.commands.conftest import Command


def write(text: str) -> None:
    key_file().parent.mkdir(parents=True, exist_ok=True)
    key_file().write_text(text, "utf-8")


def rows(said: str) -> dict[str, tuple[str, bool]]:
    found = [json.loads(line) for line in said.splitlines()]
    return {one["key"]: (one["action"], one["own"]) for one in found}


def test_without_a_file_the_keys_of_the_program_are_shown(command: Command) -> None:
    said = command("keymap", "--json")
    assert said.code == 0
    assert len(rows(said.out)) == len(DEFAULT)
    assert rows(said.out)["SPACE"] == ("as shown", False)
    assert "no own keys" in said.err


def test_own_keys_stand_among_the_others(command: Command) -> None:
    write("keys:\n  F13: as shown\n  '*': nothing\nmouse: off\n")
    said = command("keymap", "--json")
    assert rows(said.out)["F13"] == ("as shown", True)
    assert rows(said.out)["*"] == ("nothing", True)
    assert rows(said.out)["F1"] == ("drills", False)
    plain = command("keymap")
    assert "own  F13          as shown          as shown, seen by me" in plain.out
    assert plain.lines[-1].split() == ["mouse", "off"]
    assert str(key_file()) in plain.err


def test_a_bad_file_is_told_whole_with_the_code_of_bad_documents(
    command: Command, tmp_path: Path
) -> None:
    write("keys:\n  F13: as shwon\n  f25: talk\n")
    said = command("keymap")
    assert said.code == 3
    assert said.out == ""
    assert "keymap.yaml:2:8: an unknown action" in said.err
    assert "keymap.yaml:3:3: a key that no terminal reports" in said.err
    other = tmp_path / "other.yaml"
    other.write_text("keys: {F14: mark}\n", "utf-8")
    assert command("keymap", other).code == 0
    assert command("keymap", tmp_path / "none.yaml").code == 4


def test_the_doctor_tells_of_the_file_of_keys(command: Command) -> None:
    def own_keys() -> dict[str, object]:
        found = [json.loads(line) for line in command("doctor", "--json").lines]
        return next(one for one in found if one["what"] == "own keys")

    assert own_keys()["ok"] is None
    write("keys: {F13: as shown}\n")
    assert own_keys()["ok"] is True
    assert "1 keys" in str(own_keys()["found"])
    write("keys: {F13: as shwon}\n")
    assert own_keys()["ok"] is False
    assert "did you mean as shown?" in str(own_keys()["found"])
    assert command("doctor").code == 1
