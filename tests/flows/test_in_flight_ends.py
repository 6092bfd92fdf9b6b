"""No end of a drill that says "in flight" is reached on the ground, nor the other way."""

from __future__ import annotations

from decimal import Decimal
from itertools import product

import pytest

from runner.engine import events as ev
from runner.engine.state import How
from runner.engine.table import Flow, Kind
from tests.flows.support import TYPES, table_of
from tests.runner.engine.crew import Crew, refused

IN_FLIGHT = ("in flight", "landing now", "in the hover", "in the air")
OUTCOMES = [
    ("corvane_c4", "oil_pressure_low.oil_result", ("ENGINE STOPPED",), ("LANDING NOW",)),
    ("corvane_c4", "clutch_fault.clutch_result", ("ENGAGE ONCE MORE", "ENGINE STOPPED"),
     ("LANDING NOW",)),
    ("corvane_c4", "ground_resonance.resonance_result", ("CALM ON THE GROUND",),
     ("CALM IN THE HOVER",)),
    ("tern_t2", "oil_pressure_low.oil_result", ("ENGINE STOPPED",), ("LANDING NOW",)),
    ("tern_t2", "belts_fault.belts_result", ("TIGHTEN ONCE MORE", "ENGINE STOPPED"),
     ("LANDING NOW",)),
]  # fmt: skip


def reachable(flow: Flow, airborne: bool) -> set[str]:
    """The labels of the ends that some answers to the choices of a drill lead to."""
    chosen = [
        [(step.gives, c.text) for c in step.choices
         if c.when is None or c.when.decide({"airborne": airborne}) is not False]
        for step in flow.steps if step.kind is Kind.CHOICE
    ]  # fmt: skip
    counted = {"start_attempts": Decimal(0)}
    return {
        end.label
        for answers in product(*chosen)
        for end in flow.ends
        if end.when is None
        or end.when.decide({**counted, **dict(answers), "airborne": airborne}) is not False
    }


@pytest.mark.parametrize("name", TYPES)
def test_what_says_in_flight_is_no_end_on_the_ground(name: str) -> None:
    table = table_of(name)
    seen = 0
    for flow in map(table.flows.__getitem__, table.drills):
        for end in flow.ends:
            if any(words in f"{end.label} {end.defect}".lower() for words in IN_FLIGHT):
                seen += 1
                assert end.label in reachable(flow, airborne=True), (flow.id, end.label)
                assert end.label not in reachable(flow, airborne=False), (flow.id, end.label)
    assert seen >= 3


@pytest.mark.parametrize(("name", "step", "ground", "air"), OUTCOMES)
def test_an_outcome_is_offered_where_it_can_be(
    name: str, step: str, ground: tuple[str, ...], air: tuple[str, ...]
) -> None:
    for flying, denied in ((False, air), (True, ground)):
        crew = Crew(name)
        if flying:
            crew.send(ev.Mark(crew.at, what="take-off"))
        crew.drill(step.split(".")[0])
        crew.until(step)
        for answer in denied:
            assert refused(crew.say(answer)) == "not possible", answer
        assert crew.how(step) is How.OPEN
        crew.say((ground, air)[flying][0])
        assert crew.how(step) is How.ANSWERED


@pytest.mark.parametrize("name", TYPES)
def test_a_landing_marked_behind_landing_now_asks_the_outcome_again(name: str) -> None:
    crew = Crew(name)
    crew.send(ev.Mark(crew.at, what="take-off"))
    crew.drill("oil_pressure_low")
    crew.until("oil_pressure_low.oil_result")
    crew.say("LANDING NOW")
    crew.send(ev.Mark(crew.at, what="landing"))
    assert crew.how("oil_pressure_low.oil_result") is How.OPEN
    # What is done on the ground only comes first: the throttle, the mixture.
    assert crew.asked == "oil_pressure_low.throttle"
    crew.until("oil_pressure_low.oil_result")
    assert refused(crew.say("LANDING NOW")) == "not possible"
    crew.say("ENGINE STOPPED")
    assert crew.how("oil_pressure_low.oil_result") is How.ANSWERED
