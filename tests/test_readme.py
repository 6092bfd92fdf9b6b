"""What the README says is so: its commands, its picture, its exit codes."""

from __future__ import annotations

import importlib.util
import re
import shlex
import subprocess
from pathlib import Path
from types import ModuleType

import click
import pytest

from runner import cli


def load(path: Path) -> ModuleType:
    """A module of the tests by its path."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def readme(project: Path) -> str:
    return (project / "README.md").read_text(encoding="utf-8")


def set_up(readme: str) -> list[str]:
    """The lines of the README that begin with a new virtual environment, for Linux and macOS."""
    return [line for line in readme.splitlines() if line.startswith("python3.11 -m venv")]


def commands(text: str) -> list[list[str]]:
    """Every `latchword` command in the blocks of code, as words."""
    found = []
    for block in re.findall(r"^```sh\n(.*?)^```", text, re.S | re.M):
        for line in block.splitlines():
            for part in line.split(" && "):
                words = shlex.split(part, comments=True)
                if words and Path(words[0]).name == "latchword":
                    found.append(words[1:])
    return found


def test_two_lines_do_all_the_set_up(readme: str) -> None:
    demo, tests = set_up(readme)
    assert demo.endswith("&& .venv/bin/latchword demo")
    assert tests.endswith("&& .venv/bin/python -m pytest")
    for line in (demo, tests):
        steps = [shlex.split(part) for part in line.split(" && ")]
        assert steps[0] == ["python3.11", "-m", "venv", ".venv"]
        assert steps[1][:4] == [".venv/bin/python", "-m", "pip", "install"]
        assert len(steps) == 3


def test_the_checks_run_the_readmes_own_test_command(project: Path, readme: str) -> None:
    script = (project / ".ci/run").read_text(encoding="utf-8")
    pattern = re.search(r"grep -E '(.+?)' \"\$copy/README.md\"", script)
    assert pattern is not None
    assert [line for line in readme.splitlines() if re.search(pattern[1], line)] == [
        set_up(readme)[1]
    ]


def test_the_script_of_the_checks_is_well_formed(project: Path) -> None:
    done = subprocess.run(
        ["bash", "-n", str(project / ".ci/run")], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "docs/voice.md"])
def test_every_command_shown_is_one_that_the_program_takes(project: Path, name: str) -> None:
    found = commands((project / name).read_text(encoding="utf-8"))
    assert name != "README.md" or len(found) >= 8
    for words in found:
        command: click.Command = cli.cli
        rest = list(words)
        while isinstance(command, click.Group):
            word = rest.pop(0)
            assert word in command.commands, words
            command = command.commands[word]
        # Parsing alone: nothing is run, but an option or argument that is not there is an error.
        command.make_context(" ".join(words), rest)


def test_every_key_word_in_the_table_of_words_is_known(readme: str) -> None:
    from runner.words.spoken import LEADING, SIMPLE

    table = readme.split("## Words")[1].split("## Exit codes")[0]
    spans = re.findall(r"`([^`]+)`", table)
    known = [*SIMPLE, *LEADING, "end of day", "below", "drop", "released", "copilot:"]
    numbers = ("1600", "one six zero zero")
    strange = [s for s in spans if s not in numbers and not s.startswith(tuple(known))]
    assert strange == []


def test_the_exit_codes_are_those_of_the_program(readme: str) -> None:
    table = readme.split("## Exit codes")[1].split("##")[0]
    assert [int(code) for code in re.findall(r"^\| (\d+) \|", table, re.M)] == [
        0, 1, 2, 3, 4, 75, cli.INTERRUPTED,
    ]  # fmt: skip
    # a comparison gives 1 for what is no fault: said here as in its own help
    negative = next(line for line in table.splitlines() if line.startswith("| 1 |"))
    assert "something that differs (`compare`)" in negative
    assert "1: something does" in (cli.cli.commands["compare"].help or "")


def test_the_picture_is_what_the_program_draws(project: Path) -> None:
    picture = load(project / "tests/picture.py")
    assert picture.PICTURE.read_text(encoding="utf-8") == picture.draw()


def test_the_picture_is_shown_and_every_file_named_is_there(project: Path, readme: str) -> None:
    assert "](docs/screen.svg)" in readme
    for target in re.findall(r"\]\(([^)#:]+)\)", readme):
        assert (project / target).exists(), target
    for target in re.findall(r"`((?:docs|audit|flows)/[\w./]+)`", readme):
        assert (project / target).exists(), target


def test_the_cautions_stand_before_any_command(readme: str) -> None:
    before = readme.split("```", 1)[0].replace("\n> ", " ")
    for words in ("not approved data", "approved flight", "licensed practice", "decides"):
        assert words in before


def test_the_words_that_begin_with_the_key_of_not_so_are_told_of(readme: str) -> None:
    from runner.terminal.keystate import MORE_KEY, NOT_SO_KEYS
    from runner.words.spoken import LEADING, SIMPLE

    assert any(word.startswith("n") for word in (*SIMPLE, *LEADING))
    assert "N" in NOT_SO_KEYS
    words = " ".join(readme.split("## Words")[1].split("## Exit codes")[0].split())
    assert "N at the beginning is the key *not so*" in words
    assert f"press the key {MORE_KEY} first" in words
