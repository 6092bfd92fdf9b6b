"""What the tests of both types share: the documents, loaded once, a day played by its script."""

from __future__ import annotations

import io
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from audit.folder import LogFolder
from audit.verdict import Verdict
from audit.verify import verify
from runner.engine.effects import Figure
from runner.engine.state import State
from runner.engine.table import Table
from runner.flow.loader import Loaded, load_aircraft
from runner.host.clock import SimulatedClock
from runner.host.opening import Setup, start
from runner.host.replay import Cache, replayed
from runner.host.scripted import Printer, may_close, play, read_script
from tests.audit.helpers import Person, trust_in
from tests.runner.host.support import START_MS

FLOWS = Path(__file__).resolve().parents[2] / "flows"
TYPES = ("corvane_c4", "tern_t2")
CREW = (("commander", "Ines Marlow"), ("copilot", "Tom Aske"), ("ground", "Per Lund"))


@cache
def documents(name: str) -> Loaded:
    """The documents of a type."""
    return load_aircraft(FLOWS / name)


def table_of(name: str) -> Table:
    """The lists of a type."""
    return documents(name).table


def scripts(name: str) -> list[Path]:
    """The scripts of a type."""
    return sorted((FLOWS / name / "answers").glob("*.txt"))


@dataclass(frozen=True, slots=True)
class Day:
    """A scripted day that was played: its last state, its figures, what was printed, its log."""

    state: State
    figures: tuple[Figure, ...]
    rows: tuple[tuple[str, str], ...]
    closed: bool
    verdict: Verdict

    def said(self, kind: str) -> list[str]:
        """The texts of one kind, in order."""
        return [text for one, text in self.rows if one == kind]


def played(name: str, script: Path, where: Path) -> Day:
    """Plays a script to its end, closes the log and has it verified as replayed."""
    loaded, out = documents(name), io.StringIO()
    people = tuple((role, Person(person)) for role, person in CREW)
    with LogFolder.open(where / "logs") as folder:
        clock = SimulatedClock(START_MS)
        setup = Setup(
            loaded, folder, "TV-T9", ("crew", "scripted"), people, tuple(loaded.table.fit), "",
            "script",
        )  # fmt: skip
        run = start(setup, clock, patient=True)
        play(run, clock, read_script(script), Printer(out, run, as_json=True))
        closed = may_close(run) and run.close([person for _, person in people]) == ""
        state, figures = run.state, run.view().figures
        run.stop()
        path = folder.path_of(run.recorder.writer.run)
        trust = trust_in([person for _, person in people])
        verdict = verify(path, level="replayed", trust=trust, replay=replayed(Cache()))
    rows = tuple((r["kind"], r["text"]) for r in map(json.loads, out.getvalue().splitlines()))
    return Day(state, tuple(figures), rows, closed, verdict)
