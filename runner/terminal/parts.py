"""The parts of a list's screen: bands, heading, challenge, limit, neighbours, what runs.

Rules: each function gives one part from the view, the clock and a width; nothing here knows the
height; a word says what a colour would; the current challenge is the only big text.
"""

from __future__ import annotations

from runner.engine.effects import Line, Prompt, Running, View, Voice
from runner.terminal.aside import Aside, Message
from runner.terminal.blocks import large
from runner.terminal.clock import Clock
from runner.terminal.fill import NEVER, Part
from runner.terminal.rows import Row, Rows, Span, Tone, block, cells, clip, ends, flow

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
MESSAGE_LABELS = {
    Voice.ECHO: "HEARD",
    Voice.REFUSED: "REFUSED",
    Voice.TIMER: "TIME",
    Voice.CAUTION: "CAUTION",
    Voice.REMARK: "NOTE",
    Voice.READ_BACK: "READ BACK",
}


def band_words(view: View, bands: tuple[str, ...]) -> tuple[str, ...]:
    """The fixed bands of a run, once each: modes, in flight, and those of the host."""
    words = [MODE_BANDS.get(mode, mode.upper()) for mode in view.modes]
    if view.airborne:
        words.append("IN FLIGHT")
    words.extend(band.upper() for band in bands)
    return tuple(dict.fromkeys(word for word in words if word))


def band_rows(words: tuple[str, ...], width: int) -> Rows:
    """The bands, as many on a row as fit whole."""
    rows: list[Row] = []
    line = ""
    for word in words:
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
    """A step before or after: number, challenge, and the answer or status that stands there."""
    right = line.answer if line.status == "answered" else line.status.upper()
    if line.status == "answered" and not right:
        right = "ANSWERED"
    if line.status == "open":
        right = line.expected
    if line.why and line.status not in ("answered", "open"):
        right = f"{right}: {line.why}"
    left = f"  {line.number} {line.challenge}"
    if cells(left) + cells(right) + 2 <= width:
        return ends(left, right, width, Tone.SMALL, Tone.SMALL)
    return block(f"{left.strip()}: {right}", width - 2, Tone.SMALL, 4) if right else ()


def neighbours(lines: tuple[Line, ...], width: int, last: bool) -> tuple[Rows, ...]:
    """Forms with none, one, two ... neighbours, nearest ones first to stand."""
    forms: list[Rows] = [()]
    for count in range(1, min(6, len(lines)) + 1):
        near = lines[-count:] if last else lines[:count]
        forms.append(tuple(row for line in near for row in neighbour(line, width)))
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
    """The challenge with its card number: plain, and below that in large letters if they fit."""
    if view.prompt is Prompt.STATION:
        return ((),)
    number = f"{view.number} " if view.number else ""
    words = view.challenge.upper()
    plain = block(number + words, width, Tone.BIG, len(number))
    drawn = large(words, width - len(number), 2) if blocks else ()
    if not drawn:
        return (plain,)
    indent = " " * len(number)
    return (plain, (*plain, *(plain_row(indent + row, Tone.BIG) for row in drawn)))


def expected_rows(view: View, width: int) -> Rows:
    """Who answers, and with what."""
    rows: list[Row] = []
    who = answers_by(view)
    what = view.response
    if view.options or (view.gauge is not None and what == view.gauge.limit):
        what = ""
    if view.prompt in (Prompt.WAITING, Prompt.STATION):
        return ()
    if view.prompt is Prompt.CAUTION and not what:
        what = "ROGER, or its key words"
    if what and cells(what) + cells(who) + 2 <= width:
        rows.append((Span(f"{who}: "), Span(what, Tone.STRONG)))
    else:
        rows.extend(block(f"{who}: {what}" if what else f"{who} ANSWERS", width))
    if view.who == "both" and view.waiting_for:
        numbers = {role: n for n, (role, _) in enumerate(view.crew, 1)}
        to_come = (f"{numbers.get(r, '')} {r.upper()}".strip() for r in view.waiting_for)
        rows.extend(flow(("TO LOOK:", *to_come), width))
    if view.critical:
        rows.extend(block("CRITICAL: by key, or by its full words", width))
    return tuple(rows)


def running_line(one: Running, clock: Clock) -> tuple[str, Tone]:
    """A wait or a by-time with its remaining time."""
    if one.maximum:
        if one.over or clock.now >= one.ends:
            tone = Tone.TEXT if one.muted else Tone.WARNING
            word = "muted" if one.muted else f"by {clock.since(one.ends)}"
            return f"TIME OVER: {one.label}, {word}", tone
        muted = ", muted" if one.muted else ""
        return f"BY-TIME {one.label}: {clock.left(one.ends)} LEFT{muted}", Tone.STRONG
    if clock.now >= one.ends:
        return f"WAIT {one.label}: DONE", Tone.STRONG
    return f"WAIT {one.label}: {clock.left(one.ends)} LEFT", Tone.STRONG


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


def message_parts(view: View, aside: Aside, width: int) -> list[Part]:
    """Why nothing goes on, what was read back, what was said, what a key did not do."""
    parts: list[Part] = []

    def add(name: str, text: str, tone: Tone, yields: int = NEVER) -> None:
        rows = block(text, width, tone, 2)
        parts.append(Part(name, (rows,), yields=yields))

    if view.read_back:
        add("read back", f"READ BACK: {view.read_back}", Tone.STRONG)
    if view.unmet_why:
        shown = view.gauge is not None and bool(view.gauge.value)
        add("unmet", f"NOT MET: {view.unmet_why}", Tone.CAUTION, 26 if shown else NEVER)
    if view.blocked:
        add("blocked", f"HELD: {view.blocked}", Tone.CAUTION)
    told = (view.read_back, view.unmet_why, view.blocked)
    for said in aside.messages:
        if said.text not in told and not _stands_already(said, view):
            add("said", _label(said), _tone(said), _yields(said, bool(view.unmet_why)))
    if view.drill_hint:
        over = any(one.over and not one.muted for one in view.running)
        text = f"DRILL FOR THIS: {view.drill_hint}"
        add("drill hint", text, Tone.WARNING if over else Tone.TEXT, NEVER if over else 3)
    if aside.keys.note:
        add("key note", aside.keys.note, Tone.STRONG)
    return parts


def _stands_already(said: Message, view: View) -> bool:
    """Whether the screen shows in its own place what was said."""
    return (
        (said.kind is Voice.READ_BACK and bool(view.read_back))
        or (said.kind is Voice.CAUTION and view.prompt is Prompt.CAUTION)
        or (said.kind is Voice.DRILL and view.prompt is Prompt.MEMORY_ITEMS)
    )


def labelled(name: str, said: str) -> str:
    """A text behind its label, unless it begins with it."""
    return said if not name or said.upper().startswith(f"{name}:") else f"{name}: {said}"


def _label(said: Message) -> str:
    return labelled(MESSAGE_LABELS.get(said.kind, ""), said.text)


def _tone(said: Message) -> Tone:
    if said.urgent:
        return Tone.WARNING
    return Tone.CAUTION if said.kind in (Voice.REFUSED, Voice.CAUTION) else Tone.TEXT


def _yields(said: Message, unmet: bool) -> int:
    if said.urgent or (said.kind is Voice.REFUSED and not unmet):
        return NEVER
    return {Voice.ECHO: 1, Voice.STATUS: 1, Voice.REMARK: 4, Voice.OUTCOME: 5}.get(said.kind, 24)


def option_rows(view: View, width: int, numbered: bool) -> Rows:
    """The choices: with their numbers, or behind the key that opens them."""
    if not view.options:
        return ()
    numbers = [f"{n} {text}" for n, text in enumerate(view.options, 1)]
    if not numbered:
        return flow(("PRESS . THEN", *numbers), width)
    return flow(numbers, width, Tone.STRONG)


def plain_row(text: str, tone: Tone = Tone.TEXT) -> Row:
    """One span."""
    return (Span(text, tone),)


def clipped(text: str, width: int, tone: Tone = Tone.TEXT) -> Row:
    """One span of a text that stands in full elsewhere."""
    return (Span(clip(text, width), tone),)
