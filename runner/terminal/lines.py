"""The words of the plain mode: one labelled line for everything that the screen would show.

Rules: a line says its kind first; nothing is said twice while it has not changed; every state is
said in words, in the order in which a person needs it: bands, place, what happened, what runs, and
the call last, since it is what is answered. Pure functions from two views to lines.
"""

from __future__ import annotations

from collections.abc import Sequence

from runner.engine.effects import Listen, Prompt, Running, View
from runner.terminal.calllines import call, detail, still_to_read
from runner.terminal.clock import Clock
from runner.terminal.document_groups import approval_text
from runner.terminal.pages_day import list_status
from runner.terminal.pages_first import SAFETY_NOTE
from runner.terminal.parts import band_words
from runner.terminal.shell import Document
from runner.terminal.wordpages import document_lines

HELP = (
    "WORDS: the response, a number, or a choice as it stands; not so; say again; stand by;"
    " continue; put off; unable; affirm; disregard; confirm; correction VALUE; correct STEP VALUE",
    "WORDS: drill TITLE; memory items done; discontinue; mark take-off; mark landing; timer NAME;"
    ' condition lost; reading NAME VALUE; snag WORDS; accept "REASON"; accept emergency "REASON"',
    "WORDS: tick ITEM; fault ITEM, each also by its number; turn to LIST; hand over;"
    " on paper 31 to 47 revision 6;"
    ' crew ROLE: NAME; happened WHAT; maintenance "ENTRY"; next flight; end of day; page read',
    "WORDS: a role before the words says who speaks (copilot: released); leave run open ends this"
    " program and leaves the run to be resumed; keys says this again",
    "WORDS: pages: lists; flights; open items; snags; crew; drills; memory items; documents; card;"
    " copy page; receipt",
)


def opening(
    view: View, registration: str, documents: Sequence[Document] = (), machine: Sequence[str] = ()
) -> list[str]:
    """The first lines: the mode of the program first, the safety note last, where no long list of
    documents pushes it out of sight."""
    approved = approval_text(documents, view.modes)
    return [
        "MODE: plain lines, keyboard words; an empty line answers nothing; keys lists the words",
        f"AIRCRAFT: {view.aircraft} {registration}".rstrip()
        + f", {view.operator}, card revision {view.revision}",
        *([f"APPROVAL: {approved}"] if approved else []),
        *(f"CREW: {role} {name}" for role, name in view.crew),
        *(f"MACHINE: {note}" for note in machine),
        *(document_lines(documents) or [f"LIST OF THE DAY: {one.title}" for one in view.lists]),
        f"SAFETY: {SAFETY_NOTE}",
    ]


def changed(
    old: View | None, new: View, listen: Listen, clock: Clock, told: Sequence[str] = ()
) -> list[str]:
    """What a new view says that the old one did not. `told` are the texts that were said with it:
    what they name is not said again."""
    out: list[str] = []
    if new.handling and (old is None or old.handling != new.handling):
        out.append(f"HANDLING: {new.handling}")
    if old is None or old.flight != new.flight:
        out.append(f"FLIGHT: {new.flight}, {clock.utc()}")
    first = new.prompt is Prompt.FIRST_PAGE
    before = (old.flow, old.is_drill) if old and old.prompt is not Prompt.FIRST_PAGE else None
    if new.title and not first and before != (new.flow, new.is_drill):
        out.append(heading(new))
    asked = old is None or old.ask != new.ask or old.prompt != new.prompt
    if asked and new.prompt is Prompt.MEMORY_ITEMS:
        # Before everything that can wait.
        out.extend(call(new, listen, clock))
    out.extend(f"LIST STATUS: {t}" for t in _lists(old, new, clock, told))
    out.extend(_news("FLAG", old.flags if old else (), new.flags))
    out.extend(_news("SNAG", old.snags if old else (), new.snags))
    out.extend(_news("DEFECT", old.defects if old else (), new.defects))
    out.extend(_put_off(old, new))
    out.extend(_marks(old, new, clock))
    out.extend(_running(old, new, clock, told))
    if new.drill_hint and (old is None or old.drill_hint != new.drill_hint):
        out.append(f"DRILL FOR THIS: {new.drill_hint}")
    if asked and new.prompt is not Prompt.MEMORY_ITEMS:
        out.extend(call(new, listen, clock))
    elif old is not None and first and old.unread != new.unread:
        out.append(still_to_read(new))
    elif old is not None and detail(old) != detail(new):
        out.extend(detail(new))
    return out


def heading(view: View) -> str:
    """The line of the list or drill that is entered."""
    kind = "DRILL" if view.is_drill else "LIST"
    return f"{kind}: {view.title.upper()}, {view.required} in this {kind.lower()}"


def place(view: View) -> tuple[object, ...]:
    """What a call is about: lines that were said at the same place are not said again."""
    number = 0 if view.prompt is Prompt.STATION else view.number
    return (view.flow, view.is_drill, view.prompt, number, view.challenge if number else "")


def _news(name: str, old: tuple[str, ...], new: tuple[str, ...]) -> list[str]:
    return [f"{name}: {text}" for text in new if text not in old]


def _lists(old: View | None, new: View, clock: Clock, told: Sequence[str]) -> list[str]:
    before = {line.key: line.status for line in old.lists} if old else {}
    return [
        f"{line.title}, {list_status(line, clock)}" + (f" until {line.until}" if line.until else "")
        for line in new.lists
        if line.status not in ("open", "current", "to come")
        and before.get(line.key) != line.status
        and not any(line.title.upper() in text for text in told)
    ]


def _put_off(old: View | None, new: View) -> list[str]:
    before = {line.key or line.number for line in old.put_off} if old else set()
    return [
        f"PUT OFF: {line.number} {line.challenge}" + (f", back {line.why}" if line.why else "")
        for line in new.put_off
        if (line.key or line.number) not in before
    ]


def _marks(old: View | None, new: View, clock: Clock) -> list[str]:
    before = old.marks if old else ()
    return [f"MARK: {what} {clock.utc(at)}" for what, at in new.marks if (what, at) not in before]


def _running(old: View | None, new: View, clock: Clock, told: Sequence[str]) -> list[str]:
    before = {(one.label, one.began): one for one in old.running} if old else {}
    out: list[str] = []
    for one in new.running:
        known = before.pop((one.label, one.began), None)
        if known is None or (known.over, known.muted) != (one.over, one.muted):
            out.append(running(one, clock))
    out.extend(
        f"{_kind(one)}: {one.label}, ended"
        for one in before.values()
        if not any(text.endswith(one.label) for text in told)
    )
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
