"""The whole view of a state, as data: what a screen or a plain line may show.

Rules: pure; decides nothing; every text is in the crew's words; numbers of steps are the card's.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from itertools import compress

from runner.engine import days
from runner.engine.answers import responders
from runner.engine.draft import Draft
from runner.engine.drills import target
from runner.engine.effects import Gauge, Line, Prompt, Running, View
from runner.engine.events import Wake
from runner.engine.figures import figures
from runner.engine.flights import no_next_flight
from runner.engine.keeping import kept, latest
from runner.engine.mistakes import may_be_mistake
from runner.engine.state import NEVER, How, Latch, State, Visit, may_pass
from runner.engine.steplines import expected, line
from runner.engine.table import Flow, Kind, Step, Table, Unmet

NEIGHBOURS = 12


def current(table: Table, state: State) -> tuple[Visit, Flow, Step, Latch] | None:
    """The visit, list, step and latch of the question, if it has a place."""
    question = state.question
    visit = state.visit(question.visit) if question.visit else None
    if visit is None:
        return None
    flow = table.flows[visit.flow]
    index = question.step
    if index < 0:
        return None
    return visit, flow, flow.steps[index], visit.latches[index]


def gauge(table: Table, state: State, step: Step, latch: Latch) -> Gauge | None:
    """The reading of the question against its limit."""
    limit, unit, decimals, label = step.limit, "", 0, step.challenge
    value = latch.value
    if step.wait is not None:
        if state.question.sub < 0:
            return None
        name, limit = step.wait.conditions[state.question.sub]
        reading = table.readings[name]
        unit, decimals, label = reading.unit, reading.decimals, reading.label
        visit = state.visit(state.question.visit)
        value = visit.wait.last if visit is not None and visit.wait is not None else ""
    elif step.reading:
        reading = table.readings[step.reading]
        unit, decimals = reading.unit, reading.decimals
    elif step.kind is Kind.COMPUTED:
        named = table.names[step.gives]
        unit, decimals = named.unit, named.decimals
    else:
        return None
    if state.pending is not None:
        value = state.pending.value.rpartition("|")[2]
    away = ""
    if limit is not None and value:
        try:
            distance = limit.distance(Decimal(value))
            away = str(distance) if distance else ""
        except (InvalidOperation, ValueError):
            away = ""
    return Gauge(
        label, unit, decimals, limit.text() if limit is not None else "", value,
        limit.low if limit is not None else None, limit.high if limit is not None else None, away,
        latch.at if value and value == latch.value else None,
    )  # fmt: skip


WHOLE_RUN = {
    "engine": "Engine now",
    "rotor": "Rotor now",
    "airborne": "Aircraft now",
    "resume": "Where to go on",
    "end": "Which end",
}
"""What is called for a choice that is not about the step which stands behind it."""


def of_whole_run(state: State) -> str:
    """The call of a choice about the run as a whole, or an empty text."""
    return WHOLE_RUN.get(state.choosing.kind, "") if state.choosing is not None else ""


def challenge_of(table: Table, state: State) -> str:
    """What is called now."""
    if whole := of_whole_run(state):
        return whole
    found = current(table, state)
    if found is None:
        return ""
    step = found[2]
    if step.wait is not None and state.question.sub >= 0:
        return table.readings[step.wait.conditions[state.question.sub][0]].label
    if step.kind is Kind.CLOSING:
        return (
            step.challenge if step.challenge.lower().endswith("list") else f"{step.challenge} list"
        )
    return step.challenge


def view(table: Table, state: State) -> View:
    """Everything the crew may see."""
    found = None if of_whole_run(state) else current(table, state)
    active = state.drill or next((v for v in state.visits if v.number == state.focus), None)
    flow = table.flows[active.flow] if active is not None else None
    step = found[2] if found is not None else None
    latch = found[3] if found is not None else None
    draft = Draft(table, state, Wake(state.at))
    before: list[Line] = []
    after: list[Line] = []
    items: list[Line] = []
    memory: tuple[str, ...] = ()
    done = required = 0
    put_off: list[Line] = []
    notes: tuple[str, ...] = ()
    if active is not None and flow is not None:
        index = state.question.step
        lines = [
            line(table, s, v, state.values) for s, v in zip(flow.steps, active.latches, strict=True)
        ]
        counted = [
            (s, v) for s, v in zip(flow.steps, active.latches, strict=True)
            if s.kind not in (Kind.REMARK, Kind.COMPUTED) and v.how is not How.NOT_REQUIRED
        ]  # fmt: skip
        required = len(counted)
        done = sum(may_pass(s, v) for s, v in counted)
        called = [s.kind is not Kind.REMARK for s in flow.steps]
        before = list(compress(lines[: max(0, index)], called))[-NEIGHBOURS:]
        after = list(compress(lines[index + 1 :], called[index + 1 :]))[:NEIGHBOURS]
        notes = _notes(flow, active, index)
        if flow.any_order:
            items = [ln for ln, s in zip(lines, flow.steps, strict=True) if s.kind is Kind.TICK]
        memory = tuple(
            f"{s.challenge}: {s.response}" if s.response else s.challenge
            for s, v in zip(flow.steps, active.latches, strict=True)
            if s.memory and v.how is not How.NOT_REQUIRED
        )
    for visit in (*((state.drill,) if state.drill else ()), *state.visits):
        for s, v in zip(table.flows[visit.flow].steps, visit.latches, strict=True):
            if v.how is How.PUT_OFF:
                put_off.append(line(table, s, v, state.values))
    open_lines = tuple(
        line(table, s, v, state.values)
        for visit in state.visits
        for s, v in zip(table.flows[visit.flow].steps, visit.latches, strict=True)
        if s.kind is not Kind.CLOSING and not may_pass(s, v)
    )
    today = days.lists(table, state)
    prompt = state.question.prompt
    waiting_for: tuple[str, ...] = ()
    if step is not None and prompt not in (Prompt.CHOOSING, Prompt.STANDBY):
        waiting_for = tuple(r for r in responders(draft, step) if r not in state.seen)
    return View(
        at=state.at, ask=state.ask, prompt=prompt, aircraft=table.title, operator=table.operator,
        revision=table.revision, modes=_modes(state), crew=state.crew, handling=state.handling,
        flight=state.flight, airborne=state.airborne, engine_running=state.engine,
        rotor_turning=state.rotor, title=flow.title if flow else "", flow=flow.id if flow else "",
        is_drill=state.drill is not None, section=_section(state, step) if step else "",
        number=step.number if step else 0, done=done, required=required,
        challenge=challenge_of(table, state), response=_wanted(table, state, step) if step else "",
        who=step.who.value if step else "", waiting_for=waiting_for,
        critical=bool(step and step.critical),
        gauge=gauge(table, state, step, latch) if step and latch else None,
        unmet_why=latch.why if latch and latch.how is How.UNMET else "",
        may_put_off=bool(step and latch and step.may_put_off and not latch.back),
        accept_class=step.accept.value if step and step.accept else "",
        reasons=table.reasons,
        options=state.choosing.options if state.choosing else (
            tuple(c.text for c in step.choices) if step else ()),
        read_back=state.pending.value.rpartition("|")[2] if state.pending else "",
        blocked=latch.why if latch and latch.how is How.OPEN else "",
        before=tuple(before), after=tuple(after), items=tuple(items), memory=memory,
        put_off=tuple(put_off), open_lines=open_lines, running=tuple(_running(table, state)),
        standby_since=state.standby.since if state.standby else None,
        standby_place=_held(table, state) if state.standby else "",
        lists=tuple(today),
        drills=tuple((d, table.flows[d].title) for d in _likely(table, flow)),
        timers=tuple(_at_hand(table, state)), happenings=table.happenings,
        way_out=table.flows[target(draft)].title,
        snags=tuple(k.text for k in state.snags),
        defects=tuple(k.text for k in state.defects if k.open),
        flags=tuple(k.text for k in state.flags),
        drill_hint=table.flows[step.drill].title if step and step.drill else "",
        stops=bool(step and latch and stopped(step, latch)),
        of_wait=step.challenge if step and step.wait and state.question.sub >= 0 else "",
        notes=notes, may_be_lost=bool(step and step.wait and step.wait.conditions),
        unread=state.unread, marks=tuple((m.what, m.when) for m in state.marks),
        accepted=tuple(days.accepted(table, state)),
        flights=tuple(days.flights(table, state, today)), card=tuple(days.card(table, today)),
        figures=tuple(figures(table, state)), kept=kept(table, state), latest=latest(table, state),
        may_be_mistake=may_be_mistake(draft),
        may_begin_next=no_next_flight(draft) is None,
    )  # fmt: skip


def _modes(state: State) -> tuple[str, ...]:
    """The modes of the run, and that it has one list only: every screen must say so."""
    return (*state.modes, "only") if state.only else state.modes


def _at_hand(table: Table, state: State) -> list[tuple[str, str]]:
    """The by-times that a step of an open list, or of the drill, starts: name and label."""
    live = (*((state.drill,) if state.drill else ()), *state.visits)
    started = {step.timer for visit in live for step in table.flows[visit.flow].steps}
    return [(rule.name, rule.label) for rule in table.timers.values() if rule.name in started]


def _notes(flow: Flow, visit: Visit, index: int) -> tuple[str, ...]:
    """The remarks right before the question: they are for it, and nobody answers them."""
    found: list[str] = []
    for step, latch in reversed(list(zip(flow.steps, visit.latches, strict=True))[: max(0, index)]):
        if step.kind is Kind.REMARK and latch.how is not How.NOT_REQUIRED:
            found.append(step.challenge)
        elif step.kind is not Kind.COMPUTED and latch.how is not How.NOT_REQUIRED:
            break
    return tuple(reversed(found))


def _section(state: State, step: Step) -> str:
    """The heading; while a wait reads its conditions, the wait they belong to."""
    return step.challenge if step.wait is not None and state.question.sub >= 0 else step.section


def _wanted(table: Table, state: State, step: Step) -> str:
    if step.wait is not None and state.question.sub >= 0:
        return step.wait.conditions[state.question.sub][1].text()
    return expected(table, step)


def _held(table: Table, state: State) -> str:
    visit = state.drill or next((v for v in state.visits if v.number == state.focus), None)
    if visit is None:
        return ""
    flow = table.flows[visit.flow]
    for step, latch in zip(flow.steps, visit.latches, strict=True):
        if latch.how is not How.PUT_OFF and not may_pass(step, latch):
            return f"{flow.title} {step.number}: {step.challenge}"
    return flow.title


def _running(table: Table, state: State) -> list[Running]:
    found = []
    for visit in (*((state.drill,) if state.drill else ()), *state.visits):
        if visit.wait is not None and visit.wait.began != NEVER:
            step = table.flows[visit.flow].steps[visit.wait.step]
            found.append(
                Running(step.challenge, visit.wait.began, visit.wait.until, False, key=step.id)
            )
    for name in sorted(state.timers):
        timer = state.timers[name]
        if timer.ended == NEVER:
            rule = table.timers[name]
            found.append(
                Running(
                    rule.label,
                    timer.began,
                    timer.began + rule.length,
                    True,
                    timer.over,
                    timer.muted,
                    name,
                )
            )
    return found


def _likely(table: Table, flow: Flow | None) -> list[str]:
    phase = flow.phase if flow is not None else ""
    return sorted(
        table.drills,
        key=lambda d: (phase not in table.flows[d].likely, table.drills.index(d)),
    )


def stopped(step: Step, latch: Latch) -> bool:
    """Whether the limit stops the list: no other value is taken, only a correction."""
    return latch.how is How.UNMET and bool(latch.value) and step.unmet is Unmet.STOP
