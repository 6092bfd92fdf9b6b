"""What is kept for speed beside a state and a table says nothing that they do not say."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine import events as ev
from runner.engine import passing
from runner.engine.outcomes import Outcome
from runner.engine.state import How, State, may_pass
from runner.engine.table import Kind
from tests.runner.engine.generator import aircraft
from tests.runner.engine.test_laws import watched

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

SEEDS = st.integers(0, 2**32)
SMALL = settings(max_examples=25, derandomize=True, database=None)


@pytest.mark.parametrize("name", ["tiny", "probe"])
@SMALL
@given(seed=SEEDS)
def test_what_is_kept_beside_a_list_is_what_its_latches_say(name: str, seed: int) -> None:
    """The steps seen to pass do, whatever was reopened; no step is put off unnoticed."""
    table = aircraft(name)

    def check(before: State, event: ev.Event, outcome: Outcome, after: State) -> None:
        live = after.visits if after.drill is None else (after.drill, *after.visits)
        for visit in live:
            steps = table.flows[visit.flow].steps
            for step, latch in zip(steps[: visit.seen], visit.latches, strict=False):
                assert may_pass(step, latch), (event, outcome, step.id)
            assert visit.aside or How.PUT_OFF not in [latch.how for latch in visit.latches]
        kept = passing.timer_deadlines(table, after.timers)
        passing._last = (None, None, ())
        assert kept == passing.timer_deadlines(table, after.timers)

    watched(table, seed, 40, check)


@pytest.mark.parametrize("name", ["tiny", "probe", "corvane_c4"])
def test_what_a_table_derives_is_what_its_steps_say(name: str) -> None:
    table = aircraft(name)
    ids = {
        name: sorted(
            table.flows[flow].steps[position].id
            for flow, positions in by_flow.items()
            for position in positions
        )
        for name, by_flow in table.readers.items()
    }
    assert ids == {name: sorted(steps) for name, steps in table.dependents.items()}
    for flow in table.flows.values():
        ages = dict(table.ageing[flow.id])
        for position, step in enumerate(flow.steps):
            reading = table.readings[step.reading] if step.kind is Kind.READING else None
            assert ages.get(position) == (None if reading is None else reading.fresh_for)
        assert table.skipping >= (flow.when.names if flow.when is not None else frozenset())
