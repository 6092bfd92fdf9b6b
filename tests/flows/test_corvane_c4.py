"""Both types: what is not so on the way to standing still never keeps back what makes safe behind
it, and nobody accepts a landing; a used starter of the Corvane cools before it is used again.
"""

from __future__ import annotations

import pytest

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.state import How
from runner.engine.table import AcceptClass, Kind
from tests.flows.support import TYPES
from tests.runner.engine.crew import Crew

REASON = "Instrument fault, confirmed by another sign"
MAY_BE_NOT_SO = (Kind.CHALLENGE, Kind.TICK, Kind.BY_TIME)


def crew(only: str = "", *carried: tuple[str, str], of: str = "corvane_c4") -> Crew:
    """The crew at the documents, or at one list alone."""
    return Crew(of, only=only, carried=carried)


@pytest.mark.parametrize("of", TYPES)
@pytest.mark.parametrize("name", ["shutdown", "switches", "landing"])
def test_what_is_not_so_has_a_way_on(name: str, of: str) -> None:
    table = crew(of=of).table
    for step in table.flows[name].steps:
        if step.kind in MAY_BE_NOT_SO and not step.mark:
            assert step.accept is AcceptClass.COMMANDER, step.id


@pytest.mark.parametrize("of", TYPES)
@pytest.mark.parametrize("name", ["shutdown", "switches"])
def test_a_list_of_nothing_but_not_so_is_called_to_its_end(name: str, of: str) -> None:
    """Every challenge is not so and accepted; the limits before them are met, as ever."""
    at = crew(name, of=of)
    asked: list[str] = []
    for _ in range(60):
        if not at.asked.startswith(f"{name}."):
            break
        step = at.table.steps[at.asked]
        if step.kind in MAY_BE_NOT_SO:
            asked.append(step.id)
            assert ("unmet", step.id, "not so") in at.not_so()
            assert at.accept(REASON)[0][:2] == ("accepted", step.id)
        elif step.kind is Kind.READING:
            at.taken("60" if step.reading == "rotor_rpm" else "150")
        elif step.wait is not None:
            at.pause(step.wait.length / 1000)
        elif step.kind is Kind.CHOICE:
            # The last words are what is not as it should be, where no drill hangs on them.
            plain = [c.text for c in step.choices if not c.drill]
            at.taken(plain[0] if step.id.endswith("_found") else plain[-1])
        else:
            at.say("ROGER" if step.kind is Kind.CAUTION else step.response)
    assert at.stands(Prompt.CLOSED)
    assert asked == [
        step.id for step in at.table.flows[name].steps
        if step.kind in MAY_BE_NOT_SO and at.latch(step.id).how is not How.NOT_REQUIRED
    ]  # fmt: skip
    assert len(asked) >= 7
    assert all(at.latch(step).how is How.ACCEPTED for step in asked)


def test_an_engine_whose_stop_was_only_accepted_has_not_stopped() -> None:
    at = crew()
    at.until("start.running")
    at.say("MIXTURE RICH")
    assert at.run.state.engine
    at.send(ev.Discontinue(at.at))
    at.until("shutdown.engine_stopped")
    at.not_so()
    at.accept(REASON)
    assert at.run.state.engine
    assert at.asked == "shutdown.magneto_selector"


@pytest.mark.parametrize("of", TYPES)
def test_a_landing_is_accepted_by_nobody(of: str) -> None:
    at = crew("landing", of=of)
    at.until("landing.landed")
    at.not_so()
    assert at.accept(REASON) == (("refused", "nobody may accept"),)
    assert at.say("LANDED")[0][:2] == ("met", "landing.landed")


def cranking() -> Crew:
    """The starter is engaged and nothing fires."""
    at = crew()
    at.until("start.starter")
    at.say("STARTER ENGAGED")
    assert at.asked == "start.firing"
    return at


COOLS, LONG = "start.starter_cools", "start.starter_cools_third_failure"


def broken_off(at: Crew) -> tuple[tuple[str, str], ...]:
    """What the next run is told of the starter of this one, which was discontinued."""
    at.send(ev.Discontinue(at.at))
    values = at.run.state.values
    return tuple((f"counter:{name}", str(values[name])) for name in at.table.counters)


def cooled(at: Crew) -> int:
    """Milliseconds from where the cooling is asked for until the pump is."""
    at.until(COOLS)
    since = at.run.at
    at.until("start.boost_pump")
    return at.run.at - since


def test_the_attempt_being_made_asks_for_no_cooling() -> None:
    at = cranking()
    assert at.latch(COOLS).how is How.NOT_REQUIRED
    assert not any(item[0] == "reopened" for item in at.run.outcomes[-1])


def test_an_attempt_that_is_broken_off_cools_before_the_next_start() -> None:
    again = crew("", *broken_off(cranking()))
    assert cooled(again) >= 119_000
    assert again.latch(LONG).how is How.NOT_REQUIRED
    again.until("start.starter")
    again.say("STARTER ENGAGED")
    assert again.asked == "start.firing"


def test_the_cooling_counts_from_the_attempt_that_was_broken_off_last() -> None:
    at = cranking()
    first = at.run.state.moments["starter_released"]
    at.say("NO START")
    at.until("start.starter")
    at.say("STARTER ENGAGED")
    assert at.run.state.moments["starter_released"] >= first + 120_000


def test_three_attempts_broken_off_cool_for_longer() -> None:
    told: tuple[tuple[str, str], ...] = ()
    for _ in range(3):
        at = crew("", *told)
        at.until("start.starter")
        at.say("STARTER ENGAGED")
        told = broken_off(at)
    assert cooled(crew("", *told)) >= 15 * 60_000 - 1000


def test_a_start_that_went_on_to_warm_up_leaves_nothing_to_cool() -> None:
    at = crew()
    at.until("engage")
    assert at.run.state.values["cranks"] == 0
    assert at.latch(COOLS).how is How.NOT_REQUIRED
