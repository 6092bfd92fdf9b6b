"""`draw`: the forms, the files, and runs laid over a list."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from runner.commands.drawing import coverage
from runner.flow.loader import load_aircraft
from runner.host import places

C4 = Path(__file__).resolve().parents[3] / "flows" / "corvane_c4"


def test_forms_and_files(command: Any, tmp_path: Path) -> None:
    start = C4 / "lists" / "start.yaml"
    assert command("draw", start).out.startswith("START\n")
    assert command("draw", "--dot", C4).out.startswith("digraph flow {\n")
    assert command("draw", "--svg", "--out", tmp_path / "s.svg", start).code == 0
    assert sorted(one.name for one in tmp_path.iterdir()) == ["s-1.svg", "s-2.svg"]
    again = command("draw", "--svg", "--out", tmp_path / "s.svg", start)
    assert again.code == 4
    assert "is there already" in again.err
    unknown = command("draw", C4 / "lists" / "strat.yaml")
    assert unknown.code == 4
    assert "did you mean start" in unknown.err
    assert command("draw", tmp_path / "s-1.svg").code == 2


def test_runs_are_laid_over_a_list(command: Any) -> None:
    assert command("demo", "--answers", C4 / "answers" / "normal.txt").code == 0
    kept = places.state()
    (log,) = kept.rglob("*.jsonl")
    documents = {one.name: one.sha256 for one in load_aircraft(C4).documents}
    file = "lists/magnetos.yaml"
    counts = coverage([log], file, documents[file])
    assert counts.runs == 1
    steps = load_aircraft(C4).table.flows["magnetos"].steps
    # A normal day has one check of the magnetos: every step of it is answered, once.
    assert {step.id: counts.text(step.id) for step in steps} == {
        step.id: "answered 1" for step in steps
    }
    said = command("draw", C4 / file, "--logs", log.parent)
    assert said.code == 0
    assert said.out.count("[answered 1]") == len(steps)
    assert coverage([log], file, "0" * 64).runs == 0
    assert command("draw", C4, "--logs", log.parent).code == 2


def test_a_drill_is_counted_to_its_closing_call(command: Any) -> None:
    script = C4 / "answers" / "drill_fire_in_start.txt"
    assert command("demo", "--answers", script).code in (0, 75)
    (log,) = places.state().rglob("*.jsonl")
    loaded = load_aircraft(C4)
    documents = {one.name: one.sha256 for one in loaded.documents}
    counts = coverage([log], "drills/fire_in_start.yaml", documents["drills/fire_in_start.yaml"])
    steps = loaded.table.flows["fire_in_start"].steps
    assert counts.text(steps[0].id) == "answered 1"
    assert counts.text(steps[-1].id) == "answered 1"
