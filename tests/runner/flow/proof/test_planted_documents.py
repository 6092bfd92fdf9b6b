"""A fault planted in the documents is found, by its shortest way, and played again from words."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.commands.proving import show
from tests.runner.engine.generator import aircraft
from tests.runner.flow.proof.planted import LATER_FLIGHT, PLANTED, Planted, found, planted

# Many runs of what other tests go through too: traced they would take three times as long.
pytestmark = pytest.mark.no_cover


@pytest.mark.parametrize("one", PLANTED, ids=lambda one: one.what)
def test_a_planted_fault_is_found_and_its_file_shows_it(one: Planted, tmp_path: Path) -> None:
    table = planted(one, tmp_path)
    faults = found(table, one.goal, one.beside)
    assert [len(fault.way) for fault in faults] == [one.length]
    shown = show(table, faults[0])
    assert shown.again, shown.lines[-1]
    # A way through the whole day is longer than one through a slice: nothing was left out of it.
    assert len(faults[0].events) > one.length


def test_a_fault_of_a_later_flight_is_found_and_said_to_be_of_the_slice(tmp_path: Path) -> None:
    table = planted(LATER_FLIGHT, tmp_path)
    faults = found(table, LATER_FLIGHT.goal)
    assert [len(fault.way) for fault in faults] == [LATER_FLIGHT.length]
    assert not show(table, faults[0]).again


@pytest.mark.parametrize("goal", sorted({one.goal for one in PLANTED[:6]}))
def test_the_documents_as_they_stand_have_none_of_them(goal: str) -> None:
    assert found(aircraft("corvane_c4"), goal) == []
