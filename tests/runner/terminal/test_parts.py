"""The parts of a list's screen: a neighbour in the words that the crew reads everywhere else."""

from __future__ import annotations

from typing import Any

import pytest

from runner.engine.effects import Line
from runner.terminal.parts import neighbour
from runner.terminal.rows import text

STEP = Line(213, "Oil pressure", "AT LEAST 35 psi", "", "open")


@pytest.mark.parametrize(
    ("changes", "right"),
    [
        ({"status": "unmet", "why": "late"}, "NOT MET: too late"),
        ({"status": "unmet", "why": "not so"}, "NOT MET: not so"),
        ({"status": "unmet", "why": ""}, "NOT MET"),
        ({"status": "put off", "why": "before Start"}, "PUT OFF: before Start"),
        ({"status": "on paper", "why": "paper"}, "ON PAPER"),
        ({"status": "not required", "why": "no hook"}, "NOT REQUIRED: no hook"),
        ({"status": "accepted", "why": "known", "answer": "30 psi"},
         "30 psi, COMMANDER ACCEPTS: known"),
        ({"status": "answered", "answer": "41 psi"}, "41 psi"),
        ({"status": "answered"}, "ANSWERED"),
    ],
)  # fmt: skip
def test_how_a_step_beside_the_question_stands(changes: dict[str, Any], right: str) -> None:
    row = text(neighbour(STEP._replace(**changes), 70))
    assert row.startswith("213 Oil pressure ..")
    assert row.endswith(f". {right}")


def test_nothing_stands_beside_what_is_to_come() -> None:
    assert text(neighbour(STEP, 70)) == "213 Oil pressure"
