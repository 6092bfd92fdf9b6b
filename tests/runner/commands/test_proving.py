"""The command: exit codes, the files of counterexamples, and the same as data."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from runner.commands.proving import played, prove_aircraft
from runner.flow.faults import FlowErrors
from tests.runner.engine.generator import ROOT
from tests.runner.flow.proof.planted import DROOP, PLANTED, planted

SHORT = ROOT / "tests" / "data" / "short"


def test_a_small_aircraft_is_proven(capsys: pytest.CaptureFixture[str]) -> None:
    assert prove_aircraft(SHORT, "text", None, 1, "") == 0
    told = capsys.readouterr().out
    assert told.splitlines()[-1] == "proven"
    assert "left out:" in told


def test_the_same_as_data(capsys: pytest.CaptureFixture[str]) -> None:
    assert prove_aircraft(SHORT, "json", None, 1, "") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["holds"] is True
    assert told["states"] > 100
    assert {"kind": "limit", "name": "check.fuel", "verdict": "holds"} in told["goals"]


def test_a_counterexample_is_written_as_the_lines_of_a_scripted_crew(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one = next(one for one in PLANTED if one.goal == DROOP)
    table = planted(one, tmp_path)
    folder, out = tmp_path / "corvane_c4", tmp_path / "found"
    assert prove_aircraft(folder, "text", out, 1, DROOP) == 1
    told = capsys.readouterr().out
    assert "NOT PROVEN" in told
    assert "played again: it shows" in told
    (path,) = out.iterdir()
    assert any("droop_stops" in fault for fault in played(table, path.read_text().splitlines()))


def test_a_goal_that_nothing_is_called_by(capsys: pytest.CaptureFixture[str]) -> None:
    assert prove_aircraft(SHORT, "text", None, 1, "no such goal") == 2
    assert "no goal has" in capsys.readouterr().err


def test_documents_that_do_not_load_are_said_so(tmp_path: Path) -> None:
    with pytest.raises(FlowErrors):
        prove_aircraft(tmp_path, "text", None, 1, "")
