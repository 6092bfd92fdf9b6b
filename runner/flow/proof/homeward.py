"""The way home: from everywhere in the day, *discontinue* and a willing crew end at the shutdown.

Rules: on the whole documents, from the first question of every list and drill of the day, and from
each of the eight that engine, rotor and flight can be after a stop; nobody accepts anything; the
way ends when the list that the documents name for what then turns is closed, after a flight when
it has landed first. A run that does not come there is told with its events.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import NamedTuple

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.interruptions import FACTS
from runner.engine.table import Table
from runner.flow.proof.explore import CREW
from runner.flow.proof.lifting import Day
from runner.flow.proof.willing import SECOND, leads_on

MOST = 1500


class Homeward(NamedTuple):
    """One way home: where it began, whether it came to the end, and its events where not."""

    place: str
    home: bool
    events: tuple[ev.Event, ...] = ()


def ways_home(table: Table) -> Iterator[Homeward]:
    """Every way home that is tried."""
    day = _opened(table)
    lists: set[str] = set()
    for _ in range(MOST * 4):
        for visit in day.state.visits:
            if visit.flow not in lists:
                lists.add(visit.flow)
                yield _home(day.fork(), f"list {visit.flow}")
        if day.state.question.prompt is Prompt.CLOSED:
            break
        before = len(day.events), day.state
        day.send(leads_on(table, day.state, day.at))
        if day.state is before[1]:
            break
    for drill in table.drills:
        fork = _opened(table)
        fork.send(ev.OpenDrill(fork.at + SECOND, drill=drill))
        yield _home(fork, f"drill {drill}")
    for engine, rotor, airborne in product((False, True), repeat=3):
        fork = _opened(table)
        fork.send(ev.Recovered(fork.at + SECOND, gap=SECOND))
        wanted = {"engine": engine, "rotor": rotor, "airborne": airborne}
        while fork.state.choosing is not None and fork.state.choosing.kind in FACTS:
            kind = fork.state.choosing.kind
            said = FACTS[kind][wanted[kind]]
            fork.send(ev.Answer(fork.at + SECOND, fork.state.ask, "commander", value=said))
            if fork.state.pending is not None:
                fork.send(ev.Affirm(fork.at + SECOND, fork.state.ask, "commander"))
        turning = [name for name, now in wanted.items() if now]
        yield _home(fork, f"after a stop, {' and '.join(turning) or 'nothing'} turning or flying")


def _opened(table: Table) -> Day:
    day = Day(table)
    day.send(ev.Opened(0, modes=("crew",), crew=CREW, fit=tuple(table.fit)))
    while day.state.unread:
        day.send(ev.PageRead(day.at + SECOND, role=day.state.unread[0]))
    return day


def _home(day: Day, place: str) -> Homeward:
    """Discontinues here and goes on to the end."""
    table, state = day.table, day.state
    turns = state.engine or state.rotor or state.airborne
    last = table.discontinue["rotor" if turns else "nothing"]
    before = day.state
    day.send(ev.Discontinue(day.at + SECOND))
    if day.state is before:
        return Homeward(place, False, tuple(day.events))
    for _ in range(MOST):
        if last in day.closed:
            return Homeward(place, True)
        before = day.state
        day.send(leads_on(table, day.state, day.at))
        if day.state is before and day.state.question.prompt is not Prompt.WAITING:
            break
    return Homeward(place, False, tuple(day.events))
