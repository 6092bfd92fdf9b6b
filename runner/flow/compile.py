"""The documents of one aircraft into the engine's table.

Rules: whatever the engine would have to look up by name stands compiled in the table; a list's own
condition is joined to the condition of each of its steps; card numbers count over the lists in the
order of the day, then over the lists outside it, then over the drills. A fault found while
compiling is noted and the rest is compiled on, so that all of them come at once; the caller throws
the table away if there is any.
"""

from __future__ import annotations

from decimal import Decimal
from functools import partial

from runner.engine.figures import BUILT_IN
from runner.engine.table import (
    Copied,
    Counter,
    Flow,
    Need,
    Plateau,
    Reading,
    Settings,
    Table,
    TimerRule,
)
from runner.flow.compile_steps import Steps
from runner.flow.documents import Documents, Procedure
from runner.flow.faults import Faults
from runner.flow.model import DrillDoc, InstrumentDoc, ListDoc
from runner.flow.names import Scope
from runner.flow.quantities import check_reach, difference_in, limit_in, value_in

_DEFAULTS = Settings()


def compile_table(documents: Documents, scope: Scope, faults: Faults) -> Table:
    """The table of an aircraft; whole only if `faults` stays empty."""
    aircraft = documents.aircraft
    readings = {
        name: _reading(documents, name, reading, faults)
        for name, reading in aircraft.readings.items()
    }
    counters = {name: Counter(name, label) for name, label in aircraft.counters.items()}
    steps = Steps(documents, scope, readings, faults)
    flows: dict[str, Flow] = {}
    number = 1
    for procedure in numbered(documents):
        flows[procedure.id] = _flow(procedure, steps, number)
        number += len(procedure.items)
    by_id, dependents = Table.index(flows)
    turning = aircraft.discontinue
    return Table(
        aircraft=aircraft.aircraft,
        title=aircraft.title,
        operator=aircraft.operator,
        revision=aircraft.revision,
        readings=readings,
        names=scope.types,
        flows=flows,
        order=tuple(aircraft.day),
        drills=tuple(aircraft.drills),
        discontinue={
            "airborne": turning.airborne,
            "rotor": turning.rotor,
            "engine": turning.engine,
            "nothing": turning.nothing,
        },
        reasons=tuple(aircraft.reasons),
        counters=counters,
        timers=_timers(documents),
        fit=tuple(aircraft.fit),
        happenings=tuple(aircraft.happenings),
        needs=_needs(documents, readings, faults),
        copied=_copied(documents, scope),
        settings=_settings(documents),
        steps=by_id,
        dependents=dependents,
    )


def numbered(documents: Documents) -> list[Procedure]:
    """Lists and drills in the order of their card numbers."""
    order = [documents.lists[name] for name in documents.aircraft.day if name in documents.lists]
    order += [flow for flow in documents.lists.values() if flow.id not in documents.aircraft.day]
    named = documents.aircraft.drills
    order += [documents.drills[name] for name in named if name in documents.drills]
    order += [flow for flow in documents.drills.values() if flow.id not in named]
    return list({flow.id: flow for flow in order}.values())


def _reading(documents: Documents, name: str, doc: InstrumentDoc, faults: Faults) -> Reading:
    at = ("readings", name)
    low = value_in(doc.plausible.from_, doc.unit, documents.at(*at, "plausible", "from"), faults)
    high = value_in(doc.plausible.to, doc.unit, documents.at(*at, "plausible", "to"), faults)
    if low is not None and high is not None and low >= high:
        faults.add(
            documents.at(*at, "plausible"),
            "the plausible range is upside down",
            todo="the lower bound comes first",
            rule="limit-form",
        )
    near = Decimal(0)
    if doc.near is not None:
        near = difference_in(doc.near, doc.unit, documents.at(*at, "near"), faults) or near
    plateau = None
    if doc.plateau is not None:
        place = documents.at(*at, "plateau", "less than")
        less = difference_in(doc.plateau.less_than, doc.unit, place, faults)
        if less is not None and less == 0:
            faults.add(place, "a plateau of nothing", allowed="more than 0", rule="limit-form")
        plateau = Plateau(less or Decimal(0), doc.plateau.over)
    return Reading(
        name=name,
        label=doc.label,
        unit=doc.unit,
        decimals=doc.decimals,
        low=low if low is not None else Decimal(0),
        high=high if high is not None else Decimal(0),
        near=near,
        ask_every=doc.ask_every,
        plateau=plateau,
        notice_after=doc.notice_after,
        fresh_for=doc.fresh_for,
    )


def _flow(procedure: Procedure, steps: Steps, first: int) -> Flow:
    doc = procedure.doc
    # A drill is opened by someone who needs it: it has no condition as a whole.
    whole = doc.only_when if isinstance(doc, ListDoc) else None
    own = steps.condition(whole, procedure, "only when")
    made = tuple(
        steps.compile(item, first + offset, whole if own is not None else None)
        for offset, item in enumerate(procedure.items)
    )
    if isinstance(doc, DrillDoc):
        return Flow(
            id=procedure.id,
            title=doc.title,
            steps=made,
            drill=True,
            method=doc.method,
            phase=doc.phase or "",
            ends=tuple(steps.end(procedure, index, end) for index, end in enumerate(doc.ends)),
            mutes=tuple(doc.mutes),
            likely=tuple(doc.likely),
        )
    return Flow(
        id=procedure.id,
        title=doc.title,
        steps=made,
        method=doc.method,
        phase=doc.phase or "",
        group=doc.group or "",
        flights=doc.flights,
        valid_until=frozenset(doc.valid_until),
        when=own,
        next_flight=bool(doc.next_flight),
        any_order=bool(doc.any_order),
    )


def _timers(documents: Documents) -> dict[str, TimerRule]:
    return {
        name: TimerRule(
            name=name,
            label=timer.label,
            length=timer.within,
            calls=tuple(timer.call_at),
            says=timer.say or "",
            drill=timer.drill or "",
        )
        for name, timer in documents.aircraft.timers.items()
    }


def _needs(documents: Documents, readings: dict[str, Reading], faults: Faults) -> tuple[Need, ...]:
    made = []
    for index, need in enumerate(documents.aircraft.needs):
        if need.step is not None:
            made.append(Need(need.before, step=need.step))
        elif need.reading in readings and need.limit is not None:
            reading = readings[need.reading]
            at = ("needs", index, "limit")
            limit = limit_in(need.limit, reading.unit, partial(documents.at, *at), faults)
            if limit is not None:
                check_reach(limit, reading.low, reading.high, documents.at(*at), faults)
            made.append(Need(need.before, reading.name, limit, need.within))
    return tuple(made)


def _copied(documents: Documents, scope: Scope) -> tuple[Copied, ...]:
    made = []
    for entry in documents.aircraft.copy:
        if entry.figure is not None:
            made.append(Copied(entry.label or BUILT_IN[entry.figure], figure=entry.figure))
        elif entry.value in scope.types:
            kind = scope.types[entry.value]
            places = tuple(
                (item.flow.id, item.position) for item in scope.givers.get(entry.value, ())
            )
            unit = "" if kind.unit == "count" else kind.unit
            made.append(Copied(entry.label or kind.label, "", entry.value, unit, places))
    return tuple(made)


def _settings(documents: Documents) -> Settings:
    doc = documents.aircraft.settings
    if doc is None:
        return _DEFAULTS
    return Settings(
        standby_long=doc.long_standby or _DEFAULTS.standby_long,
        quiet_after_takeoff=doc.quiet_after_take_off or _DEFAULTS.quiet_after_takeoff,
    )
