"""Every state at every size, looked through by rule: nothing cut, touching or missing.

Rules: what must stand comes from the view that the engine gave, not from the layout; neighbours,
put-off items and hints may give way to it, never the challenge, what answers it, nor why it waits.
"""

from __future__ import annotations

import re
from itertools import pairwise

from runner.engine.effects import Prompt
from runner.terminal.aside import Size
from runner.terminal.clock import Clock
from runner.terminal.keystate import Page
from runner.terminal.layout import cut_of, screen
from runner.terminal.pagekeys import lines
from runner.terminal.rows import Tone, cells, clean, row_cells, row_text
from runner.terminal.turning import numbers, sheet_at
from tests.gallery.draw import Taken, gallery
from tests.gallery.scenes import SIZES
from tests.gallery.seen import asked, each, flat, on_list, rows_of, seen
from tests.gallery.stage import DAWN_MS

COCKPIT = SIZES[0]
DRAWN = set("\u2588\u2580\u2584 ")
CUT = re.compile(r"[^\s.]\.\.(?!\.)")
WIDE = 400


@each()
def test_exactly_the_cells_of_the_terminal(one: Taken) -> None:
    for theme, rows in one.rows.items():
        assert len(rows) == one.size.rows, theme
        for row in rows:
            assert row_cells(row) == one.size.columns, (theme, row_text(row))
            assert clean(row_text(row)) == row_text(row)


@each()
def test_nothing_is_cut(one: Taken) -> None:
    cut = [row for row in rows_of(one) if CUT.search(row)]
    assert not cut


@each()
def test_no_text_touches_another(one: Taken) -> None:
    """Two texts of different looks have a space between them, or belong to one number or sign."""
    for row in one.rows["day"]:
        parts = [span for span in row if span.text]
        for left, right in pairwise(parts):
            if set(left.text) <= DRAWN or set(right.text) <= DRAWN or left.tone is right.tone:
                continue
            apart = left.text.endswith(" ") or right.text.startswith(" ")
            assert apart, f"{left.text!r} touches {right.text!r}"


@each(asked)
def test_the_challenge_stands_whole(one: Taken) -> None:
    number = f"{one.view.number} " if one.view.number else ""
    assert flat(number + one.view.challenge) in seen(one)


@each(asked)
def test_what_answers_stands_whole(one: Taken) -> None:
    view = one.view
    if view.prompt is Prompt.WAITING:
        assert any(flat(run.label) in seen(one) for run in view.running)
        return
    if view.gauge is not None and view.gauge.limit and view.prompt is not Prompt.CHOOSING:
        assert flat(view.gauge.limit) in seen(one)
    elif not view.options:
        assert flat(view.response) in seen(one)
    for number, option in enumerate(view.options, 1):
        # Also behind the key that opens them: the digit that will mean it stands before it.
        assert flat(f"{number} {option}") in seen(one)


NOTED = ("NOTED, DEFECT: ", "NOTED, SNAG: ")


def noted(one: Taken) -> list[str]:
    """The defects and snags that the last event kept."""
    texts = [said.text for said in one.aside.messages if said.text.startswith(NOTED)]
    return [text.partition(": ")[2] for text in texts]


@each(lambda one: on_list(one) and bool(noted(one)))
def test_what_an_event_noted_stands_there(one: Taken) -> None:
    """It is kept for the technical log: the crew must see that it was, and what; on a station the
    item itself says that it is a fault."""
    for text in noted(one):
        item = flat(text.partition(":")[0])
        fault = re.search(rf"\d {re.escape(item)}[^0-9]*\bFAULT: NOT SO", seen(one))
        assert flat(text) in seen(one) or (fault and one.view.prompt is Prompt.STATION)


def test_a_defect_and_a_snag_that_were_just_noted_have_pictures() -> None:
    texts = [said.text for one in gallery() if on_list(one) for said in one.aside.messages]
    assert all(any(text.startswith(kind) for text in texts) for kind in NOTED)


@each(asked)
def test_why_nothing_goes_on_stands_whole(one: Taken) -> None:
    """The value and its limit, or the reason in words; what is read back; what holds a step."""
    view = one.view
    if view.gauge is not None and view.gauge.value:
        assert flat(view.gauge.value) in seen(one)
        if view.gauge.distance:
            assert re.search(rf"{re.escape(view.gauge.distance)} \S* ?(TOO|SHORT|OVER)", seen(one))
    elif view.unmet_why:
        assert flat(view.unmet_why) in seen(one)
    for words in (view.read_back, view.blocked):
        assert flat(words) in seen(one)


@each()
def test_fixed_bands_stand_whole(one: Taken) -> None:
    tones = (Tone.BAND, Tone.CAUTION)  # what is wrong with the log or the keys is a caution
    bands = [s.text.rstrip() for row in one.rows["day"] for s in row if s.tone in tones]
    shown = " | ".join(band for band in bands if band).split(" | ")
    wanted = {"IN FLIGHT"} if one.view.airborne else set()
    assert {*wanted, *map(flat, one.aside.bands)} <= set(shown)


@each(lambda one: on_list(one) and one.view.prompt is Prompt.MEMORY_ITEMS)
def test_all_memory_items_stand_there(one: Taken) -> None:
    for number, item in enumerate(one.view.memory, 1):
        assert flat(f"{number} {item}").replace(":", "") in seen(one).replace(":", "")


@each(lambda one: on_list(one) and one.view.prompt is Prompt.STATION)
def test_open_items_of_a_station_stand_there(one: Taken) -> None:
    shown = re.sub(r"\.{2,} ?", "", seen(one))
    for number, item in enumerate(one.view.items, 1):
        if item.status == "open":
            assert flat(f"{number} {item.challenge} {item.expected}") in shown


NUMBERED = (Page.DRILLS, Page.OPTIONS, Page.TIMERS, Page.FAULT, Page.ACCEPT)


@each(lambda one: one.aside.keys.page in NUMBERED)
def test_a_numbered_page_shows_each_line_whole(one: Taken) -> None:
    keys = one.aside.keys
    found = cut_of(one.view, Clock(DAWN_MS, one.view.at), one.size, one.aside)
    ends, sheet = found.picks, sheet_at(found.starts, keys.offset)
    named = lines(keys.page, one.view, one.aside.listen)
    shown = {n: at for n in range(1, 10) if (at := numbers(ends, sheet, n)) is not None}
    assert shown
    for number, at in shown.items():
        assert flat(f"{number} {named[at].label}") in seen(one)


@each()
def test_what_is_typed_or_the_keys_stand_whole(one: Taken) -> None:
    keys, last = one.aside.keys, row_text(one.rows["day"][-1])
    if on_list(one) and keys.line is not None:
        tail = flat(keys.line)[-20:]
        assert tail in seen(one)
        return
    if on_list(one) and keys.typed:
        assert keys.typed in last
        return
    clock = Clock(DAWN_MS, one.view.at)
    wide = screen(one.view, clock, Size(WIDE, one.size.rows), one.aside)[-1]
    known = re.split(r" {2,}", row_text(wide).strip())
    shown = re.split(r" {2,}", last.strip())
    assert shown[0], "no key is named"
    assert shown == known[: len(shown)]


@each()
def test_the_key_of_drills_is_always_named(one: Taken) -> None:
    """On a list the last row says how a drill is opened, unless something is being typed there."""
    keys = one.aside.keys
    if on_list(one) and not keys.typed and keys.line is None:
        assert "DRILLS" in row_text(one.rows["day"][-1])


def test_the_longest_challenge_is_legible_in_the_cockpit() -> None:
    """It stands whole and in the weight of a challenge at the size of the cockpit."""
    one = next(t for t in gallery() if t.scene.name == "asking-long" and t.size == COCKPIT)
    big = " ".join(s.text for row in one.rows["day"] for s in row if s.tone is Tone.BIG)
    assert flat(one.view.challenge) in flat(big)
    assert cells(one.view.challenge) > COCKPIT.columns - 4
