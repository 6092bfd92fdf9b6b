"""The help of every command, as it stands on a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Iterator

import click
import pytest

from runner.cli import cli

DESK = {
    "receipt", "countersign", "attach", "verify", "fleet", "fleet checkpoint", "fleet prove",
    "fleet check", "fleet consistent", "keys", "keys new", "keys list", "keys trust", "keys revoke",
}  # fmt: skip


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


@pytest.mark.parametrize("name", sorted(DESK))
def test_a_command_of_the_desk_leads_with_an_example(name: str) -> None:
    lines = [line.strip() for line in page(name)]
    at = next(i for i, line in enumerate(lines) if line in ("Example:", "Examples:"))
    assert lines[at + 1].startswith(f"latchword {name.split(' ')[0]}")
    # before the options, and before the text that says what it must not be taken for
    assert at < lines.index("Options:")


def test_no_command_of_the_desk_is_forgotten() -> None:
    assert set(ALL) >= DESK
    grouped = {name for name in ALL if name.split(" ")[0] in ("fleet", "keys")}
    assert grouped <= DESK
