"""The question that stands, in the words of the plain mode: one labelled line a thing.

Rules: the call comes first behind its heading, then what stands in its way, then what may be said;
a limit, a unit or an answer that the call names is not said a second time; only what is open in
this list holds its closing call, what is open beside it is said as that. Pure.
"""

from __future__ import annotations

from itertools import groupby

from runner.engine.effects import Gauge, Line, Listen, Prompt, View
from runner.terminal.clock import Clock
from runner.terminal.gauge import distance, with_unit
from runner.terminal.keys import each_reads
from runner.terminal.parts import answers_by
from runner.terminal.statuswords import reason, shown


def call(view: View, listen: Listen, clock: Clock) -> list[str]:
    """The current question, whole."""
    if view.prompt is Prompt.FIRST_PAGE:
        return first_page(view)
    if view.prompt is Prompt.CLOSED:
        return _closed(view, clock)
    if view.prompt is Prompt.STANDBY:
        place = view.standby_place or f"{view.number} {view.challenge}"
        since = clock.utc(view.standby_since) if view.standby_since is not None else ""
        return [f"STANDBY: held at {place}, since {since}; answer continue", *_options(view)]
    if view.prompt is Prompt.MEMORY_ITEMS:
        items = [f"MEMORY ITEM {n}: {text}" for n, text in enumerate(view.memory, 1)]
        return [*items, "CALL: memory items done? answer memory items done"]
    out = [f"SECTION: {view.section}"] if view.section else []
    out.extend(f"NOTE: {note}" for note in view.notes)
    if view.prompt is Prompt.READ_BACK:
        return [*out, *detail(view), "CALL: affirm? answer affirm, not so, or the value again"]
    out.append(_asked(view, listen))
    if view.critical:
        out.append("CRITICAL: answered by its full words")
    if view.who == "both" and view.waiting_for:
        out.append(f"BOTH LOOK: still to answer: {', '.join(view.waiting_for)}")
    out.extend(detail(view))
    out.extend(_options(view))
    if view.prompt is Prompt.STATION:
        out.extend(_item(n, line) for n, line in enumerate(view.items, 1))
    if view.prompt is Prompt.CLOSING:
        out.extend(_open(view))
    out.extend(_ways_on(view))
    forms = _forms(view.gauge, listen)
    if forms:
        out.append(f"INSTEAD OF THE VALUE: {'; or '.join(forms)}")
    return out


def first_page(view: View) -> list[str]:
    """What is done with the first page, and who has still to do it."""
    return [
        "PAGE: compare the registration with the placard, read all of this; "
        "another one stands there: wrong aircraft",
        still_to_read(view),
    ]


def still_to_read(view: View) -> str:
    """Who has not confirmed the first page yet, and with which words."""
    read = "page read"
    if each_reads(view) and view.unread:
        read = f"each with their role: {view.unread[0]}: page read"
    return f"PAGE: still to read it: {', '.join(view.unread) or 'nobody'}; answer {read}"


def _closed(view: View, clock: Clock) -> list[str]:
    return [
        f"CLOSED: no list is left, {len(view.open_lines) or 'none'} open, {clock.utc()}",
        *(f"SNAG TO WRITE UP: {text}" for text in view.snags),
        *(f"DEFECT TO WRITE UP: {text}" for text in view.defects),
        f"CALL: end of day? answer end of day{', or next flight' if view.may_begin_next else ''};"
        " copy page says the figures for the technical log, receipt what the log has come to",
    ]


def _asked(view: View, listen: Listen) -> str:
    """ "CALL 34 HANDLING (COMMANDER): Rotor brake; answer RELEASED (6 of 12 in this list)"."""
    number = f"{view.number} " if view.number else ""
    kind = "drill" if view.is_drill else "list"
    progress = f" ({view.done} of {view.required} in this {kind})" if view.required else ""
    who = f"{number}{answers_by(view)}"
    if view.prompt is Prompt.WAITING:
        return f"WAITING {number}{view.challenge}: it ends by itself, nothing is asked{progress}"
    if view.prompt is Prompt.CAUTION:
        words = " or ".join(listen.responses) or view.response
        return f"CAUTION {who}: {view.challenge}; answer {words}{progress}"
    if view.prompt is Prompt.CHOOSING and not view.response:
        return f"CALL: {view.challenge or 'which way'}? one of these"
    return f"CALL {who}: {view.challenge}{_wanted(view)}{progress}"


def _wanted(view: View) -> str:
    """What answers it; choices have lines of their own."""
    gauge = view.gauge
    if view.options:
        return "; one of these"
    if gauge is not None:
        return f"; limit {gauge.limit}" if gauge.limit else f"; read in {gauge.unit}"
    return f"; answer {view.response}" if view.response else ""


def detail(view: View) -> list[str]:
    """The last value and why the question does not go on."""
    out: list[str] = []
    gauge = view.gauge
    if gauge is not None and gauge.value and view.prompt is not Prompt.READ_BACK:
        away = distance(gauge)
        out.append(f"LAST VALUE: {with_unit(gauge)}" + (f", {away}" if away else ""))
    if view.prompt is Prompt.READ_BACK and gauge is not None and gauge.limit:
        away = distance(gauge)
        out.append(f"LIMIT: {gauge.limit}" + (f", {away}" if away else ""))
    if view.unmet_why:
        out.append(f"{shown('unmet')}: {reason(view.unmet_why)}")
    if view.blocked:
        out.append(f"HELD: not known yet: {view.blocked}")
    return out


def _item(number: int, line: Line) -> str:
    """An item of a station. How it stands comes before its words: behind them, a fault would be
    heard as a part of what is wanted."""
    answer = line.answer if line.status == "answered" else ""
    how = "" if line.status == "open" else f", {shown(line.status, station=True)}"
    return f"ITEM {number}{how}: {line.challenge}; {answer or line.expected}"


def _options(view: View) -> list[str]:
    return [f"CHOICE {n}: {text}" for n, text in enumerate(view.options, 1)]


def _open(view: View) -> list[str]:
    """What holds the closing call, and what is open beside this list."""
    own = [line for line in view.open_lines if line.key.startswith(f"{view.flow}.")]
    out = []
    if own:
        names = "; ".join(f"{line.number} {line.challenge}" for line in own)
        out.append(f"OPEN: {view.title.upper()}, {len(own)} OPEN: {names}")
    titles = {line.key: line.title for line in view.lists}
    others = [line for line in view.open_lines if line not in own and not view.is_drill]
    beside = [
        f"{titles.get(flow, flow)} {len(list(those))}"
        for flow, those in groupby(others, key=lambda line: line.key.partition(".")[0])
    ]
    if beside:
        out.append(f"OPEN BESIDE THIS LIST: {', '.join(beside)}")
    return out


def _ways_on(view: View) -> list[str]:
    out = ["MAY BE PUT OFF: answer put off"] if view.may_put_off else []
    if not (view.unmet_why or view.blocked):
        return out
    if view.accept_class == "maintenance only":
        out.append("NOBODY ACCEPTS THIS: only a maintenance entry clears it")
    elif view.accept_class == "emergency only":
        out.append('MAY BE ACCEPTED: emergency only; answer accept emergency "REASON"')
    elif view.accept_class:
        out.append(f'MAY BE ACCEPTED: {view.accept_class}; answer accept "REASON", one of these')
        out.extend(f"REASON {n}: {reason}" for n, reason in enumerate(view.reasons, 1))
    return out


def _forms(gauge: Gauge | None, listen: Listen) -> list[str]:
    """A side is called only of a limit with one bound: it says nothing of the other one."""
    forms = []
    if listen.thresholds and gauge is not None:
        if gauge.low is None and gauge.high is not None:
            forms.append("below and a number, for a value that is under it")
        elif gauge.high is None and gauge.low is not None:
            forms.append("above and a number, for a value that is over it")
    return [*forms, "drop and a number, for how far it fell"] if listen.drops else forms
