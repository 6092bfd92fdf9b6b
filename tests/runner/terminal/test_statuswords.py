"""One word for one status, and none that a step of the shipped documents is answered with."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.engine.state import How, Latch, may_pass
from runner.engine.table import Kind
from runner.flow.loader import load_aircraft
from runner.terminal.statuswords import PASSED, capitals, reason, shown

AIRCRAFT = Path(__file__).parents[3] / "flows" / "corvane_c4"


@pytest.mark.parametrize("station", [False, True])
def test_no_status_is_a_response(*, station: bool) -> None:
    """Beside "Cooling gills" the word OPEN is a position: no status may read as one."""
    table = load_aircraft(AIRCRAFT).table
    responses = {
        text.casefold()
        for step in table.steps.values()
        for text in (step.response, *step.variants, *(c.text for c in step.choices))
        if text
    }
    assert "open" in responses
    assert not responses & {shown(how.value, station=station).casefold() for how in How}


@pytest.mark.parametrize("station", [False, True])
def test_every_status_has_a_word_of_its_own(*, station: bool) -> None:
    words = [shown(how.value, station=station) for how in How]
    assert len(set(words)) == len(How)
    assert all(word.isupper() for word in words)
    assert shown("unmet", station=station) == ("FAULT" if station else "NOT MET")


def test_what_is_passed_is_what_the_engine_passes() -> None:
    table = load_aircraft(AIRCRAFT).table
    step = next(s for s in table.steps.values() if s.kind is Kind.TICK)
    assert {how.value for how in How if may_pass(step, Latch(how))} == set(PASSED)


def test_codes_are_said_in_words_and_other_reasons_as_they_are() -> None:
    assert reason("late") == "too late"
    assert reason("wheel chocks stay in: soft ground") == "wheel chocks stay in: soft ground"


def test_a_unit_keeps_its_case_in_a_line_of_capitals() -> None:
    assert capitals("outside air at least 3 °C") == "OUTSIDE AIR AT LEAST 3 °C"
    assert capitals("stop below 30 min, oil 40 psi") == "STOP BELOW 30 min, OIL 40 psi"
    assert capitals("engine below 1600 rpm") == "ENGINE BELOW 1600 RPM"
    assert capitals("set 29.92 inHg; max 3 m") == "SET 29.92 inHg; MAX 3 m"
    assert capitals("2 open, a m") == "2 OPEN, A M"
