"""The full screen as a pure function: view, clock, size and what lies beside them, to rows.

Rules: exactly `size.rows` rows of exactly `size.columns` cells; the bands stand first and the input
row last, always; the current challenge, what is expected and why nothing goes on never yield to
anything else; a size below 40x12 shows what fits of the same order. Nothing here decides or writes.
"""

from __future__ import annotations

from runner.engine.effects import Prompt, View
from runner.terminal.aside import Aside, Size
from runner.terminal.attention import STAND_BY_KEY, waits_long
from runner.terminal.blocks import HEIGHT
from runner.terminal.clock import Clock, minutes
from runner.terminal.commands import NEXT_FLIGHT, number_of
from runner.terminal.fill import NEVER, Part, blank, fit, least, spring
from runner.terminal.gauge import gauge_rows
from runner.terminal.hints import input_rows
from runner.terminal.keys import takes_number
from runner.terminal.keystate import Cut, Page
from runner.terminal.messages import message_parts
from runner.terminal.pages import WHOLE, Standing, overlay, whole
from runner.terminal.pages_day import list_line
from runner.terminal.pages_list import standby_parts
from runner.terminal.parts import (
    NAMED_FROM,
    band_rows,
    band_words,
    challenge_rows,
    expected_rows,
    heading,
    identity,
    large_wait,
    neighbours,
    option_rows,
    put_off_rows,
    running_rows,
    typed_rows,
)
from runner.terminal.rows import Rows, Span, Tone, beside, block, filled

SIDE_FROM = 100
SIDE_WIDTH = 38

IN_HAND = ("TRANSMIT", "TALK")
"""Bands that somebody's own hand makes; every other one of the host's is a caution."""
TO_COME = ("open", "unmet", "put off")
"""What is next: steps that were answered already, or that nobody needs, are not."""
ANCHORS = ((12, 3), (20, 5), (24, 7), (36, 11))
"""From how many rows on the challenge stands how far down: the eye finds it where it was."""


def screen(view: View, clock: Clock, size: Size, aside: Aside | None = None) -> Rows:
    """The rows of the screen. `aside` holds the keyboard's state, bands and last message."""
    beside_it = aside if aside is not None else Aside()
    width = max(10, size.columns)
    bands = bands_of(view, beside_it, width)
    bottom = input_rows(view, beside_it, width)
    room = max(1, size.rows - len(bands) - len(bottom))
    if beside_it.keys.page is not Page.NONE:
        middle = overlay(view, clock, beside_it, width, room).rows
    elif _has_side(view, width, room):
        main = width - SIDE_WIDTH - 3
        left = body(view, clock, beside_it, main, room, size.rows)
        middle = beside(left, fit(side(view, clock, SIDE_WIDTH), room), main, 3)
    else:
        middle = body(view, clock, beside_it, width, room, size.rows)
    rows = [*bands, *middle[:room], *((),) * (room - len(middle)), *bottom]
    return tuple(filled(row, width) for row in rows[: max(1, size.rows)])


def bands_of(view: View, aside: Aside, width: int) -> Rows:
    """The fixed bands, above them what is wrong with the log or the keys."""
    alert = tuple(band.upper() for band in aside.bands if band.upper() not in IN_HAND)
    return band_rows(band_words(view, aside.bands), width, alert)


def _has_side(view: View, width: int, room: int) -> bool:
    """Whether the lists of the day stand beside what is asked."""
    alone = view.prompt in (Prompt.FIRST_PAGE, Prompt.CLOSED)
    return width >= SIDE_FROM and room >= 18 and not alone


def cut_of(view: View, clock: Clock, size: Size, aside: Aside) -> Cut:
    """How the page on this screen is cut into sheets; a shell puts it into `KeyState`."""
    over = aside.keys.page is not Page.NONE
    if not over and view.prompt not in WHOLE:
        return Cut()
    width = max(10, size.columns)
    bands = bands_of(view, aside, width)
    room = max(1, size.rows - len(bands) - len(input_rows(view, aside, width)))
    if over:
        return overlay(view, clock, aside, width, room).cut
    if _has_side(view, width, room):
        width -= SIDE_WIDTH + 3
    return page_of_question(view, clock, aside, width, room).cut


def page_of_question(view: View, clock: Clock, aside: Aside, width: int, room: int) -> Standing:
    """A question that is a page of its own, and what is said and goes on below it."""
    said = message_parts(view, aside, clock, width)
    alone = view.prompt in (Prompt.FIRST_PAGE, Prompt.CLOSED)
    foot = [*said] if alone else [*said, *foot_parts(view, clock, width)]
    return whole(view, clock, aside, width, room, foot)


def body(view: View, clock: Clock, aside: Aside, width: int, room: int, height: int) -> Rows:
    """Everything between bands and input row: exactly `room` rows.

    The challenge of a list stands at the same row whatever stands around it. Only where what must
    be seen below it needs the place, it moves up.
    """
    if view.prompt in WHOLE:
        return page_of_question(view, clock, aside, width, room).rows
    above, below = above_parts(view, clock, aside, width), below_parts(view, clock, aside, width)
    bands = height - room - len(input_rows(view, aside, width))
    # one row at least between the list's name and the challenge: a caution stands there
    wanted = max(2, max([row for rows, row in ANCHORS if height >= rows], default=2) - bands)
    fewest = least(above, 0)

    def row(parts: list[Part]) -> int:
        return max(fewest, min(wanted, room - least(parts, IMPORTANT)))

    if view.notes or view.prompt is Prompt.UNMET:
        sure = letters_first(below)
        in_place = row(sure) == row(below) or bool(view.accept_class)
        if in_place and least(sure, LETTERS) <= room - row(sure):
            below = sure
    return (*fit(above, row(below)), *fit(below, room - row(below)))


def letters_first(below: list[Part]) -> list[Part]:
    """The parts with the challenge in large letters from the first, where one line holds them: what
    only tells beside the list, and the scale of a value that stands there in words, leave first."""
    return [
        part._replace(forms=part.forms[1:])
        if part.name == "challenge" and part.rank == ONE_LINE and len(part.forms) > 1
        else part
        for part in below
    ]


IMPORTANT = 15
"""Parts that yield no sooner than this are not left out to keep the challenge in its place."""
LETTERS = 10
"""Parts that yield no sooner than this are not left out for large letters on one line."""
ONE_LINE, TWO_LINES = 4, 15
"""When the challenge grows to large letters."""


def above_parts(view: View, clock: Clock, aside: Aside, width: int) -> list[Part]:
    """What stands above the challenge: who and where, the list, the steps before."""
    return [
        Part("identity", ((), identity(view, aside, clock, width)), rank=14),
        heading(view, clock, width),
        spring(),
        Part("before", neighbours(view.before, width, last=True), rank=12),
        blank("above", 18) if width >= NAMED_FROM else blank("above", 30),
        *_caution(view, width),
    ]


def below_parts(view: View, clock: Clock, aside: Aside, width: int) -> list[Part]:
    """The challenge and everything below it."""
    said = message_parts(view, aside, clock, width)
    foot = foot_parts(view, clock, width)
    if view.prompt is Prompt.STANDBY:
        return [*standby_parts(view, clock, aside, width), *said, blank("gap", 8), *foot]
    parts: list[Part] = [
        _challenge(view, width, aside),
        blank("below", 18),
    ]
    if view.prompt is Prompt.WAITING:
        parts.append(Part("left", (_wait_left(view, clock, width),)))
    parts.append(Part("expected", (expected_rows(view, width),), yields=30))
    if view.of_wait:
        parts.append(Part("for", (block(f"FOR: {view.of_wait}", width),), yields=27))
    for note in view.notes:
        parts.append(Part("note", (block(f"NOTE: {note}", width, Tone.TEXT, 2),), yields=28))
    if view.gauge is not None:
        parts.append(Part("gauge", gauge_rows(view.gauge, width), rank=3))
    numbered = not takes_number(view, aside.listen)
    yields = NEVER if numbered else 22
    parts.append(Part("options", option_rows(view, width, numbered), rank=6, yields=yields))
    parts.append(Part("typed", typed_rows(aside, width), rank=4))
    long = waits_long(aside.waited, aside.calls)
    parts.append(Part("note", (waits(aside, width),), yields=13 if long else 2))
    parts.extend(said)
    parts.append(blank("after gap", 17))
    parts.append(blank("after gap more", 23))
    to_come = tuple(line for line in view.after if line.status in TO_COME)
    parts.append(Part("after", neighbours(to_come, width, last=False), rank=14))
    return [*parts, *foot]


def _challenge(view: View, width: int, aside: Aside) -> Part:
    """Large before any row is left empty; on two lines only beside a step before and after."""
    forms = challenge_rows(view, width, aside.blocks)
    one_line = len(forms) > 1 and len(forms[1]) <= len(forms[0]) + HEIGHT
    return Part("challenge", forms, rank=ONE_LINE if one_line else TWO_LINES)


def _caution(view: View, width: int) -> list[Part]:
    if view.prompt is not Prompt.CAUTION:
        return []
    return [Part("caution", (block("CAUTION", width, Tone.CAUTION),))]


def _wait_left(view: View, clock: Clock, width: int) -> Rows:
    one = large_wait(view)
    if one is None:
        return ()
    return block(f"{clock.left(one.ends)} LEFT", width, Tone.BIG)


def waits(aside: Aside, width: int) -> Rows:
    """That the call waits for its answer, once it has been made again, and after long the way to
    stand by; not while the answer is being typed."""
    keys = aside.keys
    if aside.waited < 10_000 or aside.calls < 2 or keys.typed or keys.line is not None:
        return ()
    waited = f"WAITING {minutes(aside.waited // 1000)}"
    shown = aside.keymap.shown(STAND_BY_KEY)
    if not (waits_long(aside.waited, aside.calls) and shown):
        return block(f"CALLED {aside.calls} TIMES, {waited}", width, Tone.STRONG)
    offer = Span(f"STAND BY {shown}", Tone.STRONG, STAND_BY_KEY)
    return ((Span(f"{waited}   ", Tone.STRONG), offer),)


def foot_parts(view: View, clock: Clock, width: int) -> list[Part]:
    """What goes on beside the list: timers, put off, open, flags, snags."""
    parts = [spring(), blank("foot gap", 19)]
    parts.extend(open_parts(view, width))
    if view.may_begin_next:
        said = f"THE NEXT FLIGHT MAY BEGIN: {number_of(NEXT_FLIGHT)}"
        parts.append(Part("next flight", (block(said, width, Tone.TEXT, 2),), rank=11, yields=20))
    running = running_rows(view, clock, width)
    if running[0]:
        parts.append(Part("running", running, rank=7))
    put_off = put_off_rows(view, width)
    if put_off:
        parts.append(Part("put off", put_off, rank=11, yields=20))
    for part in counted("FLAG", view.flags, width, 13):
        parts.append(Part(part.name, part.forms, part.rank, yields=15))
    for name, texts, rank in (("DEFECT", view.defects, 3), ("SNAG", view.snags, 25)):
        for part in counted(name, texts, width, rank):
            parts.append(Part(part.name, ((), *part.forms[:1]), part.rank))
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


def open_parts(view: View, width: int) -> list[Part]:
    """At the end of a list: what is open in it, and how much in the other lists of its group."""
    if not view.open_lines or view.prompt is not Prompt.CLOSING:
        return []
    here = [one for one in view.open_lines if one.key.partition(".")[0] == view.flow]
    others = len(view.open_lines) - len(here)
    more = f"{others} OPEN IN OTHER LISTS" if others else ""
    texts = [f"{one.number} {one.challenge}" for one in here]
    title = f"{view.title.upper()}, {len(here) or 'NONE'} OPEN"
    short = block(f"{title}: {texts[0]}" if texts else f"{title}, {more}", width, Tone.STRONG, 2)
    full = block(f"{title}: {', '.join(texts)}" if texts else title, width, Tone.STRONG, 2)
    return [Part("open", (short, (*full, *block(more, width))), rank=3)]


def side(view: View, clock: Clock, width: int) -> list[Part]:
    """The right column of a wide screen: the lists of the day, those around the current one where
    there is no room for all."""
    here = next((n for n, one in enumerate(view.lists) if one.status == "current"), 0)
    each = [list_line(line, clock, width) for line in view.lists]
    forms: list[Rows] = [()]
    for around in (2, 4, 6, 8, 10, 12, 14, len(view.lists)):
        near = each[max(0, here - around) : here + around + 1]
        forms.append(tuple(row for rows in near for row in rows))
    return [
        Part(
            "title", (block(f"FLIGHT {view.flight}, {len(view.lists)} LISTS", width, Tone.STRONG),)
        ),
        Part("lists", tuple(forms), rank=1),
    ]
