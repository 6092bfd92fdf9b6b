"""The help of every command, as it stands on a terminal of 80 columns."""

from __future__ import annotations

import re
from collections.abc import Iterator

import click
import pytest

from runner.cli import cli

DESK = {
    "receipt", "countersign", "attach", "verify", "fleet", "fleet checkpoint", "fleet prove",
    "fleet check", "fleet consistent", "keys", "keys new", "keys list", "keys trust", "keys revoke",
}  # fmt: skip
VOICE = {
    "voice", "voice devices", "voice set", "voice test", "voice model", "voice enrol", "voice say",
    "voice transcribe",
}  # fmt: skip
AUTHORS = {"check", "explain", "compare", "draw", "card", "approve", "new", "prove"}


def commands(group: click.Group = cli, before: str = "") -> Iterator[tuple[str, click.Command]]:
    for name, command in group.commands.items():
        yield f"{before}{name}", command
        if isinstance(command, click.Group):
            yield from commands(command, f"{before}{name} ")


ALL = dict(commands())


def page(name: str) -> list[str]:
    command = ALL[name] if name else cli
    with click.Context(command, info_name="latchword", terminal_width=80) as context:
        return command.get_help(context).splitlines()


@pytest.mark.parametrize("name", ["", *ALL])
def test_it_fits_and_no_line_of_a_list_is_cut(name: str) -> None:
    lines = page(name)
    assert [line for line in lines if len(line) > 80] == []
    assert [line for line in lines[1:] if line.endswith("...")] == []


@pytest.mark.parametrize("name", sorted(DESK | VOICE | AUTHORS))
def test_a_command_of_the_desk_leads_with_an_example(name: str) -> None:
    lines = [line.strip() for line in page(name)]
    at = next(i for i, line in enumerate(lines) if line in ("Example:", "Examples:"))
    assert lines[at + 1].startswith(f"latchword {name.split(' ')[0]}")
    # before the options, and before the text that says what it must not be taken for
    assert at < lines.index("Options:")


def test_no_command_of_the_desk_is_forgotten() -> None:
    assert set(ALL) >= DESK | VOICE | AUTHORS
    grouped = {name for name in ALL if name.split(" ")[0] in ("fleet", "keys", "voice")}
    assert grouped <= DESK | VOICE


@pytest.mark.parametrize("name", ["", *ALL])
def test_what_is_to_be_copied_stands_on_lines_of_its_own(name: str) -> None:
    lines = page(name)
    assert [line for line in lines if re.search(r"\\\s+\S", line)] == []
    source = (ALL[name] if name else cli).help or ""
    kept = {line.strip() for line in lines}
    assert [
        line for line in source.splitlines() if line[:2] == "  " and line.strip() not in kept
    ] == []


def test_the_signature_of_an_approval_is_checked_by_a_command_of_two_lines() -> None:
    lines = [line.strip() for line in page("approve")]
    first = next(i for i, line in enumerate(lines) if line.startswith("ssh-keygen -Y verify "))
    assert lines[first].endswith(" \\")
    assert lines[first + 1].startswith("-n approve@latchword-v1 -s ")
    assert lines[first + 1].endswith(".yaml")


def test_help_for_a_new_aircraft_says_what_comes_next() -> None:
    lines = [line.strip() for line in page("new")]
    steps = lines[lines.index("Next:") + 1 :]
    assert [line.split()[1] for line in steps[: steps.index("")]] == [
        "check", "prove", "enrol", "run",
    ]  # fmt: skip
    assert "--draft --answers my_aircraft/answers/normal.txt" in steps[3]


def test_the_first_help_has_an_authors_command_among_its_examples() -> None:
    lines = [line.strip() for line in page("")]
    examples = lines[lines.index("Examples:") + 1 :]
    named = [line.split()[1] for line in examples[: examples.index("")]]
    assert {"run", "new", "check"} <= set(named) <= set(ALL)
