"""The bottom of the screen: what is being typed, or what the keys of this moment do.

Rules: always there, never more than three rows; a hint says first what is done and then the key,
and carries that key, so that a press on it is the key; what answers stands first and leaves last.
"""

from __future__ import annotations

from typing import NamedTuple

from runner.engine.effects import Prompt, View
from runner.terminal.aside import Aside
from runner.terminal.attention import STAND_BY_KEY, waits_long
from runner.terminal.keymap import called
from runner.terminal.keys import (
    begins_below_zero,
    both_look,
    each_reads,
    numbered_readers,
    seats,
    takes_number,
)
from runner.terminal.keystate import Page
from runner.terminal.rows import Row, Rows, Span, Tone, block, cells, wrap
from runner.terminal.voicekeys import TALK
from runner.terminal.wantedwords import wanted

_YES = {
    Prompt.FIRST_PAGE: "READ",
    Prompt.ASKING: "AS SHOWN",
    Prompt.UNMET: "AS SHOWN",
    Prompt.WAITING: "AS SHOWN",
    Prompt.READ_BACK: "AFFIRM",
    Prompt.CLOSING: "AS SHOWN",
    Prompt.CAUTION: "ROGER",
    Prompt.MEMORY_ITEMS: "ITEMS DONE",
    Prompt.STANDBY: "GO ON",
    Prompt.CLOSED: "END OF DAY",
}
_NO = {
    Prompt.STATION: "FAULT",
    Prompt.WAITING: "CONDITION LOST",
    Prompt.CHOOSING: "DISREGARD",
}
_NO_NO = (Prompt.STANDBY, Prompt.CLOSED, Prompt.FIRST_PAGE, Prompt.CAUTION, Prompt.CLOSING)
"""Questions to which *not so* is no answer."""
_ON_PAGE = {
    Page.ACCEPT_SURE: "ACCEPTS",
    Page.DISCONTINUE: "DISCONTINUES",
    Page.LEAVE: "LEAVES",
    Page.WRONG: "ENDS THE RUN",
    Page.END: "ENDS THE DAY",
    Page.PAPER_SURE: "CONFIRMS",
}


_LOOKED_AT = (Page.OPEN, Page.FLIGHTS, Page.KEPT, Page.COPY, Page.DOCUMENTS, Page.RECEIPT)


class Hint(NamedTuple):
    """What a key does, the key as it is shown, and the key that a press on the hint stands for."""

    does: str
    shown: str = ""
    key: str = ""


DRILLS = Hint("DRILLS", "*", "*")
MORE = Hint("MORE", "/", "/")
BACK = Hint("BACK", "/", "/")
STAND_BY = Hint("STAND BY", "F3", STAND_BY_KEY)
SIGN = Hint("MINUS", "-", "-")


def input_rows(view: View, aside: Aside, width: int) -> Rows:
    """What is being typed, or the hints of this moment."""
    keys = aside.keys
    if keys.page is Page.NONE and keys.line is not None:
        return _words(keys.line, width)
    if keys.page is Page.NONE and keys.typed:
        unit = f" {aside.listen.unit}" if aside.listen.unit else ""
        typed = Span(keys.typed, Tone.INPUT)
        sign = (
            ("   ENTER TAKES IT   - SIGN   BACK CORRECTS",)
            if begins_below_zero(aside.listen)
            else ()
        )
        for tail in (
            *sign,
            "   ENTER TAKES IT   BACK CORRECTS",
            "   ENTER TAKES IT",
            "  ENTER",
            "",
        ):
            if cells(f"TYPED {keys.typed}{unit}{tail}") <= width:
                return ((Span("TYPED "), typed, Span(unit), Span(tail, key="enter")),)
        return ((Span("TYPED "), typed),)
    return (hint_row(hints(view, aside), width),)


def _words(line: str, width: int) -> Rows:
    """A line of words: the end of it always in view, the place of the next letter underlined;
    where words are begun that want more to them, above it what that is."""
    shown = [*wrap(line, max(4, width - 11))] or [""]
    if line.endswith(" "):
        shown[-1] += " "
    hidden = len(shown) > 3
    first, *more = shown[-3:]
    first = f".. {first}" if hidden else first
    rows: list[Row] = [(Span("WORDS  "), Span(first, Tone.INPUT))]
    rows += [(Span(" " * 7), Span(part, Tone.INPUT)) for part in more]
    rows[-1] = (*rows[-1], Span(" ", Tone.INPUT))
    tail = "   ENTER SENDS"
    if sum(cells(span.text) for span in rows[-1]) + cells(tail) <= width:
        rows[-1] = (*rows[-1], Span(tail, key="enter"))
    asked = wanted(line)
    return (*block(f"ADD {asked}", width)[: 3 - len(rows)], *rows) if asked else tuple(rows)


def hint_row(every: list[Hint], width: int) -> Row:
    """As many hints as fit whole, the first ones first, with the widest gap that leaves them all
    standing."""
    left = list(every)
    while left:
        for gap in (4, 3, 2):
            texts = [f"{hint.does} {hint.shown}".strip() for hint in left]
            if sum(map(cells, texts)) + gap * (len(texts) - 1) <= width:
                return _spans(left, gap)
        left.pop()
    return ()


def _spans(hints_: list[Hint], gap: int) -> Row:
    row: list[Span] = []
    for number, hint in enumerate(hints_):
        if number:
            row.append(Span(" " * gap))
        row.append(Span(hint.does + (" " if hint.shown else ""), Tone.TEXT, hint.key))
        if hint.shown:
            row.append(Span(hint.shown, Tone.STRONG, hint.key))
    return tuple(row)


def hints(view: View, aside: Aside) -> list[Hint]:
    """The hints of this moment, the most needed first."""
    page = aside.keys.page
    if page is not Page.NONE:
        found = _of_page(page)
        if aside.keys.begins:
            found = [Hint("GOES ON", "+", "+"), *found]
        return [in_force(hint, aside) for hint in found]
    found = [_answers(view, aside)]
    if view.prompt is Prompt.MEMORY_ITEMS and view.may_be_mistake:
        found.append(Hint("WRONG", "BACK", "backspace"))
    elif view.prompt not in _NO_NO and _may_be_not_so(view, aside):
        found.append(Hint(_NO.get(view.prompt, "NOT SO"), "-", "-"))
    elif begins_below_zero(aside.listen):
        found.append(SIGN)
    found += [
        *_talk(aside),
        DRILLS,
        MORE,
        *([STAND_BY] if waits_long(aside.waited, aside.calls) else []),
        Hint("KEYS", "F12", "f12"),
        Hint("THEME", "F10", "f10"),
    ]
    return [in_force(hint, aside) for hint in found if hint.does]


def _talk(aside: Aside) -> list[Hint]:
    """In a run by voice the key that opens the microphone, which no press on it stands for."""
    keys = aside.keymap.keys_of(TALK) if aside.voice else ()
    return [Hint("TALK", called(keys[0]))] if keys else []


def _may_be_not_so(view: View, aside: Aside) -> bool:
    """Whether *not so* is taken: of a value or a choice nothing can be not so."""
    if view.prompt is Prompt.WAITING:
        return view.may_be_lost
    if view.prompt in (Prompt.ASKING, Prompt.UNMET):
        fault = view.prompt is Prompt.UNMET and view.unmet_why == "not so"
        return bool(aside.listen.responses) and not (view.options or aside.listen.number or fault)
    return True


def in_force(hint: Hint, aside: Aside) -> Hint:
    """The hint with the key as it is called where somebody made a table of keys of their own; a
    press on it stays what it is."""
    if not hint.key or hint.key.isdigit():
        return hint
    return hint._replace(shown=aside.keymap.shown(hint.key))


def _of_page(page: Page) -> list[Hint]:
    sure = _ON_PAGE.get(page)
    if sure:
        return [Hint(sure, "+", "+"), BACK, DRILLS]
    first = {
        Page.KEYS: "",
        Page.MORE: "NUMBER OR WORDS",
        Page.DRILLS: "NUMBER OPENS",
        Page.PAPER: "DIGITS, ENTER",
        **dict.fromkeys(_LOOKED_AT, ""),
    }.get(page, "NUMBER CHOOSES")
    found = [Hint(first), BACK]
    if page is Page.MORE:
        found.append(Hint("NEXT", "0", "0"))
    if page is not Page.DRILLS:
        found.append(DRILLS)
    return [hint for hint in found if hint.does]


def _answers(view: View, aside: Aside) -> Hint:
    """What answers the question that stands."""
    number = takes_number(view, aside.listen)
    if view.prompt is Prompt.FIRST_PAGE:
        if not view.unread:
            return Hint("READ", "+", "+")
        if each_reads(view):
            return Hint(f"TO READ: {' '.join(numbered_readers(view))}")
        return Hint(f"TO READ: {view.unread[0].upper()}", "+", "+")
    if view.prompt is Prompt.STATION:
        return Hint("NUMBER TICKS")
    if view.prompt is Prompt.CHOOSING:
        return Hint(". THEN NUMBER" if number else "NUMBER CHOOSES")
    if view.unmet_why == "not so" and view.accept_class == "maintenance only":
        return Hint("")
    if view.prompt in (Prompt.ASKING, Prompt.UNMET, Prompt.WAITING, Prompt.CAUTION):
        if number:
            return Hint("VALUE, ENTER")
        if view.options:
            return Hint("NUMBER CHOOSES")
        if both_look(view):
            places = seats(view)
            to_look = sorted(places.index(role) + 1 for role in view.waiting_for)
            return Hint("BOTH LOOK", " ".join(map(str, to_look)))
        if view.prompt is not Prompt.CAUTION and not aside.listen.responses:
            return Hint("")
    return Hint(_YES.get(view.prompt, ""), "+", "+")
