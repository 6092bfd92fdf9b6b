"""A crew from a file: one input a line, on a simulated clock, for trials and tests.

Rules: each line comes one second after the one before, `@+90s` lets more time pass, `#` begins a
comment; what is due in between happens at its own time; nothing is waited for in real time; at the
end of the file the run is left as it stands, and closed where no list is open.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from audit.canonical import tidy
from runner.engine.effects import Effect, Prompt, Say, Voice
from runner.host.clock import SimulatedClock
from runner.host.places import PlaceFault
from runner.host.run import Run
from runner.words.spoken import split
from runner.words.timing import clock_text

LONGEST_SHOWN = 1000
LONGEST_FILE = 16 * 1024 * 1024
_PASS = re.compile(r"@\+(\d{1,7})(ms|s|min|h)?")
_SCALE = {"ms": 1, "s": 1000, "min": 60_000, "h": 3_600_000}


@dataclass(frozen=True, slots=True)
class Input:
    """One line of a script: the time that passes before it, and its words (may be empty)."""

    number: int
    passes: int
    text: str


def read_script(path: Path) -> list[Input]:
    """The inputs of a file. Raises PlaceFault for a file that cannot be read or is no text."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise PlaceFault(f"{path}: cannot be read: {error.strerror}") from None
    if len(data) > LONGEST_FILE:
        raise PlaceFault(f"{path}: {len(data)} bytes; a script has at most {LONGEST_FILE}", 2)
    text = data.decode("utf-8-sig", "replace").replace("\r\n", "\n")
    return list(parse(text.split("\n")))


def parse(lines: Iterable[str]) -> Iterator[Input]:
    """The inputs of the lines of a script."""
    for number, line in enumerate(lines, 1):
        text = _without_comment(line).strip()
        if not text:
            continue
        passes = 0
        while match := _PASS.match(text):
            passes += int(match[1]) * _SCALE[match[2] or "s"]
            text = text[match.end() :].strip()
        if text:
            passes += 1000
        yield Input(number, passes, text)


def _without_comment(line: str) -> str:
    """Cuts a comment off; a `#` between quotes is no comment."""
    quoted = False
    for index, char in enumerate(line):
        if char == '"' and (index == 0 or line[index - 1] != "\\"):
            quoted = not quoted
        elif char == "#" and not quoted:
            return line[:index]
    return line


class Printer:
    """Prints what is called, answered and decided: a line each, or one JSON object a line."""

    def __init__(self, out: IO[str], run: Run, *, as_json: bool) -> None:
        self._out = out
        self._run = run
        self._json = as_json
        self.refused = 0

    def heard(self, effects: tuple[Effect, ...]) -> None:
        """The effects of one event."""
        for effect in effects:
            if isinstance(effect, Say):
                self.refused += effect.kind is Voice.REFUSED
                self.line(effect.kind.value, effect.text)

    def line(self, kind: str, text: str) -> None:
        """One line."""
        at = self._run.now()
        text = tidy(text, LONGEST_SHOWN)
        if self._json:
            out = json.dumps({"at": at, "kind": kind, "text": text}, ensure_ascii=False)
        else:
            out = f"{clock_text(at)}  {kind.upper():<10} {text}"
        self._out.write(out + "\n")


def play(
    run: Run, clock: SimulatedClock, inputs: Iterable[Input], printer: Printer, *,
    heard: bool = False,
) -> None:  # fmt: skip
    """Plays a script into a run; `heard`: the printer hears of the run already."""
    if not heard:
        run.subscribe(printer.heard)
    for given in inputs:
        let_pass(run, clock, given.passes)
        if not given.text:
            continue
        speech = split(given.text)
        who = f"{speech.role}: " if speech.role else ""
        printer.line("answer", f"{who}{speech.text}"[:200])
        run.say_line(given.text)


def let_pass(run: Run, clock: SimulatedClock, ms: int) -> None:
    """Lets time pass, stopping at everything that is due on the way."""
    from runner.engine.waking import next_deadline

    end = run.now() + ms
    while True:
        due = next_deadline(run.table, run.state)
        now = run.now()
        if due is None or due > end:
            break
        clock.pass_ms(max(0, due - now))
        before = run.state
        run.run_due(run.now())
        if run.state is before:
            break
    clock.pass_ms(max(0, end - run.now()))


def may_close(run: Run) -> bool:
    """Whether no list of the day is open."""
    return run.state.flight > 0 and run.state.question.prompt is Prompt.CLOSED
