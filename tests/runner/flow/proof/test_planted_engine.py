"""A rule taken out of the engine is found by the slices, and shown by a run of the whole day."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from runner.commands.proving import show
from runner.engine import corrections, interruptions, people, readings
from runner.engine.draft import Draft
from runner.engine.state import How, Latch, Visit, ordinary
from runner.engine.table import Step
from tests.runner.engine.generator import aircraft
from tests.runner.engine.mutants import (
    any_class,
    any_role_accepts,
    bounds_included,
    closes_anyhow,
    counted_unseen,
    end_unread,
    everywhere,
    passes,
    stale_taken,
)
from tests.runner.flow.proof.planted import found

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover

Patch = pytest.MonkeyPatch
MIXTURE = "before shutdown.mixture: head_temp BELOW 150 °C"
WARM_UP = "before start.warm_up: start.oil_pressure"


def keeps(was: How) -> Callable[[Patch], None]:
    """A correction that puts a value out of limits and leaves the step as it was."""

    def mutate(patch: Patch) -> None:
        reading = corrections._reading

        def mutant(
            draft: Draft, visit: Visit, index: int, step: Step, old: Latch, text: str
        ) -> None:
            reading(draft, visit, index, step, old, text)
            if old.how is was and visit.number in {live.number for live in draft.live()}:
                now = draft.visit(visit.number).latches[index]
                if now.how is How.UNMET:
                    draft.latch(visit.number, index, now._replace(how=was))

        patch.setattr(corrections, "_reading", mutant)

    return mutate


FAULTS: dict[str, tuple[Callable[[Patch], None], str, str, int]] = {
    "what is unmet passes": (passes(How.UNMET), MIXTURE, "", 6),
    "what is open passes": (passes(How.OPEN), MIXTURE, "", 4),
    "any acceptance class will do": (any_class, MIXTURE, "", 5),
    "anybody accepts": (any_role_accepts, MIXTURE, "", 4),
    "the end of a wait reads no condition": (end_unread, WARM_UP, "", 7),
    "a late value is in time": (
        lambda patch: everywhere(patch, readings.in_time, lambda draft, step: True), WARM_UP, "", 6,
    ),
    "one pair of eyes is two": (
        lambda patch: everywhere(patch, people.both_looked, lambda *_: True), MIXTURE, "", 5,
    ),
    "a list closes over what is open": (closes_anyhow, MIXTURE, "", 5),
    "paper satisfies every step": (
        lambda patch: everywhere(patch, ordinary, lambda step: True),
        MIXTURE, "the paper card", 5,
    ),
    "a reading never grows old": (
        lambda patch: everywhere(patch, interruptions.freshness, lambda table, visit: []),
        MIXTURE, "", 7,
    ),
    "an open bound is included": (bounds_included, MIXTURE, "", 4),
    "a correction does not reopen": (keeps(How.ANSWERED), MIXTURE, "", 7),
    "an acceptance outlives its value": (keeps(How.ACCEPTED), MIXTURE, "", 9),
    "a stale answer is taken": (stale_taken, MIXTURE, "", 5),
    "a wait counts what nobody saw": (counted_unseen, WARM_UP, "", 11),
}  # fmt: skip


LONG = (
    "a late value is in time",
    "paper satisfies every step",
    "the end of a wait reads no condition",
)
"""What takes a tenth of a minute and more each."""


@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=pytest.mark.long if n in LONG else ()) for n in FAULTS]
)
def test_a_rule_taken_out_is_found_by_its_shortest_way(name: str, monkeypatch: Patch) -> None:
    mutate, goal, beside, length = FAULTS[name]
    table = aircraft("tiny")
    mutate(monkeypatch)
    faults = found(table, goal, beside)
    assert min(len(fault.way) for fault in faults) == length
    assert any(show(table, fault).again for fault in faults)


@pytest.mark.parametrize("beside", ["", pytest.param("the paper card", marks=pytest.mark.long)])
def test_the_engine_as_it_stands_has_none_of_them(beside: str) -> None:
    assert found(aircraft("tiny"), MIXTURE, beside) == []
