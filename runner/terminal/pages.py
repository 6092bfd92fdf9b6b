"""Whole pages: first page, station, memory items, standby, closed, and the numbered pages.

Rules: a page is a list of parts like a list's screen; numbered pages answer to the number that
stands before each line, and 0 turns on where there is more; memory items stand there all at once.
"""

from __future__ import annotations

from runner.engine.effects import Line, ListLine, Prompt, View
from runner.terminal.aside import Aside, Size
from runner.terminal.clock import Clock
from runner.terminal.commands import SHEETS, label
from runner.terminal.fill import Part, blank
from runner.terminal.keys import TABLE, Means, numbered_readers
from runner.terminal.keystate import Page
from runner.terminal.pagekeys import page_texts
from runner.terminal.parts import option_rows, plain_row, put_off_rows
from runner.terminal.rows import Row, Rows, Span, Tone, block, cells, clip, ends, flow, wrap

SAFETY_NOTE = (
    "A help for trained people, not approved data. The approved flight manual, local rules and"
    " licensed practice govern; the pilot in command decides."
)
TITLES = {
    Page.DRILLS: "DRILLS: NUMBER OPENS",
    Page.MORE: "BY NUMBER, OR TYPE WORDS",
    Page.OPTIONS: "CHOOSE BY NUMBER",
    Page.TIMERS: "START WHICH TIMER?",
    Page.FAULT: "FAULT: WHICH ITEM?",
    Page.ACCEPT: "COMMANDER ACCEPTS: REASON?",
    Page.ACCEPT_SURE: "COMMANDER ACCEPTS",
    Page.DISCONTINUE: "DISCONTINUE?",
    Page.LEAVE: "LEAVE THE RUN OPEN?",
    Page.KEYS: "KEYS HERE",
}


def list_status(line: ListLine, clock: Clock) -> str:
    """ "DONE 07:40 UTC, STILL VALID" and the like."""
    at = f" {clock.utc(line.closed_at)}" if line.closed_at is not None else ""
    if line.status == "still valid":
        return f"DONE{at}, STILL VALID"
    why = f": {line.why.upper()}" if line.why else ""
    return f"{line.status.upper()}{at}{why}"


def list_rows(lists: tuple[ListLine, ...], clock: Clock, width: int) -> Rows:
    """The lists of the day, one a row, the current one marked by a word and an arrow."""
    rows: list[Row] = []
    for line in lists:
        here = line.status == "current"
        tone = Tone.STRONG if here else Tone.SMALL
        left = f"{'> ' if here else '  '}{line.title}"
        status = "" if line.status == "to come" else list_status(line, clock)
        if cells(left) + cells(status) + 2 <= width:
            rows.extend(ends(left, status, width, tone, tone))
        else:
            rows.append((Span(clip(left, width), tone),))
            rows.extend(plain_row("    " + part, tone) for part in wrap(status, width - 4))
    return tuple(rows)


def first_page(view: View, clock: Clock, aside: Aside, width: int) -> list[Part]:
    """Aircraft, registration to compare, crew, lists, what is open, the safety note."""
    name = f"{view.aircraft} {aside.registration}".strip().upper()
    document = f"{view.operator}, card revision {view.revision}"
    dated = block(f"{document}, {clock.utc()}", width)
    crew = "CREW: " + ", ".join(f"{role} {who}" for role, who in view.crew)
    placard = f"Compare {aside.registration or 'the registration'} with the placard."
    many = f"{len(view.lists)} LISTS TODAY: "
    titles = many + ", ".join(line.title for line in view.lists)
    parts = [
        Part("name", (block(name, width, Tone.BIG),)),
        Part("document", (block(document, width), dated), rank=13),
        blank("gap", 10),
        Part("crew", (block(crew, width, Tone.TEXT, 2),)),
        Part(
            "lists",
            (
                block(f"{len(view.lists)} LISTS TODAY", width),
                block(titles, width, Tone.TEXT, 2),
                (*block(many.strip(), width), *list_rows(view.lists, clock, width)),
            ),
            rank=20,
            yields=5,
        ),
        *counted("DEFECTS OPEN", view.defects, width, 15),
        *counted("FLAG", view.flags, width, 15),
        Part("put off", put_off_rows(view, width), rank=16),
        blank("gap", 11),
        Part("safety", (block(SAFETY_NOTE, width, Tone.CAUTION),)),
        blank("gap", 12),
        Part("placard", (block(placard, width, Tone.STRONG),)),
    ]
    if view.unread:
        waiting = ", ".join(numbered_readers(view))
        still = block(f"STILL TO READ THIS: {waiting}", width)
        parts.append(Part("unread", (still,), yields=6))
    return parts


def counted(name: str, texts: tuple[str, ...], width: int, rank: int) -> list[Part]:
    """A count and the first text at least; all texts where there is room."""
    if not texts:
        return []
    short = block(f"{name} ({len(texts)}): {texts[0]}", width, Tone.TEXT, 2)
    if len(texts) == 1:
        return [Part(name, (block(f"{name}: {texts[0]}", width, Tone.TEXT, 2),), rank)]
    joined = block(f"{name} ({len(texts)}): {', '.join(texts)}", width, Tone.TEXT, 2)
    full = tuple(row for text in texts for row in block(f"{name}: {text}", width, Tone.TEXT, 2))
    return [Part(name, (short, joined, full), rank)]


_PASSED = ("answered", "on paper", "accepted", "not required")


def _tick(line: Line) -> str:
    if line.status == "open":
        return "[ ]"
    return "[x]" if line.status in _PASSED else "[!]"


def _status(line: Line) -> str:
    """What a status other than open or answered is called on a station."""
    if line.status in ("open", "answered"):
        return ""
    return "FAULT" if line.status == "unmet" else line.status.upper()


def station_page(view: View, width: int) -> list[Part]:
    """Items of a station with their ticks; where rows are short the open ones stand first."""
    rows: list[Row] = []
    short: list[str] = []
    done = 0
    for number, line in enumerate(view.items, 1):
        status = _status(line)
        what = line.answer if line.status == "answered" else line.expected
        left = f"{number} {_tick(line)} {line.challenge}"
        tone = Tone.STRONG if line.status == "open" else Tone.SMALL
        right = f"{what} {status}".strip()
        if cells(left) + cells(right) + 2 <= width:
            rows.extend(ends(left, right, width, tone, tone))
        else:
            rows.extend(block(f"{left} {right}", width, tone, 6))
        if line.status in _PASSED:
            done += 1
        else:
            short.append(" ".join(f"{number} {line.challenge} {line.expected} {status}".split()))
    few = flow(short, width, Tone.STRONG)
    count = block(f"{done} TICKED, {len(short)} OPEN", width)
    return [Part("items", ((*count, *few), tuple(rows), (*count, *rows)), rank=5)]


def memory_page(view: View, width: int) -> list[Part]:
    """All memory items at once, large; silent until they are done."""
    numbered = [f"{n} {text}" for n, text in enumerate(view.memory, 1)]
    tight = flow(numbered, width, Tone.BIG)
    each = tuple(row for item in numbered for row in block(item, width, Tone.BIG, 2))
    aired = tuple(row for item in numbered for row in ((), *block(item, width, Tone.BIG, 2)))
    return [Part("memory", (tight, each, aired), rank=1)]


def standby_page(view: View, clock: Clock, width: int) -> list[Part]:
    """Place and elapsed time, large."""
    elapsed = clock.since(view.standby_since) if view.standby_since is not None else ""
    place = view.standby_place or f"{view.number} {view.challenge}"
    return [
        blank("gap", 6),
        Part("standby", (block(f"STANDBY  {elapsed}", width, Tone.BIG),)),
        blank("gap", 7),
        Part("place", (block(f"HELD AT {place.upper()}", width, Tone.BIG, 2),)),
        Part("options", (option_rows(view, width, True),)),
    ]


def closed_page(view: View, clock: Clock, aside: Aside, width: int) -> list[Part]:
    """The end of a run: the short code to write on the paper, and what was left."""
    code = aside.head_code or "none yet"
    marks = tuple(f"{what} {clock.utc(at)}" for what, at in view.marks)
    not_done = tuple(line.title for line in view.lists if line.status == "not done")
    open_ones = tuple(f"{line.number} {line.challenge}" for line in view.open_lines)
    left = f"{len(view.open_lines)} OPEN" if view.open_lines else "NONE OPEN"
    return [
        blank("gap", 6),
        Part("closed", (block(f"LISTS CLOSED, {left}", width, Tone.BIG),)),
        Part("code", (block(f"LOG SO FAR {code}", width, Tone.BIG),)),
        blank("gap", 7),
        Part("next", (block("END OF DAY? Or NEXT FLIGHT by / 0 0 1", width),)),
        *counted("OPEN", open_ones, width, 8),
        *counted("LIST NOT DONE", not_done, width, 9),
        *counted("DEFECT", view.defects, width, 8),
        *counted("SNAG", view.snags, width, 9),
        *counted("MARK", marks, width, 10),
        Part("note", (block("Shows what was answered, not that it was done.", width),)),
    ]


def overlay(view: View, aside: Aside, size: Size, height: int) -> Rows:
    """The page that a key laid over the list, at most `height` rows where it can be turned."""
    keys, width = aside.keys, size.columns
    page = keys.page
    title = TITLES[page]
    if page is Page.DISCONTINUE:
        text = "Leads to the shutdown list. + DISCONTINUES, any other key goes back."
        return (*block(title, width, Tone.WARNING), (), *block(text, width, Tone.STRONG))
    if page is Page.LEAVE:
        text = "The run stays open and can be resumed. + LEAVES, any other key goes back."
        return (*block(title, width, Tone.STRONG), (), *block(text, width, Tone.STRONG))
    if page is Page.ACCEPT_SURE:
        kind = "CONTINUE, EMERGENCY ONLY" if view.accept_class == "emergency only" else title
        said = f"{view.number} {view.challenge.upper()}. REASON: {keys.reason}"
        why = view.unmet_why or view.blocked
        text = "+ ACCEPTS, any other key goes back."
        return (
            *block(kind, width, Tone.CAUTION),
            *(block(why, width) if why else ()),
            *block(said, width, Tone.STRONG),
            *block(text, width, Tone.STRONG),
        )
    if page is Page.KEYS:
        lines = keys_here(view, aside)
        return (*block(title, width, Tone.STRONG), *flow(lines, width))
    if page is Page.MORE:
        sheet = SHEETS[keys.offset % len(SHEETS)]
        named = [f"{n} {label(command, view)}" for n, command in enumerate(sheet, 1)]
        head = block(title, width, Tone.STRONG)
        each = tuple(block(item, width, Tone.STRONG)[0] for item in named)
        helped = tuple(
            (Span(f"{item:<20}", Tone.STRONG), Span(clip(command.help, width - 20)))
            for item, command in zip(named, sheet, strict=True)
        )
        rows = helped if width >= 56 else each
        if len(rows) + len(head) > height:
            rows = flow(named, width, Tone.STRONG)
        return (*head, *rows)
    return _numbered(view, aside, width, title)


def _numbered(view: View, aside: Aside, width: int, title: str) -> Rows:
    keys = aside.keys
    texts = page_texts(keys.page, view, aside.listen)
    shown = texts[keys.offset : keys.offset + keys.per_page]
    more = len(texts) > keys.per_page
    pages = -(-len(texts) // keys.per_page)
    turn = f"  0 NEXT, {keys.offset // keys.per_page + 1} OF {pages}" if more else ""
    tone = Tone.WARNING if keys.page is Page.DRILLS else Tone.STRONG
    rows: list[Row] = list(block(title + turn, width, tone))
    if keys.page is Page.ACCEPT:
        why = view.unmet_why or view.blocked
        rows.extend(block(why, width) if why else ())
    for number, item in enumerate(shown, 1):
        rows.extend(block(f"{number} {item}", width, Tone.BIG, 2))
    if not texts:
        rows.append(plain_row("NOTHING HERE"))
    return tuple(rows)


def keys_here(view: View, aside: Aside) -> list[str]:
    """What each key does at this prompt, from the table of keys."""
    yes, no = TABLE[view.prompt]
    said: list[str] = []
    for key, cell in (("SPACE or +", yes), ("N or -", no)):
        if cell.means is Means.RESPONSE:
            what = aside.listen.responses[0] if aside.listen.responses else "nothing here"
        elif cell.means is Means.FAULT:
            what = "fault, then the item's number"
        else:
            what = cell.text or cell.means.value
        said.append(f"{key}: {what}")
    if aside.listen.number:
        said.append("DIGITS . -: the value, ENTER ends it")
    elif view.options or view.prompt is Prompt.STATION:
        said.append("1 to 9: the numbered line")
    said.append("*: drills")
    said.extend(f"F{n}: {label(c, view).lower()}" for n, c in enumerate(SHEETS[0], 1))
    said.append("F10: theme")
    said.append("/ and a number: as the F key")
    said.append("/ or a letter: words, then ENTER")
    return said
