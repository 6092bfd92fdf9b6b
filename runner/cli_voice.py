"""The commands of the voice: devices, trial, model, a person's reading, what would be heard.

Rules: as in `cli.py`, which adds them to its own: a command imports only what it uses, help leads
with an example, data on standard output, messages on standard error.
"""

from __future__ import annotations

from pathlib import Path

import click

_PATH = click.Path(path_type=Path)
_HEAR = click.option("--hear", type=_PATH, metavar="FILE|DIR",
                     help="Recordings in place of the microphone.")  # fmt: skip
_JSON = click.option("--json", "as_json", is_flag=True, help="JSON.")

VOICE_HELP = """The voice on this machine: its devices, its model, who speaks, what is heard.

\b
Examples:
  latchword voice devices                    what hears and speaks here
  latchword voice set --microphone headset
  latchword voice test                       level, noise, ten phrases
  latchword voice enrol "A Holt"             a reading of two minutes
  latchword voice transcribe flows/corvane_c4 start.retry said.wav

All of it works without a network."""


@click.command(
    short_help="Microphones and loudspeakers, and which are chosen.",
    help="""Microphones and loudspeakers: number, name, rate, which the system prefers (*), which
the settings choose (>).

\b
Examples:
  latchword voice devices
  latchword voice devices --json""",
)
@_JSON
def devices(as_json: bool) -> int:
    """The devices."""
    from runner.commands.voice import devices as look

    return look(as_json=as_json)


@click.command(
    "set", short_help="Choose microphone, loudspeaker, speed and engine.",
    help="""Choose microphone, loudspeaker, speed and engine; bare: what is set.

\b
Examples:
  latchword voice set --microphone headset --loudspeaker headset
  latchword voice set --speed 1.2
  latchword voice set --microphone ""        as the system prefers, again""",
)  # fmt: skip
@click.option("--microphone", metavar="X", help="Its number, or a part of its name.")
@click.option("--loudspeaker", metavar="X", help="Its number, or a part of its name.")
@click.option("--speed", type=float, help="1 is the pace of a calm crew; 0.5 to 2.")
@click.option("--engine", metavar="NAME", help="What speaks: piper or espeak-ng.")
def set_(
    microphone: str | None, loudspeaker: str | None, speed: float | None, engine: str | None
) -> int:
    """Settings."""
    from runner.commands.voice import choose_settings

    return choose_settings(microphone, loudspeaker, speed, engine)


@click.command(
    short_help="Say TEXT aloud, as a call of a list is said.",
    help="""Say TEXT aloud, as a call of a list is said.

\b
Examples:
  latchword voice say "OIL PRESSURE 40 TO 60 PSI"
  latchword voice say --engine espeak-ng --speed 1.3 "CLEAR RIGHT" """,
)
@click.argument("text")
@click.option("--speed", type=float, help="In place of the speed that is set.")
@click.option("--engine", metavar="NAME", help="In place of the engine that is set.")
def say(text: str, speed: float | None, engine: str | None) -> int:
    """Speaking."""
    from runner.commands.voice import say_aloud

    return say_aloud(text, speed, engine)


@click.command(
    short_help="Check a vosk model's folder and use it as second opinion.",
    help="""Check a vosk model's folder, use it as the second opinion from now on, and tell which
words of lists and of the control words it lacks. Bare: what is named; none: forget it.

\b
Examples:
  latchword voice model ~/models/small-en
  latchword voice model ~/models/small-en flows/corvane_c4/lists/start.yaml
  latchword voice model none

FLOW is a document, an aircraft's folder or a registration; without, what is enrolled, else the
demonstration. Nothing is ever fetched.""",
)
@click.argument("path", metavar="[PATH|none]", required=False)
@click.argument("flows", metavar="[FLOW…]", nargs=-1)
@click.option("--all", "every", is_flag=True, help="Every word that is lacking, not the first.")
def model(path: str | None, flows: tuple[str, ...], every: bool) -> int:
    """The model."""
    from runner.commands.voice_model import model as use

    return use(path, flows, every=every)


@click.command(
    "test", short_help="Level, noise and ten phrases, with a verdict.",
    help="""Try the microphone: its level, the noise, ten phrases of the demonstration's lists, and
what to do about it.

\b
Examples:
  latchword voice test
  latchword voice test --person "A Holt"     with that person's reading
  latchword voice test --hear recordings     a file for each phrase, by name

Exit 1 where the verdict is that it would not do.""",
)  # fmt: skip
@_HEAR
@click.option("--person", default="", metavar="NAME", help="Somebody who is enrolled.")
def test(hear: Path | None, person: str) -> int:
    """A trial."""
    from runner.commands.voice import needed

    needed()
    from runner.commands.voice_trial import trial

    return trial(hear, person)


@click.command(
    short_help="Read for two minutes, so that NAME is heard better.",
    help="""A reading of two minutes that sets gain, thresholds and pronunciations for NAME, as in
--crew. It makes nothing be taken on less than the bounds that were tested. Bare: who is enrolled.

\b
Examples:
  latchword voice enrol "A Holt"             in the headset, where it is quiet
  latchword voice enrol "A Holt" --hear recordings
  latchword voice enrol "A Holt" --forget

A second reading replaces the first.""",
)
@click.argument("name", required=False)
@_HEAR
@click.option("--forget", is_flag=True, help="Remove what was read.")
def enrol(name: str | None, hear: Path | None, forget: bool) -> int:
    """A person's reading."""
    from runner.commands.voice_enrol import enrol as read

    return read(name, hear, forget=forget)


@click.command(
    short_help="What would have been heard of FILE at a step, and why.",
    help="""What would have been heard of FILE.wav at a step of a list: every recogniser's answers
with scores, and what would have been done about it, and why.

\b
Examples:
  latchword voice transcribe flows/corvane_c4/lists/start.yaml retry said.wav
  latchword voice transcribe TV-C42 start.oil_pressure_needle said.wav
  latchword voice transcribe flows/corvane_c4 193 said.wav --json

FLOW is a document, an aircraft's folder or a registration; STEP its identifier, what it is called,
or its number on the card. Nothing is written.""",
)
@click.argument("flow")
@click.argument("step")
@click.argument("file", type=_PATH)
@click.option("--role", default="", metavar="ROLE", help="Who speaks, where both must answer.")
@click.option("--person", default="", metavar="NAME", help="Somebody who is enrolled.")
@_JSON
def transcribe(
    flow: str, step: str, file: Path, role: str, person: str, as_json: bool
) -> int:  # fmt: skip
    """What would have been heard."""
    from runner.commands.voice import needed

    needed()
    from runner.commands.voice_transcribe import transcribe as tell

    return tell(flow, step, file, role, person, as_json=as_json)


def add_to(cli: click.Group) -> None:
    """Adds the commands of the voice to the others."""
    voice = type(cli)(
        "voice", help=VOICE_HELP, short_help="Devices, trial, model and reading of the voice."
    )
    for command in (devices, set_, test, model, enrol, say, transcribe):
        voice.add_command(command)
    cli.add_command(voice)
