"""From words to events: one typed, spoken or scripted line becomes one event, or a clear fault.

Rules: a line is one event or none; prefixes say who (`commander:`), to which question
(`ask 7:`), and how surely it was heard (`unsure:`); control words come first, everything else is
an answer to the question that stands; names are found by title or id, the nearest one is only
ever suggested. The same table serves keys, typed lines, scripts and counterexamples.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass

from runner.engine import events as ev
from runner.engine.errors import BadEvent
from runner.engine.state import How, State
from runner.engine.table import Kind, Step, Table
from runner.engine.words import find, nearest
from runner.words.numbers import read_number, read_threshold

ROLES = ("commander", "copilot", "ground")
LONGEST_LINE = 1000


class WordFault(ValueError):
    """A line that is no event: what was found, what is allowed, the nearest name, what to do."""

    def __init__(self, what: str, allowed: str = "", close: str = "") -> None:
        self.what, self.allowed, self.close = what, allowed, close
        parts = [what]
        if allowed:
            parts.append(f"allowed: {allowed}")
        if close:
            parts.append(f"nearest: {close}")
        super().__init__("; ".join(parts))


@dataclass(frozen=True, slots=True)
class Context:
    """What a line is read against: documents, state, time, who speaks by what, which question."""

    table: Table
    state: State
    at: int
    source: str = "key"
    ask: int | None = None
    role: str = ""


@dataclass(frozen=True, slots=True)
class Speech:
    """The parts of a line: its prefixes and its words."""

    role: str
    ask: int | None
    sure: bool
    text: str


_PREFIX = re.compile(r"^\s*(?:(commander|copilot|ground)|ask\s+(\d{1,9})|(unsure))\s*:\s*", re.I)


def split(line: str) -> Speech:
    """Takes the prefixes off a line, in any order, each at most once."""
    role, ask, sure = "", None, True
    while match := _PREFIX.match(line):
        if match[1]:
            if role:
                break
            role = match[1].lower()
        elif match[2]:
            if ask is not None:
                break
            ask = int(match[2])
        else:
            sure = False
        line = line[match.end() :]
    return Speech(role, ask, sure, line.strip())


def read(line: str, context: Context) -> ev.Event:
    """The event of a line. Raises WordFault; never anything else."""
    if len(line) > LONGEST_LINE:
        raise WordFault(f"a line of {len(line)} characters", f"at most {LONGEST_LINE}")
    try:
        return _read(line, context)
    except BadEvent as fault:
        raise WordFault(str(fault)) from None


def _read(line: str, context: Context) -> ev.Event:
    speech = split(line)
    words = " ".join(speech.text.split())
    if not words:
        raise WordFault("an empty line answers nothing")
    folded = words.lower().rstrip(".!?")
    for name, make in SIMPLE.items():
        if folded == name:
            return make(context, speech)
    for name, take in LEADING.items():
        if folded == name or words.lower().startswith(name + " "):
            rest = words[len(name) :].strip()
            return take(context, speech, rest)
    return _answer(context, speech, words)


def _asked(context: Context, speech: Speech) -> tuple[int, int, str, str, bool]:
    ask = speech.ask if speech.ask is not None else context.ask
    number = context.state.ask if ask is None else ask
    return (context.at, number, speech.role or context.role, context.source, speech.sure)


def _spoken(context: Context, speech: Speech) -> tuple[int, str, str]:
    return (context.at, speech.role or context.role, context.source)


def _simple_asked(kind: type[ev.Asked]) -> Callable[[Context, Speech], ev.Event]:
    return lambda context, speech: kind(*_asked(context, speech))


def _simple_free(kind: type[ev.Spoken]) -> Callable[[Context, Speech], ev.Event]:
    return lambda context, speech: kind(*_spoken(context, speech))


SIMPLE: dict[str, Callable[[Context, Speech], ev.Event]] = {
    "say again": _simple_free(ev.SayAgain), "confirm": _simple_free(ev.Confirm),
    "stand by": _simple_free(ev.Standby), "standby": _simple_free(ev.Standby),
    "continue": _simple_free(ev.Continue), "put off": _simple_asked(ev.PutOff),
    "not so": _simple_asked(ev.NotSo), "negative": _simple_asked(ev.NotSo),
    "affirm": _simple_asked(ev.Affirm), "disregard": _simple_asked(ev.Disregard),
    "unable": _simple_asked(ev.Unable), "discontinue": _simple_free(ev.Discontinue),
    "memory items done": _simple_free(ev.MemoryDone), "hand over": _simple_free(ev.HandOver),
    "condition lost": _simple_free(ev.ConditionLost), "next flight": _simple_free(ev.NextFlight),
    "page read": _simple_free(ev.PageRead),
}  # fmt: skip


def unquote(text: str) -> str:
    """A quoted text without its quotes, a plain one as it is."""
    text = text.strip()
    if len(text) >= 2 and text[0] == text[-1] == '"':
        try:
            value = json.loads(text)
        except ValueError:
            return text[1:-1]
        return value if isinstance(value, str) else text[1:-1]
    return text


def _accept(context: Context, speech: Speech, rest: str) -> ev.Event:
    emergency = rest.lower().startswith("emergency")
    if emergency:
        rest = rest[len("emergency") :].strip()
    reason = unquote(rest)
    if reason.isdigit() and 1 <= int(reason) <= len(context.table.reasons):
        reason = context.table.reasons[int(reason) - 1]
    at, ask, role, source, sure = _asked(context, speech)
    # Accepting is the commander's word; who else says so must be named, and is refused.
    return ev.Accept(at, ask, role or "commander", source, sure, reason, emergency)


def _number_or_text(text: str) -> str:
    threshold = read_threshold(text)
    if threshold is not None:
        return f"{threshold.side} {_plain(threshold.value)}"
    if text.lower().startswith("drop "):
        number = read_number(text[5:])
        return f"drop {_plain(number)}" if number is not None else text.upper()
    number = read_number(text)
    return _plain(number) if number is not None else text.upper()


def _plain(number: object) -> str:
    return f"{number:f}"


def _correct(context: Context, speech: Speech, rest: str) -> ev.Event:
    """`correct oil temperature 54`, or `correction 54` for the last answer."""
    if not rest:
        raise WordFault("a correction wants the right value", "correct ITEM VALUE")
    at, role, source = _spoken(context, speech)
    words = rest.split()
    for length in range(len(words) - 1, 0, -1):
        step = correctable(context, " ".join(words[:length]))
        if step is not None:
            value = unquote(" ".join(words[length:]))
            return ev.Correct(at, role, source, step, _number_or_text(value))
    return ev.Correct(at, role, source, "", _number_or_text(unquote(rest)))


def correctable(context: Context, name: str) -> str | None:
    """The id of the step most recently answered under this name: challenge, reading label or id."""
    state, table = context.state, context.table
    live = [state.drill] if state.drill is not None else []
    for visit in [*live, *state.visits, *reversed(state.archive)]:
        named: list[tuple[str, str]] = []
        for step, latch in zip(table.flows[visit.flow].steps, visit.latches, strict=True):
            if latch.how in (How.ANSWERED, How.UNMET, How.ACCEPTED):
                named.extend((step.id, title) for title in titles(table, step))
        found = find(name, named)
        if found is not None:
            return found
    return name.lower() if name.lower() in table.steps else None


def titles(table: Table, step: Step) -> list[str]:
    """The names by which a step is called."""
    names = [step.challenge, step.id, step.id.split(".", 1)[1]]
    if step.reading:
        names.append(table.readings[step.reading].label)
    return names


def _named(rest: str, named: list[tuple[str, str]], what: str) -> str:
    found = find(unquote(rest), named)
    if found is None:
        title = nearest(rest, [t for _, t in named])
        raise WordFault(f"no {what} is called {rest[:60]!r}", "", title)
    return found


def _drill(context: Context, speech: Speech, rest: str) -> ev.Event:
    table = context.table
    named = [(d, table.flows[d].title) for d in table.drills]
    if rest.isdigit() and 1 <= int(rest) <= len(named):
        # A number is the line of the drills page, which the card prints in the same order.
        return ev.OpenDrill(*_spoken(context, speech), named[int(rest) - 1][0])
    return ev.OpenDrill(*_spoken(context, speech), _named(rest, named, "drill"))


def _mark(context: Context, speech: Speech, rest: str) -> ev.Event:
    match = re.fullmatch(
        r"(take-?\s?off|landing)(?:\s+(\d{1,6})\s*(ms|s|min|minutes?|seconds?)\s+ago)?", rest, re.I
    )
    if match is None:
        raise WordFault(
            f"mark {rest[:40]!r}", "mark take-off, mark landing, mark landing 2 min ago"
        )
    what = "landing" if match[1].lower() == "landing" else "take-off"
    scale = {"ms": 1, "s": 1000}.get(match[3] or "s", 1000 if (match[3] or "").startswith("sec")
                                     else 60_000)  # fmt: skip
    ago = int(match[2] or 0) * scale
    at, role, source = _spoken(context, speech)
    return ev.Mark(at, role, source, what, at - ago)


def _timer(context: Context, speech: Speech, rest: str) -> ev.Event:
    named = [(t.name, t.label) for t in context.table.timers.values()]
    return ev.StartTimer(*_spoken(context, speech), _named(rest, named, "by-time"))


def _reading(context: Context, speech: Speech, rest: str) -> ev.Event:
    named = [(r.name, r.label) for r in context.table.readings.values()]
    words = rest.split()
    for length in range(len(words) - 1, 0, -1):
        name = find(" ".join(words[:length]), named)
        if name is not None:
            value = _number_or_text(" ".join(words[length:]))
            return ev.ReadingSeen(*_spoken(context, speech), name, value)
    raise WordFault("a reading wants its name and its value", "reading NAME VALUE",
                    nearest(rest, [t for _, t in named]))  # fmt: skip


def _snag(context: Context, speech: Speech, rest: str) -> ev.Event:
    if not rest:
        raise WordFault("a snag wants some words", "snag WHAT WAS NOTICED")
    return ev.Snag(*_spoken(context, speech), unquote(rest))


def _paper(context: Context, speech: Speech, rest: str) -> ev.Event:
    match = re.fullmatch(
        r"(\d{1,5})\s+to\s+(\d{1,5}),?\s+(?:card\s+)?revision\s+(.{1,40})", rest, re.I
    )
    if match is None:
        raise WordFault(f"on paper {rest[:40]!r}", "on paper FIRST to LAST revision REVISION")
    at, role, source = _spoken(context, speech)
    return ev.OnPaper(at, role, source, int(match[1]), int(match[2]), unquote(match[3]))


def _crew(context: Context, speech: Speech, rest: str) -> ev.Event:
    match = re.fullmatch(r"(\w+)\s*:\s*(.+)", rest)
    if match is None or match[1].lower() not in ROLES:
        raise WordFault(f"crew {rest[:40]!r}", "crew commander: NAME, crew copilot: NAME")
    at, role, source = _spoken(context, speech)
    return ev.CrewChange(at, role, source, match[1].lower(), unquote(match[2]))


def _happened(context: Context, speech: Speech, rest: str) -> ev.Event:
    named = [(h, h) for h in context.table.happenings]
    return ev.Happened(*_spoken(context, speech), _named(rest, named, "happening"))


def _maintenance(context: Context, speech: Speech, rest: str) -> ev.Event:
    return ev.Happened(*_spoken(context, speech), "maintenance", unquote(rest))


def _turn(context: Context, speech: Speech, rest: str) -> ev.Event:
    table = context.table
    named = [(v.flow, table.flows[v.flow].title) for v in context.state.visits]
    return ev.TurnTo(*_spoken(context, speech), _named(rest, named, "open list of this group"))


def _tick(context: Context, speech: Speech, rest: str) -> ev.Event:
    step = station_item(context, rest)
    return ev.Answer(*_asked(context, speech), step.response, step.challenge.upper())


def _fault(context: Context, speech: Speech, rest: str) -> ev.Event:
    step = station_item(context, rest)
    return ev.NotSo(*_asked(context, speech), step.challenge.upper())


def station_item(context: Context, name: str) -> Step:
    """The tick of this name in the open stations, by its challenge, id, or card number."""
    table = context.table
    ticks = [s for v in context.state.visits for s in table.flows[v.flow].steps
             if s.kind is Kind.TICK]  # fmt: skip
    if name.isdigit():
        for step in ticks:
            if step.number == int(name):
                return step
    named = [(s.id, title) for s in ticks for title in titles(table, s)]
    return table.steps[_named(name, named, "open station item")]


def _said(context: Context, speech: Speech, rest: str) -> ev.Event:
    at, ask, role, source, sure = _asked(context, speech)
    return ev.Answer(at, ask, role, source, sure, unquote(rest))


LEADING: dict[str, Callable[[Context, Speech, str], ev.Event]] = {
    "accept": _accept, "correction": _correct, "correct": _correct, "drill": _drill,
    "mark": _mark, "timer": _timer, "reading": _reading, "snag": _snag, "on paper": _paper,
    "crew": _crew, "happened": _happened, "maintenance": _maintenance, "turn to": _turn,
    "tick": _tick, "fault": _fault, "answer": _said,
}  # fmt: skip


def _answer(context: Context, speech: Speech, words: str) -> ev.Event:
    at, ask, role, source, sure = _asked(context, speech)
    return ev.Answer(at, ask, role, source, sure, _number_or_text(unquote(words)))
