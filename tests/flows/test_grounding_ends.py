"""After a drill end that grounds, SERVICEABLE is denied; after any other it is possible."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.draft import Draft
from runner.engine.drills import take_end
from runner.engine.state import Visit
from runner.engine.table import End, EndKind
from tests.flows.support import TYPES, table_of
from tests.runner.engine.crew import Crew

ENDS = [
    (name, flow.id, end.label)
    for name in TYPES
    for flow in table_of(name).flows.values()
    for end in flow.ends
]
# What was put out, slipped, struck or ran hot is looked at before it flies again. Common practice,
# no published source.
MUST = {"fire_in_start", "oil_pressure_low", "ground_resonance", "engagement_runaway"}


def end_of(name: str, drill: str, label: str) -> End:
    """The end of this label."""
    return next(e for e in table_of(name).flows[drill].ends if e.label == label)


@pytest.mark.parametrize(("name", "drill", "label"), ENDS)
def test_serviceable_is_denied_after_what_grounds_and_only_then(
    name: str, drill: str, label: str
) -> None:
    crew = Crew(name)
    crew.drill(drill)
    visit = crew.run.state.drill
    assert isinstance(visit, Visit)
    draft = Draft(crew.table, crew.run.state, ev.Wake(crew.at))
    end = end_of(name, drill, label)
    take_end(draft, visit, end)
    release = next(
        s for s in crew.table.flows["post_flight"].steps if s.id == "post_flight.release"
    )
    when = release.choices[0].when
    assert release.choices[0].text == "SERVICEABLE"
    assert when is not None
    grounds = end.grounding or end.kind is EndKind.UNSERVICEABLE
    assert when.decide(draft.values) is not grounds
    if drill in MUST:
        assert grounds
