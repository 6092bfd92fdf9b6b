"""The question of one step, as a run would ask it, without a run: for looking at what is heard.

Rules: the engine itself finds the question, in a state in which all that stands before the step is
answered (what it asks for) or not required, and nothing else is open; nobody turns anything, and
all equipment is fitted. Where a step is never asked (a remark, what is computed) there is none.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from runner.engine.asking import Question
from runner.engine.draft import Draft
from runner.engine.effects import Listen, Prompt, View
from runner.engine.events import Wake
from runner.engine.listening import listen
from runner.engine.progress import find
from runner.engine.state import OPEN, How, Latch, State, Visit, initial
from runner.engine.table import Flow, Step, Table
from runner.engine.views import view
from runner.engine.words import nearest, plain
from runner.flow.loader import Loaded

CREW: Final = (("commander", "commander"), ("copilot", "copilot"), ("ground", "ground"))


class Standing(NamedTuple):
    """What may be heard, and what the crew would see."""

    listen: Listen
    view: View


class NoSuchStep(LookupError):
    """There is no such step, or it is never asked: what was found, what is allowed, the nearest."""


def question_of(table: Table, step: Step) -> Standing:
    """The question of a step. NoSuchStep for one that is never asked."""
    flow = table.flows[step.id.partition(".")[0]]
    index = flow.steps.index(step)
    latches = tuple(_before(one) if at < index else OPEN for at, one in enumerate(flow.steps))
    visit = Visit(1, flow.id, 1, 0, latches)
    drill = flow.id in table.drills
    state = State(
        initial(), modes=("crew",), fit=tuple(table.fit), crew=CREW, flight=1, visits_made=1,
        focus=0 if drill else 1, visits=() if drill else (visit,), drill=visit if drill else None,
    )  # fmt: skip
    if not step.asked:
        raise NoSuchStep(f"{step.id}: {step.kind.value}, which the crew is never asked for")
    draft = Draft(table, state, Wake(0))
    draft.question = find(draft)
    if draft.question.step != index:
        # A wait that would be over, or in which others go on, is still one that can be asked for.
        draft.question = Question(Prompt.WAITING, visit.number, index)
    state = draft.freeze()
    return Standing(listen(table, state), view(table, state))


def find_step(loaded: Loaded, flow: str, name: str) -> Step:
    """The step that a person means: `list.step`, or within `flow` its identifier or what
    it is called, or the number that it has on the card. NoSuchStep names the nearest."""
    steps = loaded.table.steps
    if name in steps:
        return steps[name]
    within = loaded.table.flows.get(flow)
    found, rest = (within, name) if within else _list_named(loaded.table, name)
    if found is None:
        numbered = [step for step in steps.values() if str(step.number) == name]
        if numbered:
            return numbered[0]
        near = nearest(name, steps)
        raise NoSuchStep(
            f"STEP {name!r}: there is no such step{_hint(near)}; allowed: LIST.STEP, as "
            f"{next(iter(steps))}, or the number on the card"
        )
    wanted = plain(rest)
    for step in found.steps:
        if wanted in (plain(step.id.partition(".")[2]), str(step.number)):
            return step
    called = [step for step in found.steps if plain(step.challenge) == wanted]
    if len(called) == 1:
        return called[0]
    names = [step.id.partition(".")[2] for step in found.steps]
    near = nearest(rest, [*names, *(step.challenge for step in found.steps)])
    raise NoSuchStep(
        f"STEP {rest or name!r}: there is no such step in {found.id}{_hint(near)}; allowed: "
        f"{', '.join(names)}, or a number of {_numbers(found)}"
    )


def _list_named(table: Table, name: str) -> tuple[Flow | None, str]:
    flow, _, rest = name.partition(".")
    return table.flows.get(flow), rest


def _hint(near: str) -> str:
    return f"; nearest: {near}" if near else ""


def _numbers(flow: Flow) -> str:
    numbers = [step.number for step in flow.steps if step.asked]
    return f"{numbers[0]} to {numbers[-1]}" if numbers else "none"


def _before(step: Step) -> Latch:
    """How a step stands that lies behind."""
    if step.response:
        return Latch(How.ANSWERED, step.response, 0)
    return Latch(How.NOT_REQUIRED)
