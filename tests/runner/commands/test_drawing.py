"""`draw`: the forms, the files, and runs laid over a list."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from runner.commands.coverage import coverage
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
    counts = coverage([log], {file: documents[file]})
    assert counts.runs == 1
    steps = load_aircraft(C4).table.flows["magnetos"].steps
    # A normal day has one check of the magnetos: every step of it is answered, once.
    assert {step.id: counts.text(step.id) for step in steps} == {
        step.id: "answered 1" for step in steps
    }
    said = command("draw", C4 / file, "--logs", log.parent)
    assert said.code == 0
    assert said.out.count("[answered 1]") == len(steps)
    assert coverage([log], {file: "0" * 64}).runs == 0


def test_a_drill_is_counted_to_its_closing_call(command: Any) -> None:
    script = C4 / "answers" / "drill_fire_in_start.txt"
    assert command("demo", "--answers", script).code in (0, 75)
    (log,) = places.state().rglob("*.jsonl")
    loaded = load_aircraft(C4)
    documents = {one.name: one.sha256 for one in loaded.documents}
    file = "drills/fire_in_start.yaml"
    counts = coverage([log], {file: documents[file]})
    steps = loaded.table.flows["fire_in_start"].steps
    assert counts.text(steps[0].id) == "answered 1"
    assert counts.text(steps[-1].id) == "answered 1"


def test_runs_are_laid_over_the_day(command: Any) -> None:
    for name in ("normal", "drill_fire_in_start"):
        script = C4 / "answers" / f"{name}.txt"
        assert command("demo", "--answers", script).code in (0, 75)
    loaded = load_aircraft(C4)
    documents = {one.name: one.sha256 for one in loaded.documents}
    logs = sorted(places.state().rglob("*.jsonl"))
    assert len(logs) == 2
    counts = coverage(logs, documents, "corvane_c4")
    assert counts.runs == 2
    size = {name: len(flow.steps) for name, flow in loaded.table.flows.items()}
    magnetos = size["magnetos"]
    # Only the normal day gets as far as the magnetos, and the fire is in the other.
    assert counts.text("corvane_c4.magnetos") == f"closed 1, {magnetos} of {magnetos} steps passed"
    assert counts.weight("corvane_c4.magnetos") == 2
    assert counts.text("corvane_c4.fire_in_start").startswith("opened 1, ended 1, ")
    assert counts.text("corvane_c4.ground_resonance") == "never reached"
    assert counts.weight("corvane_c4.ground_resonance") == 0
    assert counts.weight("corvane_c4.brief") == 3
    # The day says of a list what the list itself says of its steps.
    for flow in ("brief", "start", "fire_in_start"):
        folder = "drills" if loaded.table.flows[flow].drill else "lists"
        file = f"{folder}/{flow}.yaml"
        alone = coverage(logs, {file: documents[file]})
        steps = [step.id for step in loaded.table.flows[flow].steps]
        some = sum(bool(alone.passed.get(step)) for step in steps)
        assert 0 < some <= size[flow]
        assert counts.inner[f"corvane_c4.{flow}"] == (some, size[flow])
        assert {s: counts.text(s) for s in steps} == {s: alone.text(s) for s in steps}
    # Every form shows it, beside the list that it is of.
    said = command("draw", C4, "--logs", logs[0].parent, "--logs", logs[1].parent)
    assert said.code == 0
    assert "Laid over it: 2 runs" in said.out
    flat = " ".join(re.sub(r"(?m)^ {7}[|:#] *", "", said.out).split())
    title = loaded.table.flows["magnetos"].title
    assert re.search(rf"{title} [^\[]*\[closed 1, {magnetos} of {magnetos} steps passed\]", flat)
    for form in ("--dot", "--svg"):
        drawn = command("draw", form, C4, "--logs", logs[0].parent).out
        assert f"{magnetos} of {magnetos} steps" in " ".join(drawn.split())


def test_a_run_with_other_documents_is_no_coverage_of_this_day(command: Any) -> None:
    assert command("demo", "--answers", C4 / "answers" / "normal.txt").code == 0
    (log,) = places.state().rglob("*.jsonl")
    documents = {one.name: one.sha256 for one in load_aircraft(C4).documents}
    other = {**documents, "lists/engage.yaml": "0" * 64}
    assert coverage([log], other, "corvane_c4") == (0, {}, {}, {})
    tern = command("draw", C4.parent / "tern_t2", "--logs", log.parent)
    assert tern.code == 0
    assert "left out, its documents are others" in tern.err
    assert "Laid over it: 0 runs" in tern.out
