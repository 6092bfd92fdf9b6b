"""The parts of a list's screen: bands, heading, challenge, limit, neighbours, what runs.

Rules: each function gives one part from the view, the clock and a width; nothing here knows the
height; a word says what a colour would; the current challenge is the only big text.
"""

from __future__ import annotations

from collections.abc import Sequence

from runner.engine.effects import Line, Prompt, Running, View
from runner.terminal.aside import Aside
from runner.terminal.blocks import NARROW, SPACE, large
from runner.terminal.clock import Clock
from runner.terminal.fill import Part
from runner.terminal.rows import Row, Rows, Span, Tone, block, cells, ends, flow, led
from runner.terminal.statuswords import reason, shown

NAMED_FROM = 60
"""Columns from which there is room for a margin that says which neighbours are next."""
MODE_BANDS = {
    "crew": "",
    "demonstration": "DEMONSTRATION",
    "scripted": "SCRIPTED",
    "draft": "DRAFT, NOT APPROVED",
    "rehearsal": "REHEARSAL",
    "solo": "SOLO: NOT CREW-VERIFIED",
    "single pilot": "SINGLE PILOT",
    "single-pilot": "SINGLE PILOT",
    "only": "ONE LIST ONLY",
}


def band_words(view: View, bands: tuple[str, ...]) -> tuple[str, ...]:
    """The fixed bands of a run, once each: modes, in flight, and those of the host."""
    words = [MODE_BANDS.get(mode, mode.upper()) for mode in view.modes]
    if view.airborne:
        words.append("IN FLIGHT")
    words.extend(band.upper() for band in bands)
    return tuple(dict.fromkeys(word for word in words if word))


def band_rows(words: tuple[str, ...], width: int, alert: tuple[str, ...] = ()) -> Rows:
    """The bands, as many on a row as fit whole; one of `alert` stands alone, as a caution."""
    rows: list[Row] = [
        row for word in words if word in alert for row in block(word, width, Tone.CAUTION)
    ]
    line = ""
    for word in words:
        if word in alert:
            continue
        joined = f"{line} | {word}" if line else word
        if cells(joined) <= width:
            line = joined
            continue
        rows.append((Span(line, Tone.BAND),))
        line = word
    if line:
        rows.append((Span(line, Tone.BAND),))
    return tuple(rows)


def heading(view: View, clock: Clock, width: int) -> Part:
    """List or drill, how many of the required steps are done, the time, the section."""
    name = f"DRILL: {view.title}".upper() if view.is_drill else view.title.upper()
    tone = Tone.WARNING if view.is_drill else Tone.STRONG
    short = f"{view.done} OF {view.required}"
    done = f"{short} IN THIS {'DRILL' if view.is_drill else 'LIST'}"
    texts = (short, done, *((f"{done}  {clock.utc()}",) if width < 60 else ()))
    forms = [ends(name, text, width, tone, Tone.TEXT) for text in texts]
    while len(forms) > 1 and len(forms[1]) <= len(forms[0]):
        forms.pop(0)
    if view.section:
        forms.append((*forms[-1], *block(view.section, width)))
    return Part("heading", tuple(forms), rank=35)


def identity(view: View, aside: Aside, clock: Clock, width: int) -> Rows:
    """Aircraft, flight, who has which duty, and the time: where there is room."""
    left = f"{view.aircraft} {aside.registration}".strip()
    crew = ", ".join(f"{role} {name}" for role, name in view.crew)
    middle = f"flight {view.flight}" + (f"  handling: {view.handling}" if view.handling else "")
    return (
        *ends(f"{left}  {middle}", clock.utc(seconds=True), width, Tone.SMALL, Tone.SMALL),
        *(block(crew, width, Tone.SMALL) if crew else ()),
    )


def neighbour(line: Line, width: int) -> Rows:
    """A step before or after: number, challenge, and the answer or status that stands there.

    What is still to come has nothing at its right: only what was answered looks answered.
    """
    left = f"{line.number} {line.challenge}"
    if line.status == "open":
        return block(left, width, Tone.SMALL, 4)
    if line.status == "answered":
        right = line.answer or shown("answered")
    elif line.status == "accepted":
        right = f"{line.answer}, " if line.answer else ""
        right = f"{right}{shown('accepted')}: {line.why}"
    else:
        told = reason(line.why) if line.why != "paper" else ""
        status = shown(line.status)
        right = f"{status}: {told}" if told else status
    return led(left, right, width, Tone.SMALL)


def neighbours(lines: tuple[Line, ...], width: int, last: bool) -> tuple[Rows, ...]:
    """Forms with none, one, two ... neighbours, nearest ones first to stand."""
    forms: list[Rows] = [()]
    label = "NEXT " if not last and width >= NAMED_FROM else ""
    margin = len("NEXT ") if width >= NAMED_FROM else 0
    for count in range(1, min(6, len(lines)) + 1):
        near = lines[-count:] if last else lines[:count]
        rows = [row for line in near for row in neighbour(line, width - margin)]
        named = [
            (Span(label if not n and label else " " * margin), *row) for n, row in enumerate(rows)
        ]
        forms.append(tuple(named if margin else rows))
    return tuple(forms)


def answers_by(view: View) -> str:
    """Who answers: the duty or the person, and who that is now."""
    who = view.who or "handling"
    if who == "both":
        return "BOTH LOOK"
    names = dict(view.crew)
    role = view.handling if who == "handling" else who
    if who == "monitoring":
        others = [r for r in ("commander", "copilot") if r in names and r != view.handling]
        role = others[0] if others else ""
    name = names.get(role, "")
    if role and role != who:
        return f"{who.upper()} ({role.upper()})"
    return f"{who.upper()} {name}".strip()


def challenge_rows(view: View, width: int, blocks: bool) -> tuple[Rows, ...]:
    """The challenge with its card number: plain, and below that in large letters if they fit; on
    one line, from the left edge on and with less between the words, rather than on two."""
    if view.prompt is Prompt.STATION:
        return ((),)
    number = f"{view.number} " if view.number else ""
    words = view.challenge.upper()
    plain = block(number + words, width, Tone.BIG, len(number))
    indent = " " * len(number)
    forms = [plain]
    ways = ((indent, 1, SPACE), ("", 1, SPACE), ("", 1, NARROW), (indent, 2, SPACE))
    for margin, lines, space in ways if blocks else ():
        drawn = large(words, width - len(margin), lines, space)
        if drawn:
            forms.append((*plain, *(plain_row(margin + row, Tone.BIG) for row in drawn)))
            break
    return tuple(forms)


def expected_rows(view: View, width: int) -> Rows:
    """Who answers, and with what: the answer as large as the challenge."""
    rows: list[Row] = []
    who = answers_by(view)
    what = view.response
    if view.options or (
        view.gauge is not None and what.upper() in (view.gauge.limit.upper(), _unit(view))
    ):
        what = ""
    if view.prompt in (Prompt.WAITING, Prompt.STATION):
        return ()
    if view.prompt is Prompt.CAUTION and not what:
        what = "ROGER, or its key words"
    if what and cells(what) + cells(who) + 2 <= width:
        rows.append((Span(f"{who}: "), Span(what, Tone.BIG)))
    elif what:
        rows.extend((*block(what, width, Tone.BIG, 2), *block(f"{who} ANSWERS", width)))
    else:
        rows.extend(block(f"{who} ANSWERS", width))
    if view.who == "both" and view.waiting_for:
        numbers = {role: n for n, (role, _) in enumerate(view.crew, 1)}
        to_come = (f"{numbers.get(r, '')} {r.upper()}".strip() for r in view.waiting_for)
        rows.extend(flow(("TO LOOK:", *to_come), width))
    if view.critical:
        rows.extend(block("CRITICAL: by key, or by its full words", width))
    return tuple(rows)


def _unit(view: View) -> str:
    return view.gauge.unit.upper() if view.gauge is not None else ""


def running_line(one: Running, clock: Clock) -> tuple[str, Tone]:
    """A wait or a by-time with its remaining time."""
    if one.maximum:
        if one.over or clock.now >= one.ends:
            tone = Tone.TEXT if one.muted else Tone.WARNING
            since = "MUTED" if one.muted else clock.since(one.ends)
            return f"TIME OVER {since}: {one.label}", tone
        muted = ", MUTED" if one.muted else ""
        return f"BY-TIME {clock.left(one.ends)} LEFT{muted}: {one.label}", Tone.STRONG
    if clock.now >= one.ends:
        return f"WAIT DONE: {one.label}", Tone.STRONG
    return f"WAIT {clock.left(one.ends)} LEFT: {one.label}", Tone.STRONG


def large_wait(view: View) -> Running | None:
    """The wait that the screen shows large: the one that is waited for."""
    waits = [one for one in view.running if not one.maximum]
    if view.prompt is not Prompt.WAITING or not waits:
        return None
    return max(waits, key=lambda one: one.ends)


def running_rows(view: View, clock: Clock, width: int) -> tuple[Rows, ...]:
    """The most urgent one at least, then all."""
    shown = large_wait(view)
    order = sorted(
        (one for one in view.running if one is not shown), key=lambda r: (not r.maximum, r.ends)
    )
    rows: list[Row] = []
    first: Rows = ()
    for number, one in enumerate(order):
        text, tone = running_line(one, clock)
        if not number and len(order) > 1:
            first = block(f"{text} (+{len(order) - 1} MORE)", width, tone, 2)
        rows.extend(block(text, width, tone, 2))
    return (first, tuple(rows)) if first else (tuple(rows),)


def put_off_rows(view: View, width: int) -> tuple[Rows, ...]:
    """How many are put off and which comes back next; then each with where it comes back."""
    if not view.put_off:
        return ()
    one = view.put_off[0]
    why = f", back {one.why}" if one.why else ""
    many = f"PUT OFF ({len(view.put_off)}): " if len(view.put_off) > 1 else "PUT OFF: "
    short = block(f"{many}{one.number} {one.challenge}{why}", width, Tone.TEXT, 2)
    full = [
        row
        for line in view.put_off
        for row in block(
            f"PUT OFF: {line.number} {line.challenge}" + (f", back {line.why}" if line.why else ""),
            width,
            Tone.TEXT,
            2,
        )
    ]
    return (short, tuple(full)) if len(view.put_off) > 1 else (short,)


def typed_rows(aside: Aside, width: int) -> tuple[Rows, ...]:
    """The digits being typed, large where there is room; the input row has them anyway."""
    typed = aside.keys.typed
    drawn = large(typed, width, 1) if typed and aside.blocks else ()
    return ((), tuple(plain_row(row, Tone.BIG) for row in drawn)) if drawn else ((),)


def option_rows(view: View, width: int, numbered: bool) -> tuple[Rows, ...]:
    """The choices: with their numbers, or behind the key that opens them; one a row where there is
    room."""
    if not view.options:
        return ((),)
    numbers = [f"{n} {text}" for n, text in enumerate(view.options, 1)]
    if not numbered:
        return (flow(("PRESS . THEN:", *numbers), width),)
    close = keyed(flow(numbers, width, Tone.STRONG), numbers)
    each = tuple(
        tuple(span._replace(key=str(n)) for span in row)
        for n, item in enumerate(numbers, 1)
        for row in block(item, width, Tone.STRONG, 2)
    )
    return (close, each) if len(each) > len(close) else (close,)


def keyed(rows: Rows, items: Sequence[str]) -> Rows:
    """Rows of `flow` in which each item that stands whole carries the digit it begins with."""
    out: list[Row] = []
    for row in rows:
        spans: list[Span] = []
        for span in row:
            rest = span.text
            for item in items:
                before, found, after = rest.partition(item)
                if not found or before.strip():
                    continue
                spans += [Span(before, span.tone)] if before else []
                spans.append(Span(item, span.tone, item.split(" ", 1)[0]))
                rest = after
            spans += [Span(rest, span.tone)] if rest else []
        out.append(tuple(spans))
    return tuple(out)


def plain_row(text: str, tone: Tone = Tone.TEXT) -> Row:
    """One span."""
    return (Span(text, tone),)
