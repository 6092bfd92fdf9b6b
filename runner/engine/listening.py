"""What may answer the question that stands: its closed set of texts, or the form of its number.

Rules: pure; decides nothing: what it lists is what the transition would take as an answer; answers
that mean the same stand together; whether they are read back when they were not surely heard, and
whether the step is critical, is told beside them.
"""

from __future__ import annotations

from runner.engine.answers import READ_BACK
from runner.engine.corrections import CORRECTABLE
from runner.engine.draft import Draft
from runner.engine.effects import Listen, Prompt
from runner.engine.events import Wake
from runner.engine.interruptions import fact_heard
from runner.engine.people import both_look
from runner.engine.state import State, Visit, may_pass
from runner.engine.table import Flow, Kind, Step, Table, Who
from runner.engine.views import current, stopped

CONTROLS = (
    "say again", "stand by", "continue", "correction", "disregard", "affirm", "negative",
    "confirm", "unable", "put off", "discontinue", "accept", "drill", "snag", "mark",
)  # fmt: skip


def listen(table: Table, state: State) -> Listen:
    """What may answer the question: its closed set of texts, or the form of its number."""
    prompt = state.question.prompt
    found = current(table, state)
    bare = Listen(state.ask, prompt, controls=CONTROLS)
    if prompt is Prompt.CHOOSING and state.choosing is not None:
        options = state.choosing.options
        return bare._replace(responses=options, meanings=tuple((o,) for o in options))
    yes_or_no = bare._replace(
        responses=("AFFIRM", "NEGATIVE"), meanings=(("AFFIRM",), ("NEGATIVE",))
    )
    if fact_heard(state):
        return yes_or_no
    if found is None or prompt in (Prompt.FIRST_PAGE, Prompt.STANDBY, Prompt.CLOSED):
        return bare
    visit, flow, step, latch = found
    both = step.who is Who.BOTH and both_look(Draft(table, state, Wake(state.at)), step)
    if prompt is Prompt.READ_BACK:
        return yes_or_no._replace(step=step.id, critical=step.critical, both=both)
    if stopped(step, latch):
        return bare._replace(step=step.id)
    asked = _of(table, step, state.question.sub, bare)._replace(both=both)
    if prompt is Prompt.STATION:
        items = _open_ticks(flow, visit)
        return asked._replace(
            items=tuple((s.challenge, s.response) for s in items),
            critical_items=tuple(s.id for s in items if s.critical),
        )
    # One of two may walk round meanwhile; in a drill nobody does.
    others = [v for v in state.visits if v.number != visit.number and state.drill is None]
    beside = [s for v in others for s in _open_ticks(table.flows[v.flow], v)]
    return asked._replace(
        elsewhere=tuple((s.id, s.challenge, s.response) for s in beside),
        critical_items=tuple(s.id for s in beside if s.critical),
    )


def listen_to(table: Table, state: State, step_id: str) -> Listen:
    """What may be the right version of an answer given before: for a correction that names it;
    nothing where the step has none, as a caution."""
    bare = Listen(state.ask, state.question.prompt, controls=CONTROLS)
    step = table.steps[step_id]
    if step.kind not in CORRECTABLE:
        return bare._replace(step=step.id)
    return _of(table, step, -1, bare)._replace(words_read_back=False)


def _of(table: Table, step: Step, sub: int, bare: Listen) -> Listen:
    """What answers one step, or one condition of its wait."""
    asked = bare._replace(step=step.id, critical=step.critical)
    if step.kind is Kind.READING or (step.wait is not None and sub >= 0):
        name = step.wait.conditions[sub][0] if step.wait else step.reading
        reading = table.readings[name]
        return asked._replace(
            number=True, decimals=reading.decimals, unit=reading.unit, low=reading.low,
            high=reading.high, thresholds=step.limit is not None, drops=bool(step.drop_from),
        )  # fmt: skip
    meanings = _meanings(step)
    return asked._replace(
        responses=tuple(text for same in meanings for text in same), meanings=meanings,
        words_read_back=step.kind in READ_BACK,
    )  # fmt: skip


def _meanings(step: Step) -> tuple[tuple[str, ...], ...]:
    if step.kind is Kind.CHOICE:
        return tuple((choice.text, *choice.variants) for choice in step.choices)
    if step.kind is Kind.CAUTION:
        # Either is logged as it was said.
        return (("ROGER",), *((word,) for word in step.key_words))
    if step.kind in (Kind.WAIT, Kind.COMPUTED):
        return ()
    return ((step.response, *step.variants),)


def _open_ticks(flow: Flow, visit: Visit) -> tuple[Step, ...]:
    return tuple(
        s for s, v in zip(flow.steps, visit.latches, strict=True)
        if s.kind is Kind.TICK and not may_pass(s, v)
    )  # fmt: skip
