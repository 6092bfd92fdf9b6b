"""What is said stands whole: gauges, notes and refusals, what is compared, held, accepted, ended.

Rules: what must stand comes from the view and from what was said, not from the layout.
"""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from runner.engine.effects import Prompt, Voice
from runner.terminal.aside import Size
from runner.terminal.keystate import Page
from runner.terminal.rows import text
from runner.terminal.themes import DAY
from tests.gallery.draw import Taken
from tests.gallery.scenes import SIZES, Scene, Start, play
from tests.gallery.seen import asked, each, flat, on_list, rows_of, seen
from tests.gallery.stage import REGISTRATION
from tests.gallery.states_run import EVERYTHING

BAR = re.compile(r"<[-=*\[\]]{10,}>")


@each(lambda one: asked(one) and one.view.gauge is not None and bool(one.view.gauge.value))
def test_the_gauge_shows_where_the_value_lies(one: Taken) -> None:
    """The star stands on its side of the brackets, and as far off as the value is."""
    gauge = one.view.gauge
    bars = [found[0] for row in rows_of(one) if (found := BAR.search(row))]
    if gauge is None or not bars:
        return
    (bar,) = bars
    value, star = Decimal(gauge.value.split()[0]), bar.index("*")
    low = bar.index("[") if gauge.low is not None else None
    high = bar.index("]") if gauge.high is not None else None
    if low is not None and gauge.low is not None:
        assert (star < low) == (value < gauge.low), bar
    if high is not None and gauge.high is not None:
        assert (star > high) == (value > gauge.high), bar
    if low is None or high is None or gauge.low is None or gauge.high is None:
        return
    cell = (gauge.high - gauge.low) / (high - low)
    assert abs(gauge.low + (star - low) * cell - value) <= 2 * cell, bar


@each(lambda one: bool(one.aside.keys.note))
def test_what_a_key_did_not_do_is_said_whole(one: Taken) -> None:
    assert flat(one.aside.keys.note) in seen(one)


@each(on_list)
def test_what_was_refused_and_why_stands_whole(one: Taken) -> None:
    for message in one.aside.messages:
        if message.urgent or message.kind is Voice.REFUSED:
            assert flat(message.text) in seen(one)


@each(lambda one: on_list(one) and one.view.prompt is Prompt.FIRST_PAGE)
def test_the_first_page_says_who_has_still_to_read(one: Taken) -> None:
    for role in one.view.unread:
        assert flat(role) in seen(one)


@pytest.mark.parametrize("size", SIZES)
def test_turning_on_the_first_page_shows_all_of_it(size: Size) -> None:
    """What is compared stands first; every defect, changed document and note of the machine is
    reached by one key, and behind the last sheet stands the first again."""
    start = Start(opening=EVERYTHING)
    seat = play(Scene("", "", start), size)
    first = flat(text(seat.rows(DAY)))
    assert flat(f"{seat.view.aircraft} {REGISTRATION}") in first
    assert "PLACARD" in first
    sheets = [first]
    while len(sheets) < 30:
        seat.press("0")
        sheets.append(flat(text(seat.rows(DAY))))
        if sheets[-1] == first:
            break
    whole = " ".join(sheets)
    wanted = [*seat.view.defects, *EVERYTHING.machine, *(name for _, name in seat.view.crew)]
    wanted += [paper.title for paper in EVERYTHING.papers if paper.changed_for]
    for words in (*wanted, "approved flight manual"):
        assert flat(words) in whole


@each(lambda one: on_list(one) and one.view.prompt is Prompt.STANDBY)
def test_standby_says_where_it_is_held_and_how_long(one: Taken) -> None:
    assert flat(one.view.standby_place) in seen(one)
    assert re.search(r"STANDBY \d+:\d\d", seen(one))


@each(lambda one: on_list(one) and one.view.prompt is Prompt.CLOSED)
def test_the_end_says_the_code_of_the_log(one: Taken) -> None:
    assert one.aside.head_code in seen(one)


@each(lambda one: one.aside.keys.page is Page.ACCEPT_SURE)
def test_the_second_key_of_an_acceptance_says_what_is_accepted(one: Taken) -> None:
    for words in (f"{one.view.number} {one.view.challenge}", one.aside.keys.reason):
        assert flat(words) in seen(one)
    emergency = one.view.accept_class == "emergency only"
    assert ("EMERGENCY ONLY" in seen(one)) == emergency
