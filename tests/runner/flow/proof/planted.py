"""Documents with one fault planted in a copy, and the goal that has to find it."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import NamedTuple

from runner.engine.table import Table
from runner.flow.loader import load_aircraft
from runner.flow.proof.explore import Explorer
from runner.flow.proof.proving import Counterexample, prove_slice
from runner.flow.proof.slices import Cutter, goals

ROOT = Path(__file__).resolve().parents[4]


class Planted(NamedTuple):
    """A text of a document put in place of another; `goal` is where it must be found, by a way of
    `length` events."""

    what: str
    file: str
    before: str
    after: str
    goal: str
    length: int
    beside: str = ""


SHUTDOWN, ENGAGE, AIRCRAFT = "lists/shutdown.yaml", "lists/engage.yaml", "aircraft.yaml"
MIXTURE = "before shutdown.mixture: head_temp BELOW 165 °C"
BRAKE = "before shutdown.rotor_brake: rotor_rpm BELOW 70 RPM"
DROOP = "before shutdown.rotor_stopped: shutdown.droop_stops"
CLUTCH = "before engage.clutch: oil_pressure 60 TO 100 psi"
WARM = "before engage.clutch: oil_temp 40 TO 95 °C"
HEAD = "    as: cut_off_head\n    limit: {below: 165 °C}\n"
ROTOR = '    limit: {below: 70 rpm}\n    when: rotor_found == "TURNING"\n'
OIL = "    as: clutch_oil\n    limit: {from: 60 psi, to: 100 psi}\n"
OIL_TEMP = "    as: clutch_oil_temp\n    limit: {from: 40 °C, to: 95 °C}\n"
STOPS = "    id: droop_stops\n"

PLANTED = (
    Planted("a limit left off", SHUTDOWN, HEAD, "    as: cut_off_head\n", MIXTURE, 8),
    Planted("a limit with the wrong side", SHUTDOWN, HEAD, HEAD.replace("below", "above"),
            MIXTURE, 8),
    Planted("a limit too wide", ENGAGE, OIL, OIL.replace("60", "20"), CLUTCH, 6),
    Planted("a condition that skips the limited step", SHUTDOWN, ROTOR,
            ROTOR.replace("rotor_found == \"TURNING\"", "engine_found == \"RUNNING\""), BRAKE, 7),
    Planted("a reading that never grows old", AIRCRAFT, "    fresh for: 10 min\n  gearbox_temp",
            "  gearbox_temp", MIXTURE, 9),
    Planted("a put-off step without a way back", SHUTDOWN, STOPS, STOPS + "    put off: true\n",
            DROOP, 7),
    Planted("a need that nothing enforces", AIRCRAFT, "needs:\n",
            "needs:\n  - {before: run_up.servos_off, step: magnetos.on_left}\n",
            "before run_up.servos_off: magnetos.on_left", 4),
    Planted("a bound that counts as inside", SHUTDOWN, ROTOR,
            ROTOR.replace("below: 70", "at most: 70"), BRAKE, 7),
    Planted("a list left out by its condition", "lists/last_look.yaml",
            "only when: first_flight || rotor_at_brief == 0.0", "only when: rotor_at_brief == 1.0",
            "before start.starter: last_look.ties_aboard", 6),
    Planted("a limit raised", SHUTDOWN, HEAD, HEAD.replace("165", "240"),
            MIXTURE, 8),
)  # fmt: skip

LATER_FLIGHT = Planted(
    "a limit for the first flight only", ENGAGE, OIL_TEMP, OIL_TEMP + "    when: first_flight\n",
    WARM, 5,
)  # fmt: skip


def planted(one: Planted, folder: Path) -> Table:
    """The documents with this fault in them."""
    copy = folder / "corvane_c4"
    shutil.copytree(ROOT / "flows" / "corvane_c4", copy)
    path = copy / one.file
    text = path.read_text(encoding="utf-8")
    assert text.count(one.before) == 1, f"{one.what}: not once in {one.file}"
    path.write_text(text.replace(one.before, one.after), encoding="utf-8")
    return load_aircraft(copy).table


def found(table: Table, goal: str, *beside: str) -> list[Counterexample]:
    """What the slice of one goal comes to."""
    known = {one.name: one for one in goals(table)}
    return prove_slice(table, Cutter(table).cut(known[goal], beside))[1]


def explored(table: Table, goal: str, *beside: str) -> Explorer:
    """One slice gone through."""
    known = {one.name: one for one in goals(table)}
    explorer = Explorer(Cutter(table).cut(known[goal], beside))
    explorer.explore()
    return explorer
