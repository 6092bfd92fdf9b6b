"""The words of the plain mode: one labelled line for everything that the screen would show.

Rules: a line says its kind first; nothing is said twice while it has not changed; every state is
said in words, in the order in which a person needs it: bands, place, call, limit, choices, and then
what runs and what is put off. Pure functions from two views to lines.
"""

from __future__ import annotations

from runner.engine.effects import Line, Listen, Prompt, Running, View, Voice
from runner.terminal.clock import Clock
from runner.terminal.gauge import distance, with_unit
from runner.terminal.keys import each_reads
from runner.terminal.pages_day import SAFETY_NOTE, list_status
from runner.terminal.parts import answers_by, band_words

LABELS = {
    Voice.ECHO: "HEARD",
    Voice.READ_BACK: "READ BACK",
    Voice.OUTCOME: "RESULT",
    Voice.REFUSED: "REFUSED",
    Voice.TIMER: "TIME",
    Voice.CAUTION: "CAUTION",
    Voice.REMARK: "NOTE",
    Voice.DRILL: "DRILL",
    Voice.STATUS: "STATE",
}
HELP = (
    "WORDS: the response, a number, or a choice as it stands; not so; say again; stand by;"
    " continue; put off; unable; affirm; disregard; confirm; correction VALUE; correct STEP VALUE",
    "WORDS: drill TITLE; memory items done; discontinue; mark take-off; mark landing; timer NAME;"
    ' condition lost; reading NAME VALUE; snag WORDS; accept "REASON"; accept emergency "REASON"',
    "WORDS: tick ITEM; fault ITEM; turn to LIST; on paper 31 to 47 revision 6; hand over;"
    ' crew ROLE: NAME; happened WHAT; maintenance "ENTRY"; next flight; end of day; page read',
    "WORDS: a role before the words says who speaks (copilot: released); leave run open ends this"
    " program and leaves the run to be resumed; keys says this again",
)


def opening(view: View, registration: str) -> list[str]:
    """The first lines: the mode of the program first."""
    return [
        "MODE: plain lines, keyboard words; an empty line answers nothing; keys lists the words",
        f"AIRCRAFT: {view.aircraft} {registration}".rstrip()
        + f", {view.operator}, card revision {view.revision}",
        *(f"CREW: {role} {name}" for role, name in view.crew),
        f"SAFETY: {SAFETY_NOTE}",
    ]


def changed(old: View | None, new: View, listen: Listen, clock: Clock) -> list[str]:
    """What a new view says that the old one did not."""
    out: list[str] = []
    if new.handling and (old is None or old.handling != new.handling):
        out.append(f"HANDLING: {new.handling}")
    if old is None or old.flight != new.flight:
        out.append(f"FLIGHT: {new.flight}, {clock.utc()}")
    if old is None or (old.flow, old.is_drill) != (new.flow, new.is_drill):
        kind = "DRILL" if new.is_drill else "LIST"
        if new.title:
            out.append(f"{kind}: {new.title.upper()}, {new.required} in this {kind.lower()}")
    out.extend(f"LIST STATUS: {t}" for t in _lists(old, new, clock))
    out.extend(_news("FLAG", old.flags if old else (), new.flags))
    out.extend(_news("SNAG", old.snags if old else (), new.snags))
    out.extend(_news("DEFECT", old.defects if old else (), new.defects))
    out.extend(_put_off(old, new))
    out.extend(_marks(old, new, clock))
    out.extend(_running(old, new, clock))
    if new.drill_hint and (old is None or old.drill_hint != new.drill_hint):
        out.append(f"DRILL FOR THIS: {new.drill_hint}")
    if old is None or old.ask != new.ask or old.prompt != new.prompt:
        out.extend(call(new, listen, clock))
    elif old.gauge != new.gauge or old.unmet_why != new.unmet_why or old.blocked != new.blocked:
        out.extend(_detail(new))
    return out


def call(view: View, listen: Listen, clock: Clock) -> list[str]:
    """The current question, whole."""
    if view.prompt is Prompt.FIRST_PAGE:
        unread = ", ".join(view.unread) or "nobody"
        read = "page read"
        if each_reads(view) and view.unread:
            read = f"each with their role: {view.unread[0]}: page read"
        lists = [f"LIST OF THE DAY: {line.title}" for line in view.lists]
        return [
            *lists,
            "PAGE: compare the registration with the placard, read all of this; "
            "another one stands there: wrong aircraft",
            f"PAGE: still to read it: {unread}; answer {read}",
        ]
    if view.prompt is Prompt.CLOSED:
        return [
            f"CLOSED: no list is left, {len(view.open_lines) or 'none'} open, {clock.utc()}",
            *(f"SNAG TO WRITE UP: {text}" for text in view.snags),
            *(f"DEFECT TO WRITE UP: {text}" for text in view.defects),
            "CALL: end of day? answer end of day, or next flight",
        ]
    if view.prompt is Prompt.STANDBY:
        place = view.standby_place or f"{view.number} {view.challenge}"
        since = clock.utc(view.standby_since) if view.standby_since is not None else ""
        return [f"STANDBY: held at {place}, since {since}; answer continue", *_options(view)]
    if view.prompt is Prompt.MEMORY_ITEMS:
        items = [f"MEMORY ITEM {n}: {text}" for n, text in enumerate(view.memory, 1)]
        return [*items, "CALL: memory items done?"]
    kind = "drill" if view.is_drill else "list"
    progress = f"{view.done} of {view.required} in this {kind}"
    number = f"{view.number} " if view.number else ""
    arrow = f" -> {view.response}" if view.response else ""
    out: list[str] = []
    if view.section:
        out.append(f"SECTION: {view.section}")
    out.append(f"CALL {number}{answers_by(view)}: {view.challenge}{arrow} ({progress})")
    if view.critical:
        out.append("CRITICAL: answered by its full words")
    if view.who == "both" and view.waiting_for:
        out.append(f"BOTH LOOK: still to answer: {', '.join(view.waiting_for)}")
    out.extend(_detail(view))
    out.extend(_options(view))
    if view.prompt is Prompt.STATION:
        out.extend(f"ITEM {n}: {_item(line)}" for n, line in enumerate(view.items, 1))
    if view.open_lines and view.prompt is Prompt.CLOSING:
        names = "; ".join(f"{line.number} {line.challenge}" for line in view.open_lines)
        out.append(f"OPEN: {view.title.upper()}, {len(view.open_lines)} OPEN: {names}")
    if view.may_put_off:
        out.append("MAY BE PUT OFF: answer put off")
    if view.accept_class == "maintenance only" and (view.unmet_why or view.blocked):
        out.append("NOBODY ACCEPTS THIS: only a maintenance entry clears it")
    elif view.accept_class and (view.unmet_why or view.blocked):
        out.append(f"MAY BE ACCEPTED: {view.accept_class}")
        out.extend(f"REASON {n}: {reason}" for n, reason in enumerate(view.reasons, 1))
    if listen.thresholds or listen.drops:
        forms = [w for w, on in (("below N", listen.thresholds), ("drop N", listen.drops)) if on]
        out.append(f"ALSO TAKEN: {', '.join(forms)}")
    return out


def _item(line: Line) -> str:
    status = "" if line.status == "open" else f", {line.status.upper()} {line.answer}".rstrip()
    return f"{line.challenge} -> {line.expected}{status}"


def _detail(view: View) -> list[str]:
    out: list[str] = []
    gauge = view.gauge
    if gauge is not None:
        out.append(f"LIMIT: {gauge.limit}" if gauge.limit else f"READ IN: {gauge.unit}")
        if gauge.value:
            away = distance(gauge)
            far = f", {away}" if away else ""
            out.append(f"LAST VALUE: {with_unit(gauge)}{far}")
    if view.read_back:
        out.append("AFFIRM WANTED: answer affirm, not so, or the value again")
    if view.unmet_why:
        out.append(f"NOT MET: {view.unmet_why}")
    if view.blocked:
        out.append(f"HELD: {view.blocked}")
    return out


def _options(view: View) -> list[str]:
    return [f"CHOICE {n}: {text}" for n, text in enumerate(view.options, 1)]


def _news(name: str, old: tuple[str, ...], new: tuple[str, ...]) -> list[str]:
    return [f"{name}: {text}" for text in new if text not in old]


def _lists(old: View | None, new: View, clock: Clock) -> list[str]:
    before = {line.key: line.status for line in old.lists} if old else {}
    return [
        f"{line.title}, {list_status(line, clock)}"
        for line in new.lists
        if line.status not in ("open", "current", "to come") and before.get(line.key) != line.status
    ]


def _put_off(old: View | None, new: View) -> list[str]:
    before = {line.number for line in old.put_off} if old else set()
    now = {line.number for line in new.put_off}
    back = [f"COMES BACK: {n}" for n in sorted(before - now)]
    return back + [
        f"PUT OFF: {line.number} {line.challenge}" + (f", back {line.why}" if line.why else "")
        for line in new.put_off
        if line.number not in before
    ]


def _marks(old: View | None, new: View, clock: Clock) -> list[str]:
    before = old.marks if old else ()
    return [f"MARK: {what} {clock.utc(at)}" for what, at in new.marks if (what, at) not in before]


def _running(old: View | None, new: View, clock: Clock) -> list[str]:
    before = {(one.label, one.began): one for one in old.running} if old else {}
    out: list[str] = []
    for one in new.running:
        known = before.pop((one.label, one.began), None)
        if known is None or (known.over, known.muted) != (one.over, one.muted):
            out.append(running(one, clock))
    out.extend(f"{_kind(one)}: {one.label}, ended" for one in before.values())
    return out


def _kind(one: Running) -> str:
    return "BY-TIME" if one.maximum else "WAIT"


def running(one: Running, clock: Clock) -> str:
    """ "WAIT: Clutch oil drains, 1:23 left"."""
    muted = ", muted" if one.muted else ""
    if one.maximum and (one.over or clock.now >= one.ends):
        return f"TIME OVER: {one.label}{muted}"
    return f"{_kind(one)}: {one.label}, {clock.left(one.ends)} left{muted}"


def bands_line(view: View, bands: tuple[str, ...]) -> str:
    """All bands in one line."""
    words = band_words(view, bands)
    return "BAND: " + "; ".join(words) if words else "BAND: none"


def times_said(view: View, before: int, clock: Clock) -> list[str]:
    """Remaining times worth saying between run time `before` and now: whole minutes, and 10 s."""
    out: list[str] = []
    for one in view.running:
        marks = [one.ends - 10_000] if not one.maximum else [one.ends]
        length = one.ends - one.began
        marks += [one.ends - m * 60_000 for m in range(1, min(length // 60_000 + 1, 600))]
        if not one.over and any(before < mark <= clock.now for mark in marks):
            out.append(running(one, clock))
    return out
