"""What a drill opened by mistake took along, and how that goes back.

Rules: only a drill that a person opened can have been opened by mistake, never one that a limit, a
by-time or an answer demanded, and only while none of its memory items is said done and none of its
steps answered; what opening it made unknown or stopped is as it was, unless it is known or runs
anew; a step that rested on such a value meanwhile is asked again.
"""

from __future__ import annotations

from decimal import Decimal

from runner.engine.asking import Mistake
from runner.engine.deciding import steps_passed
from runner.engine.draft import Draft
from runner.engine.state import How, Scalar
from runner.engine.table import Flow

BY_MISTAKE = "opened by mistake"
_NUMBER, _TEXT, _TRUTH = "number", "text", "truth"


def may_be_mistake(draft: Draft) -> bool:
    """Whether the drill that stands may have been opened by mistake."""
    drill = draft.drill
    return (
        drill is not None
        and draft.mistake is not None
        and draft.mistake.drill == drill.number
        and not steps_passed(draft, drill)
        and all(latch.how is not How.ON_PAPER for latch in drill.latches)
    )


def taken_along(draft: Draft, flow: Flow) -> Mistake:
    """What opening this drill takes along, found before it is opened."""
    names = dict.fromkeys(step.gives for step in flow.steps if step.gives)
    timers = dict.fromkeys(step.timer for step in flow.steps if step.timer)
    return Mistake(
        0,
        tuple(_written(name, draft.values[name]) for name in names if name in draft.values),
        tuple((name, draft.givers[name]) for name in names if name in draft.givers),
        tuple((name, draft.timers[name]) for name in timers if name in draft.timers),
        draft.choosing,
        draft.standby,
        draft.drill.flow if draft.drill is not None else "",
        draft.mistake if may_be_mistake(draft) else None,
    )


def put_back(draft: Draft, mistake: Mistake) -> None:
    """Puts back what the drill took along, where nothing newer stands."""
    givers = dict(mistake.givers)
    for name, kind, text in mistake.values:
        if name in draft.values:
            continue
        draft.give(name, _read(kind, text))
        if name in givers:
            draft.givers = draft.givers.having(name, givers[name])
    for name, timer in mistake.timers:
        if name not in draft.timers:
            draft.timer(name, timer)


def _written(name: str, value: Scalar) -> tuple[str, str, str]:
    # A decimal is written out: its own text would ask the context for its capitals.
    if isinstance(value, Decimal):
        return name, _NUMBER, f"{value:f}"
    return (name, _TRUTH, str(value)) if isinstance(value, bool) else (name, _TEXT, value)


def _read(kind: str, text: str) -> Scalar:
    if kind == _NUMBER:
        return Decimal(text)
    return text == "True" if kind == _TRUTH else text
