"""The copy page of the Corvane's scripted day, against the words of the script itself."""

from __future__ import annotations

import io
from pathlib import Path

from audit.folder import LogFolder
from runner.flow.loader import load_aircraft
from runner.host.clock import SimulatedClock
from runner.host.opening import Setup, start
from runner.host.scripted import Printer, play, read_script
from tests.audit.helpers import Person
from tests.runner.host.support import START_MS

FOLDER = Path(__file__).resolve().parents[2] / "flows" / "corvane_c4"
CREW = (("commander", "Ines Marlow"), ("copilot", "Tom Aske"), ("ground", "Per Lund"))


def test_the_scripted_day_fills_the_copy_page_of_both_flights(tmp_path: Path) -> None:
    loaded = load_aircraft(FOLDER)
    people = tuple((role, Person(name)) for role, name in CREW)
    modes = ("crew", "demonstration", "scripted")
    with LogFolder.open(tmp_path / "logs") as folder:
        clock = SimulatedClock(START_MS)
        setup = Setup(
            loaded, folder, "TV-C41", modes, people, tuple(loaded.table.fit), "", "script"
        )
        run = start(setup, clock, patient=True)
        script = read_script(FOLDER / "answers" / "normal.txt")
        play(run, clock, script, Printer(io.StringIO(), run, as_json=False))
        shown = run.view().figures
        run.stop()
    labels = [entry.label for entry in loaded.table.copied]
    first = {one.label: one for one in shown if one.flight == 1}
    second = {one.label: one for one in shown if one.flight == 2}
    assert [one.label for one in shown if one.flight == 2] == labels
    # What the script answers in "Post-flight" and "Fuel"; 12 and 14 min, and 22 min, between marks.
    said = {"Hour meter": "4127.6", "Fuel left, forward tank": "132", "Fuel left, aft tank": "141",
            "Engine oil left": "32", "Snags": "vibration left pedal", "Flight time": "26",
            "Landings": "1", "Starts": "1", "Defects": "NONE"}  # fmt: skip
    assert {label: first[label].value for label in said} == said
    later = {"Hour meter": "4128.1", "Fuel left, forward tank": "88", "Fuel left, aft tank": "96",
             "Engine oil left": "31", "Snags": "NONE", "Flight time": "22"}  # fmt: skip
    assert {label: second[label].value for label in later} == later
    assert all(one.value or one.at is not None for one in shown)
