"""What the tests of runs share: the tiny aircraft, a clock that goes where it is told, a crew that
answers what is asked, and a log read line by line."""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from audit.errors import Fault
from audit.folder import LogFolder
from audit.line import Line, parse
from audit.stamps import Stamp
from runner.engine.effects import Effect, Prompt, Say
from runner.engine.outcomes import Outcome
from runner.engine.table import Table
from runner.flow.loader import Loaded, load_aircraft
from runner.host.opening import Setup, start
from runner.host.run import Run
from tests.audit.helpers import Person

TO_START = ("commander: page read", "copilot: page read", "tick hook", "tick tie-downs",
            "tick nose cowl latches", "closed", "roger")  # fmt: skip
RUNNING = (*TO_START, "released", "engaged", "firing", "60")
"""A script of the tiny aircraft up to its start, and up to the engine that runs."""


TINY = Path(__file__).resolve().parents[2] / "data" / "tiny"
START_MS = 1_795_557_003_412  # 2026-11-24T21:50:03.412Z


@cache
def tiny() -> Loaded:
    """The smallest aircraft that has every kind of step."""
    return load_aircraft(TINY)


def table() -> Table:
    return tiny().table


class FakeClock:
    """A clock of a machine: wall, boot time and start go where the test says."""

    def __init__(self, wall_ms: int = START_MS, mono_ms: int = 5_000, boot: str = "one") -> None:
        self.wall_ms = wall_ms
        self.mono_ms = mono_ms
        self.boot = boot

    def stamp(self) -> Stamp:
        return Stamp(self.wall_ms, self.mono_ms, self.boot)

    def go(self, ms: int) -> None:
        """Both clocks go on."""
        self.wall_ms += ms
        self.mono_ms += ms

    def reboot(self, boot: str, away_ms: int) -> None:
        """The machine starts again; only the wall clock knows for how long it was off."""
        self.wall_ms += away_ms
        self.mono_ms = 1_000
        self.boot = boot


CREW = (("commander", "Maren Holt"), ("copilot", "Åsa Lind"))


def people(crew: tuple[tuple[str, str], ...] = CREW) -> tuple[tuple[str, Person], ...]:
    return tuple((role, Person(name)) for role, name in crew)


def begin(
    folder: LogFolder, clock: FakeClock, crew: tuple[tuple[str, Person], ...], **more: Any
) -> Run:
    """A run of the tiny aircraft, opened and signed by its crew."""
    mode = more.pop("mode", "crew" if len(crew) > 1 else "solo")
    setup = Setup(
        more.pop("loaded", tiny()), folder, "TV-T1", (mode,), crew, more.pop("fit", ("hook",)),
        more.pop("only", ""), "script",
    )  # fmt: skip
    return start(setup, clock, patient=more.pop("patient", True), **more)


class Ear:
    """Hears what a run says."""

    def __init__(self, run: Run) -> None:
        self.said: list[Say] = []
        run.subscribe(self._hear)

    def _hear(self, effects: tuple[Effect, ...]) -> None:
        self.said += [e for e in effects if isinstance(e, Say)]

    @property
    def texts(self) -> list[str]:
        return [said.text for said in self.said]


def say(run: Run, clock: FakeClock, *lines: str) -> list[Outcome]:
    """Says lines, one a second; their outcomes."""
    found = []
    for line in lines:
        clock.go(1000)
        found.append(run.say_line(line)[1])
    return found


HEAD = {"head_temp": "140", "oil_press": "60", "engine_rpm": "1200"}
MAGNETOS = {"start.both_magnetos": "1200", "start.left_magneto": "drop 80"}


def right_answer(run: Run) -> str:
    """A line that answers what is asked now, as the list wants it."""
    shown, hears = run.view(), run.listen()
    if shown.prompt is Prompt.FIRST_PAGE:
        return f"{shown.unread[0]}: page read"
    if shown.prompt is Prompt.READ_BACK:
        return "affirm"
    if shown.prompt is Prompt.STANDBY:
        return "continue"
    if shown.prompt is Prompt.MEMORY_ITEMS:
        return "memory items done"
    if shown.prompt is Prompt.CHOOSING:
        return hears.responses[0]
    if shown.prompt is Prompt.CLOSING:
        return "closed"
    if shown.prompt is Prompt.CLOSED:
        return "next flight"
    who = f"{shown.waiting_for[0]}: " if shown.who == "both" and shown.waiting_for else ""
    if hears.number:
        return who + MAGNETOS.get(hears.step, HEAD.get(reading_of(run), "1200"))
    if shown.prompt is Prompt.STATION and hears.items:
        return f"tick {hears.items[0][0].lower()}"
    if hears.responses:
        return who + hears.responses[0].lower()
    return "say again"


def reading_of(run: Run) -> str:
    """The reading that is asked for now."""
    question = run.state.question
    visit = run.state.visit(question.visit)
    if visit is None or question.step < 0:
        return ""
    step = run.table.flows[visit.flow].steps[question.step]
    if step.wait is not None and question.sub >= 0:
        return step.wait.conditions[question.sub][0]
    return step.reading


def work_day(run: Run, clock: FakeClock, most: int = 200) -> None:
    """Answers everything rightly until no list of the day is open."""
    for _ in range(most):
        if run.state.question.prompt is Prompt.CLOSED:
            return
        if run.state.question.prompt is Prompt.WAITING:
            clock.go(30_000)
            run.run_due(run.now())
        say(run, clock, right_answer(run))
    raise AssertionError(f"the day did not end: {run.view().challenge}")


class AnyCrew:
    """A crew that says anything, mostly what is right, from a seed."""

    ODD = (
        "stand by", "continue", "say again", "confirm", "put off", "not so", "unable", "negative",
        "disregard", "affirm", "roger", "wilco", "discontinue", "hand over", "snag smell of oil",
        "drill fire in start", "drill oil_low", "memory items done", "correction 1250",
        "correct rotor brake off and stowed", "correct engine rpm 1210", "mark take-off",
        "mark landing", "mark take-off 2 s ago", "timer oil_rise", "condition lost",
        "reading head temperature 151", "reading engine rpm 900", "on paper 1 to 9 revision 1",
        "accept 1", 'accept emergency "Needed for safety"', 'maintenance "cowl latch renewed"',
        "happened refuelled", "crew copilot: Tor Brand", "turn to start", "next flight",
        "page read", "fault tie-downs", "tick hook", "firing", "fire", "out", "burning",
        "below 80", "below 150", "160", "99", "2000", "unsure: released", "ask 3: released",
        "closed", "ground: cut off",
        "engine running", "airborne", "rotor turning", "resume here", "\x00\x1b[2J", "é", "9" * 300,
    )  # fmt: skip

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed)

    def line(self, run: Run) -> str:
        if self._random.random() < 0.6:
            return right_answer(run)
        return self._random.choice(self.ODD)

    def pause(self) -> int:
        """How long until the next line, ms."""
        return self._random.choice((0, 400, 1000, 1000, 5_000, 31_000, 125_000, 400_000))


def lines_of(path: Path) -> Iterator[Line]:
    """Every line of a log."""
    for raw in path.read_bytes().splitlines(keepends=True):
        try:
            yield parse(raw)
        except Fault as fault:
            raise AssertionError(f"{path}: {fault}") from None
