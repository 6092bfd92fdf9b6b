"""From words to events: one typed, spoken or scripted line becomes one event, or a clear fault.

Rules: a line is one event or none; prefixes say who (`commander:`), to which question
(`ask 7:`), and how surely it was heard (`unsure:`); control words come first, everything else is
an answer to the question that stands; names are found by title or id, the nearest one is only
ever suggested. The same table serves keys, typed lines, scripts and counterexamples.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from typing import NamedTuple

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.errors import BadEvent
from runner.engine.words import find, nearest
from runner.words.naming import (
    Context,
    WordFault,
    answered,
    correctable,
    line_number,
    named_id,
    quoted,
    splits,
    station_item,
    unquote,
)  # fmt: skip
from runner.words.numbers import read_number, read_threshold

ROLES = ("commander", "copilot", "ground")
LONGEST_LINE = 1000


class Speech(NamedTuple):
    """The parts of a line: its prefixes and its words."""

    role: str
    ask: int | None
    sure: bool
    text: str


_PREFIX = re.compile(r"^\s*(?:(commander|copilot|ground)|ask\s+([0-9]{1,9})|(unsure))\s*:\s*", re.I)


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
        return _read(unicodedata.normalize("NFC", line), context)
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
    for take, match in ((take, _LEADS[name].match(speech.text)) for name, take in LEADING.items()):
        if match is not None:
            # What follows keeps its own spaces: a quoted text is taken as it stands.
            return take(context, speech, speech.text[match.end() :].strip())
    return _answer(context, speech, speech.text)


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


def _wrong_aircraft(context: Context, speech: Speech) -> ev.Event:
    if context.state.question.prompt is not Prompt.FIRST_PAGE:
        raise WordFault("the aircraft is compared on the first screen", "discontinue, from here on")
    return ev.NotSo(*_asked(context, speech))


SIMPLE: dict[str, Callable[[Context, Speech], ev.Event]] = {
    "say again": _simple_free(ev.SayAgain), "confirm": _simple_free(ev.Confirm),
    "stand by": _simple_free(ev.Standby), "standby": _simple_free(ev.Standby),
    "continue": _simple_free(ev.Continue), "put off": _simple_asked(ev.PutOff),
    "not so": _simple_asked(ev.NotSo), "negative": _simple_asked(ev.NotSo),
    "affirm": _simple_asked(ev.Affirm), "disregard": _simple_asked(ev.Disregard),
    "unable": _simple_asked(ev.Unable), "discontinue": _simple_free(ev.Discontinue),
    "wrong aircraft": _wrong_aircraft,
    "memory items done": _simple_free(ev.MemoryDone), "hand over": _simple_free(ev.HandOver),
    "condition lost": _simple_free(ev.ConditionLost), "next flight": _simple_free(ev.NextFlight),
    "page read": _simple_free(ev.PageRead),
    "drill opened by mistake": _simple_free(ev.Mistaken),
}  # fmt: skip


def _accept(context: Context, speech: Speech, rest: str) -> ev.Event:
    first, _, behind = rest.partition(" ")
    emergency = first.lower() == "emergency"
    if emergency:
        rest = behind.strip()
    reason = unquote(rest)
    line = 0 if quoted(rest) else line_number(reason, len(context.table.reasons))
    if line:
        reason = context.table.reasons[line - 1]
    at, ask, role, source, sure = _asked(context, speech)
    # Accepting is the commander's word; who else says so must be named, and is refused.
    return ev.Accept(at, ask, role or "commander", source, sure, reason, emergency)


def _value(text: str) -> str:
    """A value as events hold it: quoted letter by letter, else a number or capitals."""
    return unquote(text) if quoted(text) else _number_or_text(" ".join(text.split()))


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
    for name, value in splits(rest):
        step = correctable(context, name)
        if step is not None:
            return ev.Correct(at, role, source, step, _value(value))
    return ev.Correct(at, role, source, "", _value(rest))


def _correct_named(context: Context, speech: Speech, rest: str) -> ev.Event:
    """`correct`: with two words or more it names what it corrects; a name that is none is no value
    for the last answer."""
    event = _correct(context, speech, rest)
    if isinstance(event, ev.Correct) and not event.step and not quoted(rest):
        lone = len(rest.split()) == 1 or read_number(rest) is not None
        if not (lone or read_threshold(rest) is not None or rest.lower().startswith("drop ")):
            raise WordFault(
                f"nothing was answered that is called like {rest[:60]!r}",
                "correct ITEM VALUE, or correction VALUE for the last answer",
                nearest(rest.rpartition(" ")[0], answered(context)),
            )
    return event


def _drill(context: Context, speech: Speech, rest: str) -> ev.Event:
    table = context.table
    named = [(d, table.flows[d].title) for d in table.drills]
    line = line_number(rest, len(named))
    if line:
        # A number is the line of the drills page, which the card prints in the same order.
        return ev.OpenDrill(*_spoken(context, speech), named[line - 1][0])
    return ev.OpenDrill(*_spoken(context, speech), named_id(rest, named, "drill"))


def _mark(context: Context, speech: Speech, rest: str) -> ev.Event:
    match = re.fullmatch(
        r"(take-?\s?off|landing)(?:\s+([0-9]{1,9})\s*(ms|s|min|minutes?|seconds?)\s+ago)?",
        rest,
        re.I,
    )
    if match is None:
        raise WordFault(
            f"mark {rest[:40]!r}", "mark take-off, mark landing, mark landing 2 min ago"
        )
    what = "landing" if match[1].lower() == "landing" else "take-off"
    unit = (match[3] or "ms").lower()
    ago = int(match[2] or 0) * (1 if unit == "ms" else 60_000 if unit[0] == "m" else 1000)
    at, role, source = _spoken(context, speech)
    if ago > at:
        raise WordFault(f"mark {rest[:40]!r}: the run had not begun then",
                        f"at most {at // 60_000} min ago")  # fmt: skip
    return ev.Mark(at, role, source, what, at - ago)


def _timer(context: Context, speech: Speech, rest: str) -> ev.Event:
    named = [(t.name, t.label) for t in context.table.timers.values()]
    return ev.StartTimer(*_spoken(context, speech), named_id(rest, named, "by-time"))


def _reading(context: Context, speech: Speech, rest: str) -> ev.Event:
    named = [(r.name, r.label) for r in context.table.readings.values()]
    for called, value in splits(rest):
        name = called if called in context.table.readings else find(called, named)
        if name is not None:
            return ev.ReadingSeen(*_spoken(context, speech), name, _value(value))
    raise WordFault("a reading wants its name and its value", "reading NAME VALUE",
                    nearest(rest, [t for _, t in named]))  # fmt: skip


def _snag(context: Context, speech: Speech, rest: str) -> ev.Event:
    if not rest:
        raise WordFault("a snag wants some words", "snag WHAT WAS NOTICED")
    return ev.Snag(*_spoken(context, speech), unquote(rest))


def _paper(context: Context, speech: Speech, rest: str) -> ev.Event:
    match = re.fullmatch(
        r"([0-9]{1,5})\s+to\s+([0-9]{1,5}),?\s+(?:card\s+)?revision\s+(.+)", rest, re.I
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
    return ev.Happened(*_spoken(context, speech), named_id(rest, named, "happening"))


def _maintenance(context: Context, speech: Speech, rest: str) -> ev.Event:
    return ev.Happened(*_spoken(context, speech), "maintenance", unquote(rest))


def _turn(context: Context, speech: Speech, rest: str) -> ev.Event:
    table = context.table
    named = [(v.flow, table.flows[v.flow].title) for v in context.state.visits]
    return ev.TurnTo(*_spoken(context, speech), named_id(rest, named, "open list of this group"))


def _tick(context: Context, speech: Speech, rest: str) -> ev.Event:
    step, item = station_item(context, rest)
    return ev.Answer(*_asked(context, speech), step.response, item)


def _fault(context: Context, speech: Speech, rest: str) -> ev.Event:
    _, item = station_item(context, rest)
    return ev.NotSo(*_asked(context, speech), item)


def _said(context: Context, speech: Speech, rest: str) -> ev.Event:
    at, ask, role, source, sure = _asked(context, speech)
    return ev.Answer(at, ask, role, source, sure, unquote(rest))


LEADING: dict[str, Callable[[Context, Speech, str], ev.Event]] = {
    "accept": _accept, "correction": _correct, "correct": _correct_named, "drill": _drill,
    "mark": _mark, "timer": _timer, "reading": _reading, "snag": _snag, "on paper": _paper,
    "crew": _crew, "happened": _happened, "maintenance": _maintenance, "turn to": _turn,
    "tick": _tick, "fault": _fault, "answer": _said,
}  # fmt: skip
_LEADS = {
    name: re.compile(r"\s+".join(name.split()) + r"(?=\s|$)", re.I | re.A) for name in LEADING
}


def _answer(context: Context, speech: Speech, words: str) -> ev.Event:
    at, ask, role, source, sure = _asked(context, speech)
    return ev.Answer(at, ask, role, source, sure, _value(words))


__all__ = ["LEADING", "LONGEST_LINE", "SIMPLE", "Context", "Speech", "WordFault", "read", "split"]
