"""The commands of the author's desk: what is wrong with a flow, and what each rule says.

Rules: as in `cli.py`, which adds them to its own: a command imports only what it uses, help leads
with an example, data on standard output, messages on standard error.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

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
    short_help="The page of RULE: why, wrong and right. Bare: all rules.",
    help="""The page of RULE: what it asks, why, and how to put it right. Bare: all rules.

\b
Examples:
  latchword explain limit-reach                     as check names it
  latchword explain                                 all rules, a line each""",
)
@click.argument("rule", metavar="[RULE]", default="")
def explain(rule: str) -> int:
    """Explaining."""
    from runner.commands.checking import explain as tell

    return tell(rule)


@click.command(
    short_help="Sign documents as approved: an aircraft's folder, or some of it.",
    help="""Sign documents as approved: an aircraft's folder, or single documents of one.

\b
Examples:
  latchword approve my_aircraft --key ~/.ssh/id_ed25519
  latchword approve my_aircraft/lists/start.yaml --name "A Holt"

Each signature lies beside its document, and OpenSSH checks it too:

\b
  ssh-keygen -Y verify -f ALLOWED_SIGNERS -I "A Holt" \\
    -n approve@latchword-v1 -s lists/start.yaml.sig < lists/start.yaml

Exit 0: approved; 1: a document has a fault, and nothing was signed.""",
)
@click.argument("flows", metavar="FLOW…", nargs=-1, required=True, type=_PATH)
@click.option("--key", type=_PATH, metavar="FILE",
              help="Whose approval it is; a .pub is enough for an ssh-agent.")  # fmt: skip
@click.option("--name", help="Whose it is, where no .pub says so; alone: a key known here.")
def approve(flows: tuple[Path, ...], key: Path | None, name: str | None) -> int:
    """Approving."""
    from runner.commands.approving import approve as sign

    return sign(flows, key, name, dict(os.environ))


@click.command(
    short_help="A starting set of documents for an aircraft of one's own.",
    help="""A starting set of documents for an aircraft of one's own, in the empty folder DIR.

\b
Examples:
  latchword new my_aircraft
  latchword new my_aircraft --title "Corvane C-4" --registration TV-C42

\b
Next:
  latchword check --strict my_aircraft
  latchword prove my_aircraft
  latchword enrol my_aircraft --registration TV-C42
  latchword run TV-C42 --draft --answers my_aircraft/answers/normal.txt

It passes all of these as it stands. Every number in it is invented: put those of the approved
manual in their place before anybody runs it otherwise.""",
)
@click.argument("directory", metavar="DIR", type=_PATH)
@click.option("--title", default="", help="The type, as screens name it.")
@click.option("--registration", default="", metavar="R", help="Named in what to do next.")
def new(directory: Path, title: str, registration: str) -> int:
    """A new aircraft."""
    from runner.commands.starting import new as make

    return make(directory, title, registration)


@click.command(
    short_help="Two revisions of a flow, or two aircraft, by what they mean.",
    help="""What differs between two revisions of a list or an aircraft, by meaning and not by line.

\b
Examples:
  latchword compare old/lists/start.yaml new/lists/start.yaml
  latchword compare flows/corvane_c4 flows/tern_t2   for who changes types
  latchword compare --format html OLD NEW > changes.html

Exit 0: nothing differs; 1: something does; 3: a document that does not load.""",
)
@click.argument("old", type=_PATH)
@click.argument("new", type=_PATH)
@click.option("--format", "form", default="text", show_default=True,
              type=click.Choice(["text", "json", "html"]),
              help="JSON: one object. HTML: a page to print.")  # fmt: skip
def compare(old: Path, new: Path, form: str) -> int:
    """Comparing."""
    from runner.commands.comparing import compare as look

    return look(old, new, form)


@click.command(
    short_help="Proof that a need, a limit or a list's end holds.",
    help="""Proof that no run gets past a need, a limit or a list's end, or the shortest that does.

\b
Examples:
  latchword prove flows/corvane_c4
  latchword prove flows/corvane_c4 --goal rotor_brake
  latchword prove DIR --out found    counterexamples, as answers files

Exit 0: proven; 1: a counterexample, or something that could not be shown; 3: a document that
does not load.""",
)
@click.argument("aircraft", type=_PATH)
@click.option("--json", "as_json", is_flag=True, help="One object.")
@click.option("--out", type=_PATH, metavar="DIR", help="Where counterexamples are written.")
@click.option("--processes", type=click.IntRange(0, 64), default=0, metavar="N",
              help="How many at once; 0: as many as there are processors.")  # fmt: skip
@click.option("--goal", default="", metavar="PART", help="Only what has this in its name.")
def prove(aircraft: Path, as_json: bool, out: Path | None, processes: int, goal: str) -> int:
    """Proving."""
    from runner.commands.proving import prove_aircraft

    return prove_aircraft(aircraft, "json" if as_json else "text", out, processes, goal)


@click.command(
    short_help="A list, a drill or a whole aircraft as a diagram.",
    help="""A list, a drill or the day of an aircraft as a diagram, for paper or a terminal.

\b
Examples:
  latchword draw flows/corvane_c4/lists/engage.yaml
  latchword draw --svg --out engage.svg flows/corvane_c4/lists/engage.yaml
  latchword draw --dot flows/corvane_c4 > day.dot
  latchword draw LIST --logs LOGS   how often each step was answered

--out writes a file for each page, as engage-1.svg; else all pages stand below each other.""",
)
@click.argument("flow", type=_PATH)
@click.option("--text", "form", flag_value="text", default=True, help="For a terminal (default).")
@click.option("--svg", "form", flag_value="svg", help="For paper, black on white.")
@click.option("--dot", "form", flag_value="dot", help="The open language of graphs.")
@click.option("--logs", multiple=True, type=_PATH, metavar="PATH",
              help="Lay these runs over the drawing; may be given again.")  # fmt: skip
@click.option("--paper", "size", default="a4", show_default=True,
              type=click.Choice(["a4", "a5"]))  # fmt: skip
@click.option("--out", type=_PATH, metavar="FILE", help="A new file, or one for each page.")
def draw(flow: Path, form: str, logs: tuple[Path, ...], size: Any, out: Path | None) -> int:
    """Drawing."""
    from runner.commands.drawing import draw as show

    return show(flow, form, logs, size, out)


@click.command(
    short_help="The paper card of lists and drills: PDF, HTML or text.",
    help="""The paper backup of lists and drills, with the step numbers of the screen.

\b
Examples:
  latchword card flows/corvane_c4 --pdf card.pdf      the whole card, A5
  latchword card flows/corvane_c4 --pdf knee.pdf --size knee
  latchword card flows/corvane_c4/drills/*.yaml --html drills.html
  latchword card flows/corvane_c4/lists/start.yaml    as text

A PDF needs the extra: pip install 'latchword[pdf]'. No file is written over.""",
)
@click.argument("flows", metavar="FLOW…", nargs=-1, required=True, type=_PATH)
@click.option("--pdf", type=_PATH, metavar="FILE", help="A new PDF; the same bytes each time.")
@click.option("--html", type=_PATH, metavar="FILE", help="A new page that a browser prints.")
@click.option("--text", is_flag=True, help="80 columns, to standard output (default).")
@click.option("--size", default="a5", show_default=True, type=click.Choice(["a5", "knee"]),
              help="Knee: 127 by 203 mm.")  # fmt: skip
def card(
    flows: tuple[Path, ...], pdf: Path | None, html: Path | None, text: bool, size: Any
) -> int:  # fmt: skip
    """The paper card."""
    if sum((pdf is not None, html is not None, text)) > 1:
        raise click.UsageError("one form at a time: --pdf FILE, --html FILE or --text")
    from runner.commands.cards import card as make

    return make(flows, pdf, html, size)


def add_to(cli: click.Group) -> None:
    """Adds the commands of the author's desk to the others."""
    for command in (check, explain, compare, draw, card, approve, new, prove):
        cli.add_command(command)
