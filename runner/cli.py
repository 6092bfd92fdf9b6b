"""The commands; the only reader of the arguments and the environment.

Rules: a command imports only what it uses; help leads with examples; data on standard output,
messages on standard error; an unknown word gets the nearest one; every error that a person can
cause ends in one clear message and its exit code, never in a traceback.
"""

from __future__ import annotations

import contextlib
import gc
import io
import os
import sys
from pathlib import Path
from typing import Any

import click

from runner import cli_author, cli_desk, cli_keys, cli_voice
from runner.cli_options import COLOR, crew, fitting, run_options, with_voice

INTERRUPTED = 130
LOOK_FOR_GARBAGE = 200_000
"""Objects made between two looks; the interpreter's own number is 700."""
SAFETY = (
    "Supports trained people; it is not approved data, not an instrument, and no substitute for "
    "the approved flight manual, local rules or licensed practice. The pilot in command decides."
)


class Commands(click.Group):
    """A group whose unknown commands are answered with the nearest known one."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Finds a command, or fails with the nearest name."""
        if args and self.get_command(ctx, args[0]) is None and not args[0].startswith("-"):
            import difflib

            names = self.list_commands(ctx)
            close = difflib.get_close_matches(args[0], names, n=1, cutoff=0.4)
            hint = f" Did you mean {close[0]}?" if close else ""
            raise click.UsageError(
                f"There is no command {args[0]!r}.{hint} Commands: {', '.join(names)}."
            )
        return super().resolve_command(ctx, args)


@click.group(
    cls=Commands, context_settings={"help_option_names": ["-h", "--help"]},
    help=f"""Challenge-and-response lists for a crew, with every answer in a signed log.

\b
Examples:
  latchword demo                        the demonstration day, here
  latchword demo --plain                the same in plain lines
  latchword run TV-C42 --crew commander="A Holt",copilot="B Ray"
  latchword resume                      take up the run that was left open
  latchword verify LOG --level replayed
  latchword doctor                      is everything well here?
  latchword new my_aircraft             lists of one's own, to begin with
  latchword check --strict my_aircraft  what is wrong with them

{SAFETY}""",
)  # fmt: skip
@click.version_option(package_name="latchword", prog_name="latchword")
def cli() -> None:
    """The group; its help is above."""


def _starting(given: dict[str, Any]) -> None:
    """Says at once that a screen comes: to read all that it needs may take a second or two. Not
    before plain lines, of which the first says the mode."""
    lines = given["plain"] or given["answers"] or given["hear"] or os.environ.get("TERM") == "dumb"
    if not lines and all(stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr)):
        print("Latchword starts", file=sys.stderr, flush=True)


def _options(**given: Any) -> Any:
    from runner.commands.running import Options

    fitting(given)
    return Options(environment=dict(os.environ), **given)


@cli.command(
    short_help="The demonstration day, with keys of its own.",
    help="The demonstration day of the invented Corvane C-4, with keys of its own.",
)
@crew(hidden=True)
@run_options
def demo(**given: Any) -> int:
    """The demonstration."""
    _starting(given)
    from runner.commands.running import demo as run_demo

    return run_demo(_options(**given))


@cli.command(
    short_help="A run of an enrolled AIRCRAFT, by its registration.",
    help="A run of an enrolled AIRCRAFT (its registration); bare: what is enrolled.",
)
@click.argument("aircraft", required=False)
@click.option("--draft", is_flag=True, help="Documents that nobody approved; marked as a draft.")
@crew()
@run_options
def run(aircraft: str | None, **given: Any) -> int:
    """A real run."""
    if aircraft is None:
        from runner.commands.setting import listed

        return listed()
    _starting(given)
    from runner.commands.running import run as run_aircraft

    return run_aircraft(aircraft, _options(**given))


@cli.command(help="Take up RUN again, or the newest run that was left open.")
@click.argument("run_id", metavar="[RUN]", default="")
@click.option("--plain", is_flag=True, help="Labelled lines in place of the full screen.")
@click.option("--theme", default="day", type=click.Choice(["day", "night", "dark", "plain"]))
@COLOR
@click.option("--log-dir", type=click.Path(path_type=Path, file_okay=False))
@click.option("--answers", type=click.Path(path_type=Path), help="Go on with a scripted crew.")
@click.option("--json", "as_json", is_flag=True, help="With --answers: JSON lines.")
@with_voice
def resume(run_id: str, **given: Any) -> int:
    """Resuming."""
    _starting(given)
    from runner.commands.running import resume_run

    return resume_run(run_id, _options(**given))


@cli.command(
    short_help="A readable timeline of RUN, or of the newest.",
    help="A readable timeline of RUN (its name or its file), or of the newest.",
)
@click.argument("run_id", metavar="[RUN]", default="")
@click.option("--log-dir", type=click.Path(path_type=Path, file_okay=False))
def show(run_id: str, log_dir: Path | None) -> int:
    """Showing."""
    from runner.commands.looking import show as show_run

    return show_run(run_id, _options(log_dir=log_dir))


@cli.command(
    short_help="Verify logs, or all logs of a folder: does every one count?",
    help="""Verify logs, or all logs of a folder; exit 0 only if every one counts.

\b
Examples:
  latchword verify LOGS
  latchword verify RUN.jsonl --level replayed --also demonstration,scripted
  latchword verify LOGS --receipt RUN.txt   is the newest run still there?
  latchword verify LOGS --checkpoint NAME.checkpoint --vkey fleet.vkey

A receipt or a checkpoint beside the logs is used only when it is named.""",
)
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--level", default="full", show_default=True,
              type=click.Choice(["boundary", "full", "replayed"]))  # fmt: skip
@click.option("--trust", type=click.Path(path_type=Path), metavar="ALLOWED_SIGNERS")
@click.option("--also", default="", metavar="MODES", help="Modes that count too, as scripted.")
@click.option("--receipt", "receipts", multiple=True, metavar="FILE|CODE",
              help="A receipt kept elsewhere, to check the logs against.")  # fmt: skip
@click.option("--checkpoint", "checkpoints", multiple=True, metavar="FILE",
              type=click.Path(path_type=Path),
              help="A fleet's checkpoint, or a proof of inclusion.")  # fmt: skip
@click.option("--vkey", default="", metavar="KEY|FILE",
              help="The fleet's key of notes, NAME+ID+KEY, from its keeper.")  # fmt: skip
@click.option("--processes", type=click.IntRange(1, 256), metavar="N",
              help="How many judge at once; bare: as many as it is worth.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="One JSON object a log.")
def verify(
    paths: tuple[Path, ...], level: str, trust: Path | None, also: str,
    receipts: tuple[str, ...], checkpoints: tuple[Path, ...], vkey: str,
    processes: int | None, as_json: bool,
) -> int:  # fmt: skip
    """Verifying."""
    from runner.commands.looking import verify_logs

    return verify_logs(
        paths, level, trust, also, receipts, checkpoints, vkey, processes, as_json=as_json
    )


@cli.command(help="Enrol an aircraft: DIR holds its documents.")
@click.argument("directory", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--registration", required=True, metavar="R", help="As on the placard.")
@click.option("--fit", default="", metavar="A,B", help="Optional equipment that is fitted.")
def enrol(directory: Path, registration: str, fit: str) -> int:
    """Enrolling."""
    from runner.commands.setting import enrol as enrol_aircraft

    return enrol_aircraft(directory, registration, fit)


@cli.command("keymap", short_help="The table of keys in force, and the check of your own.",
             help="""The table of keys in force, after the check of your own file of keys.

\b
Example of the file, keymap.yaml in the folder that `latchword doctor` names:
  keys:
    F13: as shown          # a pedal
    F14: transmit          # the yoke's transmit button
    page down: not so
  mouse: off

FILE checks another file before it is put there.""")  # fmt: skip
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="One JSON object a key.")
def keymap(file: Path | None, as_json: bool) -> int:
    """The table of keys."""
    from runner.commands.keymapping import show_keymap

    return show_keymap(file, as_json=as_json)


@cli.command(help="Is everything well here? Changes nothing.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a check.")
def doctor(as_json: bool) -> int:
    """The doctor."""
    from runner.commands.setting import doctor as look

    return look(dict(os.environ), as_json=as_json)


cli_author.add_to(cli)
cli_keys.add_to(cli)
cli_desk.add_to(cli)
cli_voice.add_to(cli)


def main() -> None:
    """The entry point: exit codes and the one place where errors become messages."""
    # Starting makes hundreds of thousands of objects that stay; to look through them for garbage
    # again and again is a tenth of the start.
    gc.set_threshold(LOOK_FOR_GARBAGE)
    for stream in (sys.stdout, sys.stderr):
        # A degree sign must not end a run at a terminal that has none.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    code = _main()
    for name in ("stdout", "stderr"):
        try:
            getattr(sys, name).flush()
        except (OSError, ValueError):
            # Whoever read it has gone; what is left to say must not change the exit code.
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
    sys.exit(code)


def _tell(fault: object) -> None:
    with contextlib.suppress(OSError):
        print(fault, file=sys.stderr)


def _main() -> int:
    try:
        code = cli.main(standalone_mode=False)
        return code if isinstance(code, int) else 0
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except (click.Abort, EOFError):
        _tell("interrupted")
        return INTERRUPTED
    except click.ClickException as fault:
        fault.show()
        return 2
    except KeyboardInterrupt:
        _tell("interrupted")
        return INTERRUPTED
    except BrokenPipeError:
        # The reader of our output went away; nothing more can be said to it.
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
        return 1
    except Exception as fault:
        return _explained(fault)


def _explained(fault: Exception) -> int:
    """One clear message for what went wrong, and its exit code."""
    from audit.errors import AuditError, Negative
    from runner.flow.faults import FlowErrors
    from runner.host.places import PlaceFault

    if isinstance(fault, PlaceFault):
        _tell(fault)
        return fault.code
    if isinstance(fault, FlowErrors):
        _tell(fault)
        return 3
    if isinstance(fault, AuditError):
        _tell(fault)
        return 1 if isinstance(fault, Negative) else 4
    if isinstance(fault, OSError):
        name = f"{fault.filename}: " if fault.filename else ""
        _tell(f"{name}{fault.strerror or fault}")
        return 4
    _tell(
        f"a fault of the program: {type(fault).__name__}: {fault}. Nothing more was done; a run "
        "that was open stays open: latchword resume"
    )
    return 1


if __name__ == "__main__":
    main()
