"""Every script of both types runs to closed, without a refusal, through the drill of its name to
the end that is expected of it, and leaves a log that replays."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.engine.table import EndKind
from tests.flows.support import FLOWS, TYPES, played, scripts, table_of

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

EVERY = [(name, path.stem) for name in TYPES for path in scripts(name) if path.stem != "normal"]

ENDS = {
    ("corvane_c4", "carb_icing"): "Power is back",
    ("corvane_c4", "clutch_fault"): "Once more",
    ("corvane_c4", "droop_stop_out"): "All in now",
    ("corvane_c4", "electrical_smoke"): "Smoke clears",
    ("corvane_c4", "engagement_runaway"): "Slowing, never over 225",
    ("corvane_c4", "fire_in_start"): "Fire out, engine stopped",
    ("corvane_c4", "gearbox_hot"): "Back within limits",
    ("corvane_c4", "generator_failure"): "On the battery",
    ("corvane_c4", "ground_resonance"): "Calm on the ground",
    ("corvane_c4", "gust_at_start"): "No contact, wind down",
    ("corvane_c4", "head_hot"): "Cut off hot",
    ("corvane_c4", "hydraulic_lock"): "Drained, turns free",
    ("corvane_c4", "magneto_fault"): "Measure again",
    ("corvane_c4", "oil_pressure_low"): "Engine stopped",
    ("corvane_c4", "over_primed"): "Cleared",
    ("corvane_c4", "servo_failure"): "On one system only",
    ("tern_t2", "alternator_failure"): "On the battery",
    ("tern_t2", "belts_fault"): "Once more",
    ("tern_t2", "carb_icing"): "Power is back",
    ("tern_t2", "electrical_smoke"): "Smoke clears",
    ("tern_t2", "fire_in_start"): "Fire out, engine stopped",
    ("tern_t2", "governor_failure"): "Steady by hand",
    ("tern_t2", "gust_at_start"): "No contact, wind stays",
    ("tern_t2", "head_hot"): "Cut off hot",
    ("tern_t2", "low_rotor"): "Back and never under 400",
    ("tern_t2", "magneto_fault"): "Measure again",
    ("tern_t2", "oil_pressure_low"): "Engine stopped",
    ("tern_t2", "skid_caught"): "Free and level",
}
"""The end that each script leads its drill to, as the story at its head tells it."""


@pytest.mark.parametrize("name", TYPES)
def test_every_drill_has_a_script_and_every_script_a_drill(name: str) -> None:
    wanted = {"normal", *(f"drill_{drill}" for drill in table_of(name).drills)}
    assert {path.stem for path in scripts(name)} == wanted
    assert {drill for one, drill in ENDS if one == name} == set(table_of(name).drills)


@pytest.mark.parametrize(("name", "script"), EVERY)
def test_a_drill_is_flown_to_its_end_and_the_day_closed(
    name: str, script: str, tmp_path: Path
) -> None:
    day = played(name, FLOWS / name / "answers" / f"{script}.txt", tmp_path)
    assert day.said("refused") == []
    assert day.closed
    assert (day.verdict.result, day.verdict.code) == ("closed", "")
    drill = table_of(name).flows[script.removeprefix("drill_")]
    (end,) = [one for one in drill.ends if one.label == ENDS[name, drill.id]]
    told = [text for text in day.said("drill") if text.startswith("DRILL ENDED")]
    assert told == [f"DRILL ENDED: {drill.title.upper()}, {end.label}"]
    assert [one.text for one in day.state.defects] == [end.defect] * bool(end.defect)
    # Who restarts or goes on flies the list again; who discontinues is at rest in the end.
    if end.kind is EndKind.RESTART:
        title = table_of(name).flows[end.flow].title.upper()
        assert day.said("status").count(f"LIST: {title}") >= 2
    assert (day.state.engine, day.state.rotor, day.state.airborne) == (False, False, False)


@pytest.mark.parametrize("name", TYPES)
def test_the_normal_day_has_two_flights_and_no_drill(name: str, tmp_path: Path) -> None:
    day = played(name, FLOWS / name / "answers" / "normal.txt", tmp_path)
    assert day.said("refused") == []
    assert day.closed
    assert (day.verdict.result, day.verdict.code) == ("closed", "")
    assert day.state.flight == 2
    assert day.said("drill") == []
    assert not day.state.defects
    later = {f.title.upper() for f in table_of(name).flows.values() if f.flights == "later"}
    assert later & {text.removeprefix("LIST: ") for text in day.said("status")}
    assert (day.state.engine, day.state.rotor, day.state.airborne) == (False, False, False)
