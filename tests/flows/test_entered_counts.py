"""What is entered after the flight stays on the copy page, and its answer stands."""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.figures import figures
from runner.engine.state import How
from tests.runner.engine.crew import Crew

TYPES = ("corvane_c4", "tern_t2")
STEP = "post_flight.start_attempts_and_priming"
COUNTED = (("counter:start_attempts", "2"), ("counter:prime_strokes", "6"))


def shown(crew: Crew) -> dict[str, str]:
    """The counts on the copy page."""
    found = figures(crew.table, crew.run.state)
    return {one.label: one.value for one in found if one.label.endswith("to enter")}


WHOLE = {"Start attempts to enter": "2", "Prime strokes to enter": "6"}


def entered(name: str) -> Crew:
    crew = Crew(name, only="post_flight", carried=COUNTED).until(STEP)
    assert shown(crew) == WHOLE
    crew.say("ENTERED")
    return crew


@pytest.mark.parametrize("name", TYPES)
def test_entered_figures_stay_on_the_copy_page_and_the_answer_stands(name: str) -> None:
    crew = entered(name)
    assert crew.how(STEP) is How.ANSWERED
    assert shown(crew) == WHOLE
    crew.until("post_flight.release")
    assert (crew.how(STEP), shown(crew)) == (How.ANSWERED, WHOLE)


@pytest.mark.parametrize("name", TYPES)
def test_what_was_entered_counts_no_more_for_the_starter_nor_for_the_next_run(name: str) -> None:
    state = entered(name).run.state
    assert (state.values["start_attempts"], state.values["prime_strokes"]) == (0, 0)


@pytest.mark.parametrize("name", TYPES)
def test_a_correction_to_the_same_enters_nothing_twice(name: str) -> None:
    crew = entered(name)
    crew.correct(STEP, "ENTERED")
    assert shown(crew) == WHOLE


@pytest.mark.parametrize("name", TYPES)
def test_the_next_flight_has_figures_of_its_own(name: str) -> None:
    crew = Crew(name, carried=COUNTED)
    crew.send(ev.Discontinue(crew.at))
    crew.until(STEP)
    crew.say("ENTERED")
    assert shown(crew) == WHOLE
    crew.until("secure")
    crew.send(ev.NextFlight(crew.at))
    assert crew.run.state.flight == 2
    assert shown(crew) == dict.fromkeys(WHOLE, "0")


@pytest.mark.parametrize("name", TYPES)
def test_without_an_attempt_the_step_is_not_required(name: str) -> None:
    crew = Crew(name, only="post_flight").until("post_flight.snags")
    assert crew.how(STEP) is How.NOT_REQUIRED
