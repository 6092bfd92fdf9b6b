"""The commands of the desk, after a run: receipt, countersignature, evidence, the fleet's head.

Rules: as in `cli.py`, which adds them to its own: a command imports only what it uses, help leads
with an example, data on standard output, messages on standard error.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import click

_PATH = click.Path(path_type=Path)
_LOG_DIR = click.option("--log-dir", type=click.Path(path_type=Path, file_okay=False),
                        help="Where the log lies.")  # fmt: skip
_VKEY = click.option("--vkey", required=True, metavar="KEY_OR_FILE",
                     help="The fleet's key of notes, NAME+ID+KEY, from its keeper.")  # fmt: skip


def _options(log_dir: Path | None, **more: Any) -> Any:
    from runner.commands.running import Options

    return Options(log_dir=log_dir, environment=dict(os.environ), **more)


@click.command(
    short_help="What RUN has come to, as text and QR code: a witness.",
    help="""What RUN (its name or file, or the newest) has come to: a witness, kept elsewhere.

\b
Examples:
  latchword receipt                    of the newest run, with a QR code
  latchword receipt RUN --out RUN.txt  to a file: take it away from here
  latchword verify LOGS --receipt RUN.txt

With the receipt it shows when lines of the run, or the whole run, are gone.""",
)
@click.argument("run_id", metavar="[RUN]", default="")
@click.option("--out", type=_PATH, metavar="FILE", help="A new file for it.")
@click.option("--qr/--no-qr", default=None, help="Draw the code; bare: at a terminal.")
@click.option("--theme", default="day", show_default=True, type=click.Choice(["day", "night"]),
              help="Without colours: night for a terminal that writes light on dark.")  # fmt: skip
@click.option("--color", default="auto", type=click.Choice(["auto", "always", "never"]))
@_LOG_DIR
def receipt(
    run_id: str, out: Path | None, qr: bool | None, theme: str, color: str, log_dir: Path | None
) -> int:
    """A receipt."""
    from runner.commands.witness import receipt as give

    return give(run_id, _options(log_dir, theme=theme, color=color), out, qr=qr)


@click.command(
    short_help="A supervisor's signed word on RUN: accepted or returned.",
    help="""A supervisor's word on RUN, signed, in a file of its own beside the log.

\b
Examples:
  latchword countersign RUN --verdict accepted --note "as on paper" --key FILE
  latchword countersign RUN --verdict returned --note "fuel?" --name "I Rask"

Only a closed log is accepted; whoever was on its roster cannot countersign it.""",
)
@click.argument("run_id", metavar="RUN")
@click.option("--verdict", required=True, type=click.Choice(["accepted", "returned"]))
@click.option("--note", required=True, metavar="TEXT", help="Why; at most 500 characters.")
@click.option(
    "--key",
    type=_PATH,
    metavar="FILE",
    help="The supervisor's key file; its .pub is enough for an ssh-agent.",
)
@click.option("--name", help="Whose it is, where no .pub says so; alone: a key known here.")
@_LOG_DIR
def countersign(
    run_id: str, verdict: str, note: str, key: Path | None, name: str | None, log_dir: Path | None
) -> int:
    """A countersignature."""
    from runner.commands.witness import sign_off

    return sign_off(run_id, _options(log_dir), verdict, note, key, name)


@click.command(
    short_help="Keep FILES as evidence with RUN, which was left open.",
    help="""Keep FILES as evidence with RUN, which was left open: a photograph, a voice clip.

\b
Example:
  latchword attach RUN chip-detector.jpg

Each is copied beside the log; the log says its length and SHA-256.""",
)
@click.argument("run_id", metavar="RUN")
@click.argument("files", nargs=-1, required=True, type=_PATH)
@_LOG_DIR
def attach(run_id: str, files: tuple[Path, ...], log_dir: Path | None) -> int:
    """Evidence."""
    from runner.commands.witness import attach as keep

    return keep(run_id, files, _options(log_dir))


@click.command(
    short_help="Add the runs of DIR that have ended; sign the head over all.",
    help="""Add the runs of DIR that have ended, and sign the head over all of them.

\b
Examples:
  latchword fleet checkpoint LOGS --key fleet-key --origin tarn.example/fleet
  latchword fleet checkpoint LOGS --key fleet-key.pub --origin NAME

An ssh-agent that holds the key signs; else the file is opened, with its passphrase.""",
)
@click.argument("folder", metavar="DIR", type=_PATH)
@click.option(
    "--key",
    required=True,
    type=_PATH,
    metavar="FILE",
    help="The fleet's key file; its .pub is enough for an agent.",
)
@click.option("--origin", required=True, metavar="NAME", help="As tarn-valley.example/fleet.")
def checkpoint(folder: Path, key: Path, origin: str) -> int:
    """A checkpoint."""
    from runner.commands.fleet import checkpoint as sign

    return sign(folder, key, origin, dict(os.environ))


@click.command(
    short_help="The proof that RUN, as it ended, is under a checkpoint.",
    help="""The proof that RUN, as it ended, is under a checkpoint.

\b
Example:
  latchword fleet prove RUN --checkpoint NAME.checkpoint --out RUN.proof""",
)
@click.argument("run_id", metavar="RUN")
@click.option("--checkpoint", "at", required=True, type=_PATH, metavar="FILE")
@click.option("--out", type=_PATH, metavar="FILE", help="Bare: to standard output.")
@_LOG_DIR
def prove(run_id: str, at: Path, out: Path | None, log_dir: Path | None) -> int:
    """An inclusion proof."""
    from runner.commands.fleet import prove as make

    return make(run_id, _options(log_dir), at, out)


@click.command(
    short_help="Check PROOF, by the fleet's key; exit 0 only if it holds.",
    help="""Check PROOF, by the fleet's key; exit 0 only if it holds.

\b
Example:
  latchword fleet check RUN.proof --vkey fleet.vkey --log LOGS/RUN.jsonl""",
)
@click.argument("proof", type=_PATH)
@_VKEY
@click.option("--log", type=_PATH, metavar="LOG", help="The log must end as the proof says.")
def check(proof: Path, vkey: str, log: Path | None) -> int:
    """Checking an inclusion proof."""
    from runner.commands.fleet import check as look

    return look(proof, vkey, log)


@click.command(
    short_help="Whether checkpoint NEW extends OLD; exit 0 only if proven.",
    help="""Whether checkpoint NEW extends OLD; exit 0 only if it is proven.

\b
Example:
  latchword fleet consistent OLD.checkpoint NEW.checkpoint --vkey fleet.vkey""",
)
@click.argument("old", type=_PATH)
@click.argument("new", type=_PATH)
@_VKEY
@click.option("--proof", type=_PATH, metavar="FILE", help="Bare: made from the leaves beside NEW.")
@click.option("--out", type=_PATH, metavar="FILE", help="A file for the proof.")
def consistent(old: Path, new: Path, vkey: str, proof: Path | None, out: Path | None) -> int:
    """A consistency proof."""
    from runner.commands.fleet import consistent as look

    return look(old, new, vkey, proof, out)


FLEET_HELP = """One signed head over many runs, and proofs that stand without the logs.

\b
Examples:
  latchword fleet checkpoint LOGS --key fleet-key --origin tarn.example/fleet
  latchword fleet prove RUN --checkpoint NAME.checkpoint --out RUN.proof
  latchword fleet check RUN.proof --vkey fleet.vkey --log LOGS/RUN.jsonl
  latchword fleet consistent OLD.checkpoint NEW.checkpoint --vkey fleet.vkey
"""


def add_to(cli: click.Group) -> None:
    """Adds the commands of the desk to the others."""
    fleet = type(cli)(
        "fleet", help=FLEET_HELP, short_help="One signed head over many runs, and its proofs."
    )
    for command in (checkpoint, prove, check, consistent):
        fleet.add_command(command)
    for command in (receipt, countersign, attach, fleet):
        cli.add_command(command)
