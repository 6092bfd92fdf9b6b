"""Questions for the tests of speech: those of the scripted days, and those that runs of any kind
come to, each with what may be said to it."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

from runner.engine import events as ev
from runner.engine.effects import Listen, View
from runner.engine.listening import listen
from runner.engine.state import State
from runner.engine.table import Table
from runner.engine.views import view
from runner.host.scripted import read_script
from runner.speech.answers import answer_set
from runner.speech.heard import AnswerSet
from runner.words.naming import Context
from runner.words.spoken import read, split
from tests.runner.engine.generator import ROOT, TWO, Run, aircraft
from tests.runner.engine.willing import starts

ANSWERS = ROOT / "flows" / "corvane_c4" / "answers"


class Said(NamedTuple):
    """A line of a script at the question to which it was said."""

    line: str
    role: str
    event: ev.Event
    table: Table
    state: State
    at: int

    @property
    def listen(self) -> Listen:
        return listen(self.table, self.state)

    @property
    def view(self) -> View:
        return view(self.table, self.state)

    def set(self, role: str = "") -> AnswerSet:
        return answer_set(self.listen, self.view, role=role)

    def read(self, line: str, source: str = "voice") -> ev.Event:
        return read(line, Context(self.table, self.state, self.at, source))


@cache
def day(script: str = "normal.txt", name: str = "corvane_c4") -> tuple[Said, ...]:
    """Every line of a script, as it is said in its day."""
    return tuple(_day(ROOT / "flows" / name / "answers" / script, aircraft(name)))


def _day(script: Path, table: Table) -> Iterator[Said]:
    run = Run(table, 0)
    run.send(ev.Opened(0, ("crew",), TWO, tuple(table.fit)))
    at = 0
    for given in read_script(script):
        at += given.passes
        if not given.text:
            continue
        # What is due before a line happens before it, as in a real run.
        while (due := run_due(run, at)) is not None:
            run.send(ev.Wake(due))
        event = read(given.text, Context(table, run.state, at, "script"))
        speech = split(given.text)
        yield Said(speech.text, speech.role, event, table, run.state, at)
        outcome = run.send(event)
        assert not outcome or outcome[0][0] != "refused", (given.text, outcome)


def run_due(run: Run, at: int) -> int | None:
    """The next deadline at or before a moment."""
    from runner.engine.session import Session

    due = Session(run.table, run.state).next_deadline()
    return due if due is not None and due <= at else None


@cache
def questions(name: str) -> tuple[Said, ...]:
    """Questions at and behind the first line of every list and drill of an aircraft."""
    found = []
    for run in starts(aircraft(name), range(3)):
        for _ in range(10 if name in ("corvane_c4", "tern_t2") else 30):
            found.append(Said("", "", ev.Wake(run.at), run.table, run.state, run.at))
            run.step()
    return tuple(found)
