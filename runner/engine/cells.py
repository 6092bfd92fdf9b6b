"""The transition table: what every kind of event does in every state of the question.

Rules: one cell for each pair of prompt and event, none empty (`cells` is complete, a test counts
them); a cell is a handler or the code of the refusal; free events do the same in every row unless
a row says otherwise. The table in the documentation is generated from `CELLS`.
"""

from __future__ import annotations

from collections.abc import Callable

from runner.engine import events as ev
from runner.engine.acceptance import accept, choose, drop_choice, put_off, unable
from runner.engine.answers import fault, tick
from runner.engine.closing import closing
from runner.engine.corrections import correct
from runner.engine.draft import Draft
from runner.engine.drills import discontinue, memory_done, open_drill, opened_by_mistake
from runner.engine.effects import Prompt
from runner.engine.errors import Refused
from runner.engine.flights import next_flight
from runner.engine.free import (
    condition_lost,
    crew_change,
    hand_over,
    mark,
    on_paper,
    reading_seen,
    snag,
    something_happened,
    start_timer,
    turn_to,
)  # fmt: skip
from runner.engine.interruptions import go_on, recovered, stand_by
from runner.engine.opening import opened, page_read, wrong_aircraft
from runner.engine.readback import affirm, negative, replace
from runner.engine.waking import wake

Handler = Callable[[Draft], None]
Cell = Handler | str


def _said(draft: Draft) -> None:
    draft.tell("said")


def _open_drill(draft: Draft) -> None:
    event = draft.event
    if not isinstance(event, ev.OpenDrill):
        raise TypeError(event)
    if draft.drill is not None and draft.drill.flow == event.drill:
        # Leaving it for itself would leave its answers behind as not done.
        raise Refused("drill open", draft.flow(draft.drill).title)
    open_drill(draft, event.drill)


def _discontinue(draft: Draft) -> None:
    discontinue(draft)


FREE: dict[type[ev.Event], Cell] = {
    ev.SayAgain: _said, ev.Confirm: _said, ev.Standby: stand_by, ev.Continue: "not standing by",
    ev.Correct: correct, ev.ReadingSeen: reading_seen, ev.OpenDrill: _open_drill,
    ev.MemoryDone: "no memory items", ev.Discontinue: _discontinue, ev.Mark: mark,
    ev.StartTimer: start_timer, ev.ConditionLost: condition_lost, ev.Snag: snag,
    ev.OnPaper: on_paper, ev.CrewChange: crew_change, ev.HandOver: hand_over,
    ev.Happened: something_happened, ev.TurnTo: turn_to, ev.NextFlight: next_flight,
    ev.Opened: "opened already", ev.PageRead: page_read, ev.Wake: wake,
    ev.Recovered: recovered, ev.Mistaken: opened_by_mistake,
}  # fmt: skip

ASKED = (ev.Answer, ev.NotSo, ev.Affirm, ev.Disregard, ev.PutOff, ev.Unable, ev.Accept)


def _row(*cells: Cell, **others: Cell) -> dict[type[ev.Event], Cell]:
    row: dict[type[ev.Event], Cell] = dict(FREE)
    row.update(zip(ASKED, cells, strict=True))
    for name, cell in others.items():
        row[getattr(ev, name)] = cell
    return row


NONE = "nothing to affirm"
DROP = "nothing to drop"

#            Answer     NotSo             Affirm  Disregard  PutOff  Unable  Accept
CELLS: dict[Prompt, dict[type[ev.Event], Cell]] = {
    Prompt.FIRST_PAGE: _row(
        "first page", wrong_aircraft, "first page", "first page", "first page", "first page",
        "first page", Correct="first page", Standby="first page",
        NextFlight="first page", TurnTo="first page", StartTimer="first page",
        OnPaper="first page",
    ),
    Prompt.ASKING: _row(tick, fault, NONE, DROP, put_off, unable, accept),
    Prompt.READ_BACK: _row(
        replace, negative, affirm, negative, "affirm or negative", "affirm or negative",
        "affirm or negative",
    ),
    Prompt.UNMET: _row(tick, fault, NONE, DROP, put_off, unable, accept),
    Prompt.WAITING: _row(tick, "waiting", NONE, DROP, "waiting", unable, accept),
    Prompt.CLOSING: _row(
        closing, "not so here", NONE, DROP, "may not put off", "unable here", "nothing to accept"
    ),
    Prompt.CAUTION: _row(tick, "not so here", NONE, DROP, put_off, "unable here", accept),
    Prompt.STATION: _row(tick, fault, NONE, DROP, put_off, unable, accept),
    Prompt.MEMORY_ITEMS: _row(
        "memory items", "memory items", memory_done, "memory items", "memory items",
        "memory items", "memory items", MemoryDone=memory_done, TurnTo="memory items",
        NextFlight="memory items",
    ),
    Prompt.STANDBY: _row(
        "standing by", "standing by", "standing by", "standing by", "standing by", "standing by",
        "standing by", Standby="standing by", Continue=go_on, Correct="standing by",
        NextFlight="standing by", TurnTo="standing by", StartTimer=start_timer,
    ),
    Prompt.CHOOSING: _row(
        choose, drop_choice, "choose", drop_choice, put_off, "choose", accept,
        TurnTo="choose", NextFlight="choose",
    ),
    Prompt.CLOSED: _row(
        "nothing asked", "nothing asked", "nothing asked", "nothing asked", "nothing asked",
        "nothing asked", "nothing asked", Standby="nothing asked",
    ),
}  # fmt: skip

BEFORE: dict[type[ev.Event], Cell] = {
    event: opened if event is ev.Opened else "not opened" for event in ev.ALL
}
