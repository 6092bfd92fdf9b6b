"""From events to words: the one spelling that we write for each event.

Rules: `read(spell(event))` is the event, for every event a person can cause; the plain form is
written where it reads back equal, else the quoted one; what no words could have caused (an opening,
a name that the documents do not hold, a mark ahead of its time) has no spelling, and is refused.
"""

from __future__ import annotations

import json
from collections.abc import Callable

from runner.engine import events as ev
from runner.engine.table import Table
from runner.words.spoken import Context, WordFault, read

SIMPLE: dict[type[ev.Event], str] = {
    ev.SayAgain: "say again", ev.Confirm: "confirm", ev.Standby: "stand by",
    ev.Continue: "continue", ev.PutOff: "put off", ev.NotSo: "not so", ev.Affirm: "affirm",
    ev.Disregard: "disregard", ev.Unable: "unable", ev.Discontinue: "discontinue",
    ev.MemoryDone: "memory items done", ev.HandOver: "hand over",
    ev.ConditionLost: "condition lost", ev.NextFlight: "next flight", ev.PageRead: "page read",
    ev.Mistaken: "drill opened by mistake",
}  # fmt: skip


def spell(event: ev.Event, context: Context) -> str:
    """The line of an event; raises WordFault for one that no line of words could have caused.

    `context` is what the line will be read against; its time and source are the event's own.
    """
    for write in (_plain, _quoted):
        line = _prefix(event, context) + write(event, context.table)
        try:
            if read(line, context) == event:
                return line
        except WordFault:
            continue
    raise WordFault(f"this event has no words: {event}"[:200])


def _prefix(event: ev.Event, context: Context) -> str:
    out = ""
    role = getattr(event, "role", "")
    if role and not (isinstance(event, ev.Accept) and role == "commander"):
        out += f"{role}: "
    if isinstance(event, ev.Asked):
        if event.ask != (context.state.ask if context.ask is None else context.ask):
            out += f"ask {event.ask}: "
        if not event.sure:
            out += "unsure: "
    return out


def _plain(event: ev.Event, table: Table) -> str:
    kind = type(event)
    if isinstance(event, ev.Answer):
        return f"tick {event.item.lower()}" if event.item else event.value.lower()
    if isinstance(event, ev.NotSo) and event.item:
        return f"fault {event.item.lower()}"
    if kind in SIMPLE:
        return SIMPLE[kind]
    writer = WRITERS.get(kind)
    if writer is None:
        raise WordFault(f"{event.wire} is an event of the host and has no words")
    return writer(event, table)


def _quoted(event: ev.Event, table: Table) -> str:
    if isinstance(event, ev.Answer) and not event.item:
        return f"answer {_text(event.value)}"
    if isinstance(event, ev.Snag):
        return f"snag {_text(event.text)}"
    if isinstance(event, ev.Correct):
        named = f"correct {event.step}" if event.step else "correction"
        return f"{named} {_text(event.value)}"
    if isinstance(event, ev.ReadingSeen):
        return f"reading {event.name} {_text(event.value)}"
    if isinstance(event, ev.CrewChange):
        return f"crew {event.seat}: {_text(event.name)}"
    if isinstance(event, ev.OnPaper):
        return f"on paper {event.first} to {event.last} revision {_text(event.revision)}"
    return _plain(event, table)


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _accept(event: ev.Event, table: Table) -> str:
    if not isinstance(event, ev.Accept):
        raise TypeError(event)
    word = "accept emergency " if event.emergency else "accept "
    return word + _text(event.reason)


def _correct(event: ev.Event, table: Table) -> str:
    if not isinstance(event, ev.Correct):
        raise TypeError(event)
    value = event.value.lower()
    return f"correct {event.step} {value}" if event.step else f"correction {value}"


def _mark(event: ev.Event, table: Table) -> str:
    if not isinstance(event, ev.Mark):
        raise TypeError(event)
    ago = event.at - event.when
    return f"mark {event.what}" + (f" {ago} ms ago" if ago else "")


def _seen(event: ev.Event, table: Table) -> str:
    if not isinstance(event, ev.ReadingSeen):
        raise TypeError(event)
    return f"reading {event.name} {event.value.lower()}"


def _crew(event: ev.Event, table: Table) -> str:
    if not isinstance(event, ev.CrewChange):
        raise TypeError(event)
    return f"crew {event.seat}: {event.name}"


def _paper(event: ev.Event, table: Table) -> str:
    if not isinstance(event, ev.OnPaper):
        raise TypeError(event)
    return f"on paper {event.first} to {event.last} revision {event.revision}"


def _happened(event: ev.Event, table: Table) -> str:
    if not isinstance(event, ev.Happened):
        raise TypeError(event)
    if event.what == "maintenance":
        return f"maintenance {_text(event.note)}"
    return f"happened {event.what}"


WRITERS: dict[type[ev.Event], Callable[[ev.Event, Table], str]] = {
    ev.Accept: _accept, ev.Correct: _correct, ev.Mark: _mark, ev.ReadingSeen: _seen,
    ev.CrewChange: _crew, ev.OnPaper: _paper, ev.Happened: _happened,
    ev.OpenDrill: lambda e, t: f"drill {getattr(e, 'drill', '')}",
    ev.StartTimer: lambda e, t: f"timer {getattr(e, 'timer', '')}",
    ev.Snag: lambda e, t: f"snag {getattr(e, 'text', '')}",
    ev.TurnTo: lambda e, t: f"turn to {getattr(e, 'flow', '')}",
}  # fmt: skip
