"""What a run may be asked on the command line: the options that `demo`, `run` and `resume` share.

Rules: options that mean nothing together are refused before anything is read; nothing is imported
here but the library of the command line.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

COLOR = click.option(
    "--color", default="auto", show_default=True, type=click.Choice(["auto", "always", "never"]),
    help="Auto: none where NO_COLOR is set, or the terminal's name has none.",
)  # fmt: skip


def crew(hidden: bool = False) -> Callable[..., Any]:
    """Who flies. The demonstration has a crew of its own: it offers none, and says why it takes
    none."""
    return click.option(
        "--crew", default="", metavar="ROLE=NAME,…", hidden=hidden, help="commander=A,copilot=B"
    )


def voice_options() -> tuple[Callable[..., Any], ...]:
    return (
        click.option("--voice", is_flag=True, help="Answers by voice; the keys stay live."),
        click.option("--caller", type=click.Choice(["program", "copilot"]),
                     help="By voice: who calls the list. Bare: the copilot, with two aboard."),
        click.option("--open-microphone", is_flag=True,
                     help="By voice: no talk key; what passes begins with \"list\"."),
        click.option("--pedal", type=click.Path(path_type=Path), metavar="DEVICE",
                     help="By voice: an input device (/dev/input/...) that is held to talk."),
        click.option("--keep-clips", is_flag=True,
                     help="By voice: each spoken answer is kept beside the log."),
        click.option("--hear", type=click.Path(path_type=Path), metavar="FILE|DIR",
                     help="Recordings in place of a crew, on a simulated clock."),
    )  # fmt: skip


def run_options(command: Callable[..., Any]) -> Callable[..., Any]:
    for option in reversed((
        click.option("--solo", is_flag=True, help="One trainee answers for every role."),
        click.option("--single-pilot", "single", is_flag=True, help="A flight with one pilot."),
        click.option("--only", default="", metavar="LIST", help="This list alone, for practice."),
        click.option("--plain", is_flag=True, help="Labelled lines in place of the full screen."),
        click.option("--theme", default="day", show_default=True,
                     type=click.Choice(["day", "night", "dark", "plain"]), help="Colours."),
        COLOR,
        click.option("--log-dir", type=click.Path(path_type=Path, file_okay=False),
                     help="Where the log goes."),
        click.option("--answers", type=click.Path(path_type=Path),
                     help="A scripted crew: one input a line, on a simulated clock."),
        click.option("--json", "as_json", is_flag=True, help="With --answers: JSON lines."),
        *voice_options(),
    )):  # fmt: skip
        command = option(command)
    return command


def with_voice(command: Callable[..., Any]) -> Callable[..., Any]:
    for option in reversed(voice_options()):
        command = option(command)
    return command


def fitting(given: dict[str, Any]) -> None:
    """Refuses options that mean nothing together. Raises click.UsageError."""
    scripted = [name for name in ("answers", "hear") if given.get(name) is not None]
    if given.get("as_json") and not scripted:
        raise click.UsageError("--json goes with --answers FILE or --hear FILE")
    if len(scripted) > 1:
        raise click.UsageError("--answers and --hear are two crews; give one of them")
    for name in ("caller", "open_microphone", "pedal"):
        if given.get(name) and not given.get("voice"):
            raise click.UsageError(f"--{name.replace('_', '-')} goes with --voice")
    if given.get("keep_clips") and not (given.get("voice") or given.get("hear")):
        raise click.UsageError("--keep-clips goes with --voice or --hear")
    if given.get("voice") and scripted:
        raise click.UsageError(f"--voice is for a crew, and --{scripted[0]} plays one")
