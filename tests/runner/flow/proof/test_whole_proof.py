"""The whole proof of both types."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from runner.flow.proof.proving import Proof, jobs, prove
from tests.runner.engine.generator import ROOT

pytestmark = pytest.mark.long


@pytest.mark.parametrize("name", ["corvane_c4", "tern_t2"])
def test_no_run_of_a_shipped_type_gets_past_a_need_a_limit_or_an_end(
    name: str, record_property: Callable[[str, object], None]
) -> None:
    proof = Proof()
    for result in prove(jobs(str(ROOT / "flows" / name)), 2):
        proof.take(result)
    record_property("states", proof.states)
    assert [(fault.goal, fault.beside, fault.what) for fault in proof.faults] == []
    assert proof.stuck == []
    assert proof.unfinished == []
    assert proof.holds
    assert proof.slices > 400
