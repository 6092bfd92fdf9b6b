"""The commands of the author's desk: what is wrong with a flow, and what each rule says.

Rules: as in `cli.py`, which adds them to its own: a command imports only what it uses, help leads
with an example, data on standard output, messages on standard error.
"""

from __future__ import annotations

from pathlib import Path

import click

_PATH = click.Path(path_type=Path)


@click.command(
    short_help="What is wrong with documents, each fault with its place.",
    help="""What is wrong with documents: each fault and doubt with its place and what to do.

\b
Examples:
  latchword check flows/corvane_c4                  an aircraft
  latchword check flows/corvane_c4/lists/start.yaml one list, within it
  latchword check --strict --format github flows    all, for a workflow
  latchword explain limit-reach                     the page of a rule

Exit 0: no errors (with --strict: nothing found); 1: something was found; 4: unreadable.""",
)
@click.argument("paths", metavar="PATH…", nargs=-1, required=True, type=_PATH)
@click.option("--format", "form", default="text", show_default=True,
              type=click.Choice(["text", "json", "github"]),
              help="JSON: one object. GitHub: annotations of a workflow.")  # fmt: skip
@click.option("--strict", is_flag=True, help="Warnings count as errors.")
def check(paths: tuple[Path, ...], form: str, strict: bool) -> int:
    """Checking."""
    from runner.commands.checking import check as look

    return look(paths, form, strict=strict)


@click.command(
    help="The page of RULE: what it asks, why, and how to put it right. Bare: all rules."
)
@click.argument("rule", metavar="[RULE]", default="")
def explain(rule: str) -> int:
    """Explaining."""
    from runner.commands.checking import explain as tell

    return tell(rule)


def add_to(cli: click.Group) -> None:
    """Adds the commands of the author's desk to the others."""
    for command in (check, explain):
        cli.add_command(command)
