"""What the screen offers is what would be taken: the next flight, at every moment of a day."""

from __future__ import annotations

import pytest

from runner.engine.events import NextFlight
from runner.engine.session import transition
from runner.engine.views import view
from tests.gallery.stage import loaded, played

DAYS = ("normal", "drill_head_hot", "drill_servo_failure")


@pytest.mark.parametrize("script", DAYS)
def test_the_next_flight_is_offered_where_it_would_begin_and_nowhere_else(script: str) -> None:
    table = loaded().table
    seen = set()
    for moment in played(script):
        _, outcome = transition(table, moment.state, NextFlight(moment.state.at, "", "key"))
        begins = outcome[0][0] != "refused"
        assert view(table, moment.state).may_begin_next is begins, (moment.words, outcome)
        seen.add(begins)
    assert seen == {True, False} or script != "normal"
