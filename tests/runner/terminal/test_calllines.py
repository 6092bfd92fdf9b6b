"""The call of the plain mode: nothing twice, nothing that would not be taken."""

from __future__ import annotations

from types import ModuleType

import pytest

from runner.engine.effects import Prompt
from runner.terminal.calllines import call
from runner.terminal.clock import Clock
from runner.terminal.lines import changed, place

INSTEAD = "INSTEAD OF THE VALUE: "
UNDER = " and a number, for a value that is under it"
OVER = " and a number, for a value that is over it"


@pytest.fixture
def clock(fakes: ModuleType) -> Clock:
    return Clock(fakes.UTC_AT_ZERO, 60_000)


@pytest.mark.parametrize(
    ("low", "high", "offered"),
    [(True, False, [f"{INSTEAD}above{OVER}"]), (False, True, [f"{INSTEAD}below{UNDER}"]),
     (True, True, [])],
)  # fmt: skip
def test_a_side_is_offered_only_where_it_can_meet_the_limit(
    fakes: ModuleType, clock: Clock, offered: list[str], *, low: bool, high: bool
) -> None:
    gauge = fakes.GAUGE._replace(
        low=fakes.GAUGE.low if low else None, high=fakes.GAUGE.high if high else None
    )
    lines = call(fakes.view(gauge=gauge), fakes.number(thresholds=True), clock)
    assert [line for line in lines if line.startswith(INSTEAD)] == offered


def test_a_drop_is_offered_beside_a_side(fakes: ModuleType, clock: Clock) -> None:
    gauge = fakes.GAUGE._replace(low=None)
    lines = call(fakes.view(gauge=gauge), fakes.number(thresholds=True, drops=True), clock)
    assert f"{INSTEAD}below{UNDER}; or drop and a number, for how far it fell" in lines


def test_a_caution_names_the_words_that_answer_it(fakes: ModuleType, clock: Clock) -> None:
    heard = fakes.listen(responses=("ROGER", "NEVER FORCE"))
    lines = call(fakes.view(prompt=Prompt.CAUTION, challenge="Hard, never force"), heard, clock)
    assert lines[1] == (
        "CAUTION 34 HANDLING (COMMANDER): Hard, never force; answer ROGER or NEVER FORCE"
        " (6 of 12 in this list)"
    )
    assert sum("never force" in line for line in lines) == 1


def test_a_read_back_says_limit_and_distance_and_not_the_call_again(
    fakes: ModuleType, clock: Clock
) -> None:
    view = fakes.view(prompt=Prompt.READ_BACK, gauge=fakes.GAUGE, read_back="1500", section="")
    assert call(view, fakes.number(), clock) == [
        "LIMIT: 1550 TO 1650 RPM, 50 rpm TOO LOW",
        "CALL: affirm? answer affirm, not so, or the value again",
    ]


def test_a_closing_call_is_held_by_its_own_list_and_says_what_is_open_beside(
    fakes: ModuleType, clock: Clock
) -> None:
    lines = fakes.KEPT["open_lines"][2:]
    view = fakes.view(prompt=Prompt.CLOSING, open_lines=lines)
    said = call(view, fakes.listen(), clock)
    assert "OPEN: BEFORE START, 1 OPEN: 35 Wheel brakes" in said
    assert "OPEN BESIDE THIS LIST: Start 1" in said
    drill = call(view._replace(is_drill=True, flow="fire", title="Fire"), fakes.listen(), clock)
    assert not any(line.startswith("OPEN") for line in drill)


def test_only_a_maintenance_entry_clears_what_nobody_accepts(
    fakes: ModuleType, clock: Clock
) -> None:
    view = fakes.view(unmet_why="unable", accept_class="maintenance only")
    said = call(view, fakes.listen(), clock)
    assert "NOBODY ACCEPTS THIS: only a maintenance entry clears it" in said
    emergency = call(view._replace(accept_class="emergency only"), fakes.listen(), clock)
    assert any('accept emergency "REASON"' in line for line in emergency)
    assert not any(line.startswith("REASON") for line in emergency)


def test_a_ticked_item_says_so_once_and_a_fault_is_one(fakes: ModuleType, clock: Clock) -> None:
    view = fakes.view(prompt=Prompt.STATION, items=fakes.STATION)
    said = call(view, fakes.listen(), clock)
    assert "ITEM 1, TICKED: Nose cowl latches; SECURE" in said
    assert "ITEM 5, FAULT: Nose wheel tyre; SERVICEABLE" in said


def test_memory_items_come_before_everything_that_can_wait(fakes: ModuleType, clock: Clock) -> None:
    drill = fakes.view(
        ask=8, prompt=Prompt.MEMORY_ITEMS, is_drill=True, flow="fire", title="Fire in start",
        memory=fakes.MEMORY, snags=("smoke",), running=(fakes.BY_TIME,),
    )  # fmt: skip
    said = changed(fakes.view(), drill, fakes.listen(), clock)
    assert said[0].startswith("DRILL: FIRE IN START")
    assert said[1] == "MEMORY ITEM 1: Starter KEEP ENGAGED"
    assert said.index("SNAG: smoke") > said.index("CALL: memory items done?"
                                                  " answer memory items done")  # fmt: skip


def test_what_was_told_of_a_list_or_a_clock_is_not_said_by_the_view_again(
    fakes: ModuleType, clock: Clock
) -> None:
    old = fakes.view(running=(fakes.BY_TIME,), lists=fakes.LISTS[:1])
    new = fakes.view(lists=fakes.LISTS)
    told = ("OUTSIDE INSPECTION LIST CLOSED, NONE OPEN", "IN TIME: Oil pressure after firing")
    said = changed(old, new, fakes.listen(), clock, told)
    assert said == ["LIST STATUS: Cargo hook, NOT REQUIRED: NO HOOK"]
    assert "BY-TIME: Oil pressure after firing, ended" in changed(old, new, fakes.listen(), clock)


def test_the_heading_of_the_first_list_waits_for_the_first_page(
    fakes: ModuleType, clock: Clock
) -> None:
    page = fakes.view(prompt=Prompt.FIRST_PAGE, unread=("commander", "copilot"))
    first = changed(None, page, fakes.listen(), clock)
    assert not any(line.startswith("LIST: ") for line in first)
    half = page._replace(unread=("copilot",))
    assert changed(page, half, fakes.listen(), clock) == [
        "PAGE: still to read it: copilot; answer each with their role: copilot: page read"
    ]
    assert changed(half, fakes.view(ask=8), fakes.listen(), clock)[0] == (
        "LIST: BEFORE START, 12 in this list"
    )


def test_a_place_is_the_same_for_every_item_of_a_station(fakes: ModuleType) -> None:
    one = fakes.view(prompt=Prompt.STATION, number=40)
    assert place(one) == place(one._replace(number=41, challenge="Strut"))
    assert place(fakes.view()) != place(fakes.view(number=35))
