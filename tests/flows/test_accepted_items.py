"""After the flight nobody says NOTHING ACCEPTED who has accepted something in it."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from tests.flows.support import TYPES
from tests.runner.engine.crew import Crew, item, kinds, refused

STEP = "post_flight.acceptances"


@pytest.mark.parametrize("name", TYPES)
def test_nothing_accepted_is_true_of_a_flight_without_an_acceptance(name: str) -> None:
    crew = Crew(name, only="post_flight").until(STEP)
    assert item(crew.say("NOTHING ACCEPTED"), "met")[1] == STEP


@pytest.mark.parametrize("name", TYPES)
def test_an_acceptance_denies_nothing_accepted_until_the_next_flight(name: str) -> None:
    crew = Crew(name).until("start.beacon")
    assert "accepted" in kinds(crew.accept(crew.table.reasons[0]))
    crew.send(ev.Discontinue(crew.at))
    crew.until(STEP)
    assert refused(crew.say("NOTHING ACCEPTED")) == "not possible"
    assert item(crew.say("ENTERED WITH REASON"), "met")[1] == STEP
    crew.until("secure")
    crew.send(ev.NextFlight(crew.at))
    assert (crew.run.state.flight, crew.run.state.values["accepted_items"]) == (2, 0)


@pytest.mark.parametrize("name", TYPES)
def test_an_acceptance_after_it_was_said_asks_again(name: str) -> None:
    crew = Crew(name, only="post_flight")
    crew.until("post_flight.engine_oil")
    crew.put_off()
    crew.until(STEP)
    crew.say("NOTHING ACCEPTED")
    crew.until("post_flight.engine_oil")
    outcome = crew.accept(crew.table.reasons[0])
    assert item(outcome, "reopened") == ("reopened", STEP)
    assert crew.asked == STEP
