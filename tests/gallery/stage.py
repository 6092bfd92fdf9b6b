"""Where a reference picture is taken: a run of the demonstration, and the real screen before it.

Rules: a state is reached by playing a script of the demonstration into a real run and then by
further words and keys through the full screen's own shell, which stands here without a terminal;
the clock goes only where it is told, and nothing is written to a disk, so that the same program
shows the same screen on any machine. What was played once is shared by every state.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from prompt_toolkit.data_structures import Size as Cells
from prompt_toolkit.input import DummyInput
from prompt_toolkit.output import DummyOutput

from audit.folder import LogFolder
from audit.people import load_signer, new_key
from audit.receipt import Receipt
from audit.stamps import Stamp
from audit.writer import Entry
from runner.commands.slip import shown
from runner.engine.effects import Effect, View
from runner.engine.listening import listen
from runner.engine.state import State
from runner.flow.loader import Loaded, load_aircraft
from runner.host.clock import SimulatedClock
from runner.host.opening import Setup, start
from runner.host.recording import Recorder
from runner.host.run import Run
from runner.host.scripted import parse, read_script
from runner.terminal.aside import Aside, Size
from runner.terminal.attention import calls_due
from runner.terminal.fullscreen import FullScreen
from runner.terminal.keymap import Keymap
from runner.terminal.keys import settle
from runner.terminal.rows import Rows
from runner.terminal.shell import Document
from runner.terminal.themes import Depth, Theme

PROJECT = Path(__file__).resolve().parents[2]
AIRCRAFT = PROJECT / "flows" / "corvane_c4"
REGISTRATION = "TV-C41"
CREW = (("commander", "Ines Marlow"), ("copilot", "Tom Aske"), ("ground", "Per Lund"))
DAWN_MS = 1_790_835_000_000  # 2026-10-01 05:30 UTC
HEAD = "4f2a91c0"
"""The head of a log that is not written: keys made anew each time would change the picture."""
RECEIPT = Receipt(
    "7b" * 32, "20261001-053000-4f2a91", 12, 431, False, DAWN_MS + 9_000_000, HEAD * 8
)
KEY_MS = 1500
WORDS_MS = 4000
TICK_MS = 1000


class Opening(NamedTuple):
    """How a run begins. `carried` is what the run before left, `papers` what documents it has
    (those that the host found, where none are given), `machine` what is wrong with this machine."""

    modes: tuple[str, ...] = ("crew", "demonstration")
    crew: tuple[tuple[str, str], ...] = CREW
    carried: tuple[tuple[str, str], ...] = ()
    papers: tuple[Document, ...] = ()
    machine: tuple[str, ...] = ()
    only: str = ""


DEMO = Opening()


class Moment(NamedTuple):
    """A state of a run, when it was, and the words that came next."""

    state: State
    at: int
    words: str


class Unwritten(Recorder):
    """A recorder that keeps nothing; it may be lost like any other."""

    def __init__(self) -> None:
        self.acceptances: list[int] = []
        self._lost = ""
        self.owing: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())

    def owed(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        return self.owing

    @property
    def head(self) -> str:
        return HEAD

    @property
    def durable_head(self) -> str:
        return HEAD

    def record(self, data: Mapping[str, Any], stamp: Stamp) -> Entry | None:
        return None


@cache
def loaded() -> Loaded:
    return load_aircraft(AIRCRAFT)


@cache
def opened(opening: Opening) -> tuple[State, tuple[Document, ...]]:
    """The state of a run that has just begun, and the documents that the host gave it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        people = tuple(
            (role, load_signer(new_key(who, None, folder / "keys"), None, who))
            for role, who in opening.crew
        )
        with LogFolder.open(folder / "logs") as logs:
            table = loaded().table
            setup = Setup(
                loaded(), logs, REGISTRATION, opening.modes, people, tuple(table.fit), opening.only
            )
            run = start(setup, SimulatedClock(DAWN_MS), patient=True)
            run.stop()
    state, papers = run.state, tuple(_coded(paper) for paper in run.papers)
    if opening.carried:
        state = _carrying(state, opening)
    return state, opening.papers or papers


def _coded(paper: Document) -> Document:
    """A document under a code made from its title: a picture must not change with every word of a
    document that it does not show."""
    return paper._replace(code=hashlib.sha256(paper.title.encode()).hexdigest()[:8])


def _carrying(state: State, opening: Opening) -> State:
    """The same opening with what the run before left."""
    from runner.engine.events import Opened
    from runner.engine.state import initial

    run = Run(loaded().table, initial(), Unwritten(), SimulatedClock(DAWN_MS), 0, REGISTRATION)
    fit = tuple(loaded().table.fit)
    modes = tuple(sorted(opening.modes))
    run.take(lambda at: Opened(at, modes, opening.crew, fit, opening.carried, opening.only))
    return run.state


def fork(moment: Moment, opening: Opening) -> tuple[Run, SimulatedClock]:
    """A run that stands at a moment, and its clock."""
    clock = SimulatedClock(DAWN_MS + moment.at, moment.at)
    recorder = Unwritten()
    recorder.owing = ((), tuple(name for _, name in opening.crew))
    run = Run(loaded().table, moment.state, recorder, clock, 0, REGISTRATION)
    run.make_receipt = lambda: shown(RECEIPT)
    run.papers = opened(opening)[1]
    run.machine_notes = opening.machine
    return run, clock


def pass_time(run: Run, clock: SimulatedClock, ms: int, ticked: Callable[[], None]) -> None:
    """Lets time pass as a waiting program sees it: a look at the clock each second."""
    while ms > 0:
        step = min(TICK_MS, ms)
        clock.pass_ms(step)
        run.run_due(run.now())
        ticked()
        ms -= step


@cache
def played(script: str, opening: Opening = DEMO) -> tuple[Moment, ...]:
    """Every moment of a script of the demonstration, each with the words that come next."""
    run, clock = fork(Moment(opened(opening)[0], 0, ""), opening)
    moments = []
    for given in read_script(AIRCRAFT / "answers" / f"{script}.txt"):
        for ms, words in ((given.passes, ""), (0, given.text)):
            if ms or words:
                moments.append(Moment(run.state, run.now(), words or f"@+{ms}ms"))
            clock.pass_ms(ms)
            run.run_due(run.now())
            if words:
                run.say_line(words)
    moments.append(Moment(run.state, run.now(), ""))
    return tuple(moments)


@cache
def step_names(script: str, opening: Opening = DEMO) -> tuple[str, ...]:
    """What was asked at every moment of a script."""
    return tuple(listen(loaded().table, m.state).step for m in played(script, opening))


def moment_before(script: str, step: str, flight: int, opening: Opening) -> Moment:
    """The moment before the words that brought a question; raises LookupError."""
    names, moments = step_names(script, opening), played(script, opening)
    for number, name in enumerate(names):
        if name == step and moments[number].state.flight == flight:
            return moments[max(0, number - 1)]
    raise LookupError(f"{script}: {step} is never asked on flight {flight}")


class _AtOnce:
    """In place of the event loop: what is handed to it is done."""

    def call_soon_threadsafe(self, call: Callable[..., None], *args: object) -> None:
        call(*args)


class _Glass(DummyOutput):
    """A terminal of one size that shows nothing."""

    def __init__(self, size: Size) -> None:
        self._cells = Cells(rows=size.rows, columns=size.columns)

    def get_size(self) -> Cells:
        return self._cells


class _Still:
    """In place of the application: a terminal that is never drawn on, and no loop."""

    def __init__(self, output: _Glass) -> None:
        self.output = output

    def invalidate(self) -> None:
        """What is to be seen is asked for."""

    def exit(self) -> None:
        """A picture is taken of the last screen too."""


class Seat(FullScreen):
    """The full screen before one run, worked by words and keys, drawn in any look."""

    def __init__(self, moment: Moment, opening: Opening, size: Size) -> None:
        self.run_, self.clock = fork(moment, opening)
        self.size = size
        super().__init__("day", Depth.FULL, DummyInput(), DummyOutput())
        self._desk = self.run_
        self._loop: Any = _AtOnce()
        self._app: Any = _Still(_Glass(size))
        self.run_.subscribe(self._heard)
        self._view, self._listen = self.run_.view(), self.run_.listen()
        self._keys = settle(self._keys, self._view, self.run_.now())
        self.effects: list[Effect] = []
        self.run_.subscribe(self.effects.extend)

    @property
    def view(self) -> View:
        """What the screen shows now."""
        return self._view

    @property
    def aside(self) -> Aside:
        """What the screen shows beside the view."""
        return self._aside(self.run_.now())

    def words(self, line: str) -> None:
        """One line of a script: the time that passes, and what is said."""
        for given in parse([line]):
            self.wait(given.passes if line.lstrip().startswith("@") else WORDS_MS)
            if given.text:
                self.run_.submit_text(given.text, self._view.ask)

    def wait(self, ms: int) -> None:
        """Time passes, and the program looks at the clock."""
        pass_time(self.run_, self.clock, ms, self._ticks)

    def press(self, *names: str) -> None:
        """Keys, by the names that the reducer knows."""
        for name in names:
            self.wait(KEY_MS)
            self._key(name)

    def hold(self, name: str) -> None:
        """A key at once, no time passing."""
        self._key(name)

    def type(self, text: str) -> None:
        """Characters, one key each."""
        for char in text:
            self.wait(KEY_MS // 5)
            self._key(char)

    def take(self, effects: tuple[Effect, ...]) -> None:
        """Effects that no event of this run brought."""
        self._take(effects)

    def fails(self, fault: Exception) -> None:
        """A fault of the program reaches the screen."""
        self._fault(self._loop, {"exception": fault, "message": ""})

    def looks_away(self) -> None:
        """The terminal reports that it has lost the focus."""
        self._focus(False)

    def given(self, keymap: Keymap) -> None:
        """The table of keys that this screen was opened with."""
        self._keymap = keymap

    def _ticks(self) -> None:
        due = calls_due(self._view, self._keys.asked_at, self.run_.now())
        self._calls = max(self._calls, due)

    def rows(self, theme: Theme) -> Rows:
        """What stands on the screen in a theme."""
        self._theme = theme
        rows, drawn = self._draw(self.size)
        if drawn is not theme:
            raise AssertionError(f"asked for {theme.name}, drawn in {drawn.name}")
        return rows
