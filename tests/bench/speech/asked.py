"""What the crew is asked and answers on the demonstration day, as the program itself asks it.

Rules: every scripted crew of the demo aircraft is played through the engine, on a simulated clock;
an answer is kept with the question that stood when it began and with all that might have been said
to it, and only if the engine took it; what is done by keys alone (the first page, what both look
at, marks typed late) is no answer and is counted apart; whether the list itself reads a spoken
answer back is asked of the engine, in the state that stood. Nothing here knows a recogniser.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from decimal import Decimal
from enum import Enum
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final, NamedTuple

from audit.folder import LogFolder
from runner.engine.effects import Listen, Prompt
from runner.engine.session import transition
from runner.engine.state import State
from runner.flow.loader import Loaded, load_aircraft
from runner.host.clock import SimulatedClock
from runner.host.opening import Setup, start
from runner.host.run import Run
from runner.host.scripted import Printer, play, read_script
from runner.speech.answers import answer_set
from runner.speech.heard import AnswerSet
from runner.words.naming import Context, WordFault
from runner.words.numbers import read_number
from runner.words.spoken import read, split
from tests.audit.helpers import Person
from tests.bench.speech.recordings import PROJECT

AIRCRAFT: Final = PROJECT / "flows" / "corvane_c4"
DAY: Final = "normal"
"""The script of an ordinary day of two flights."""

_CREW = (("commander", "Ines Marlow"), ("copilot", "Tom Aske"), ("ground", "Per Lund"))
_START_MS = 1_795_557_003_412
_ROOMS = ("crew", "scripted")


class Sort(Enum):
    """What an input of the script is to the microphone."""

    WORDS = "words"
    NUMBER = "number"
    THRESHOLD = "threshold"
    ITEM = "item"
    CONTROL = "control"
    KEYS = "keys"


class Asked(NamedTuple):
    """One input of a scripted crew: the question that stood, what may be said to it, what was said
    and what that is; whether engine or rotor turned; the state of the run, and who spoke."""

    listen: Listen
    answers: AnswerSet
    line: str
    turning: bool
    sort: Sort
    value: Decimal | None = None
    state: State | None = None
    role: str = ""


class _Notes(Printer):
    """Notes what stood when an input came, and what became of it."""

    def __init__(self, run: Run) -> None:
        super().__init__(io.StringIO(), run, as_json=True)
        self._of = run
        self.found: list[tuple[Asked, int]] = []

    def line(self, kind: str, text: str) -> None:
        """Called with each input just before the run hears it; outcomes are of no interest."""
        if kind == "answer":
            listen, view, speech = self._of.listen(), self._of.view(), split(text)
            # Which question of the run it was is no part of what is tried.
            answers = answer_set(listen, view, role=speech.role)._replace(ask=0)
            turning = view.engine_running or view.rotor_turning
            line = " ".join(speech.text.lower().split())
            sort, value = _sorted(listen, speech.text)
            one = Asked(listen, answers, line, turning, sort, value, self._of.state, speech.role)
            self.found.append((one, self.refused))


@cache
def documents() -> Loaded:
    """The demo aircraft's lists."""
    return load_aircraft(AIRCRAFT)


def scripts() -> list[str]:
    """The names of the scripted crews, the ordinary day first."""
    found = sorted(path.stem for path in (AIRCRAFT / "answers").glob("*.txt"))
    return [DAY, *(name for name in found if name != DAY)]


@cache
def answered(script: str = DAY) -> tuple[Asked, ...]:
    """All inputs of one script, those that were refused left out, in their order."""
    loaded = documents()
    with (
        TemporaryDirectory(prefix="latchword-day-") as place,
        LogFolder.open(Path(place) / "logs") as folder,
    ):
        people = tuple((role, Person(name)) for role, name in _CREW)
        fit = tuple(loaded.table.fit)
        setup = Setup(loaded, folder, "TV-T9", _ROOMS, people, fit, "", "script")
        clock = SimulatedClock(_START_MS)
        run = start(setup, clock, patient=True)
        notes = _Notes(run)
        play(run, clock, read_script(AIRCRAFT / "answers" / f"{script}.txt"), notes)
        after = [*(row[-1] for row in notes.found[1:]), notes.refused]
        run.stop()
    return tuple(
        one for (one, before), then in zip(notes.found, after, strict=True) if then == before
    )


def read_back(one: Asked, line: str) -> bool:
    """Whether the list asks *affirm* of this line, surely heard, before it takes it."""
    if one.state is None:
        raise ValueError("no run stood at this question")
    table, state = documents().table, one.state
    context = Context(table, state, state.at, "voice", state.ask)
    try:
        event = read(f"{one.role}: {line}" if one.role else line, context)
    except WordFault:
        return False
    after, _ = transition(table, state, event)
    return after.question.prompt is Prompt.READ_BACK and after.ask != state.ask


def questions(names: Iterable[str] = ()) -> list[Asked]:
    """Each question of the scripts once, by step and by what may be said, with its first answer."""
    found: dict[tuple[object, ...], Asked] = {}
    for name in names or scripts():
        for one in answered(name):
            key = (one.listen._replace(ask=0), one.line)
            found.setdefault(key, one)
    return list(found.values())


def _sorted(listen: Listen, line: str) -> tuple[Sort, Decimal | None]:
    """What an input is, by the closed set that stood, and its number."""
    words = " ".join(line.lower().split())
    if listen.both:
        return Sort.KEYS, None
    if words.startswith("tick "):
        item = words.removeprefix("tick ")
        known = any(item == challenge.lower() for challenge, _ in listen.items)
        return Sort.ITEM if known else Sort.KEYS, None
    if listen.number:
        value = read_number(words)
        if value is not None:
            return Sort.NUMBER, value
        side, _, rest = words.partition(" ")
        if side in ("below", "above", "drop") and read_number(rest) is not None:
            return Sort.THRESHOLD, read_number(rest)
    if words in (text.lower() for text in listen.responses):
        return Sort.WORDS, None
    if words in listen.controls:
        return Sort.CONTROL, None
    return Sort.KEYS, None
