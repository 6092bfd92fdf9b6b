"""The full screen at three sizes: nothing that matters is cut, whatever the prompt."""

from __future__ import annotations

import re
from types import ModuleType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine.effects import Prompt, Voice
from runner.terminal.aside import Aside, Message, Size
from runner.terminal.clock import Clock
from runner.terminal.keys import settle
from runner.terminal.keystate import KeyState, Page
from runner.terminal.layout import screen
from runner.terminal.rows import Tone, row_cells, row_text, text

SIZES = [Size(40, 12), Size(80, 24), Size(120, 40)]
NOW = 60_000


@pytest.fixture
def draw(fakes: ModuleType) -> Any:
    def make(size: Size, aside: Aside | None = None, **changes: Any) -> str:
        beside_it = aside or Aside(listen=fakes.listen(), registration="G-TVSA")
        rows = screen(fakes.view(**changes), Clock(fakes.UTC_AT_ZERO, NOW), size, beside_it)
        assert len(rows) == size.rows
        assert {row_cells(row) for row in rows} == {size.columns}
        return " ".join(text(rows).split())

    return make


@pytest.mark.parametrize("size", SIZES, ids=str)
class TestEverySize:
    def test_asking(self, draw: Any, size: Size) -> None:
        seen = draw(size)
        for part in (
            "DEMONSTRATION", "BEFORE START", "6 OF 12 IN THIS LIST", "34 ROTOR BRAKE",
            "HANDLING (COMMANDER): RELEASED", "33 Fuel selector ..", ".. BOTH", "35 Wheel brakes",
            "AS SHOWN +", "NOT SO -", "DRILLS *",
        ):  # fmt: skip
            assert part in seen

    def test_long_challenge_is_never_cut(self, draw: Any, size: Size) -> None:
        words = "Left magneto drop at base speed with the servo system selected to number two"
        assert words.upper() in draw(size, challenge=words)

    def test_reading_says_limit_value_and_distance(
        self, draw: Any, fakes: ModuleType, size: Size
    ) -> None:
        aside = Aside(listen=fakes.number(), keys=KeyState(typed="160"))
        seen = draw(size, aside, gauge=fakes.GAUGE, response="1550 TO 1650 RPM")
        for part in ("LIMIT 1550 TO 1650 RPM", "READ 1500 rpm, 50 rpm TOO LOW", "TYPED 160 rpm"):
            assert part in seen
        assert seen.count("1550 TO 1650 RPM") == 1
        assert re.search(r"\*-+\[=+\]", seen)

    def test_the_worst_of_everything(self, draw: Any, fakes: ModuleType, size: Size) -> None:
        aside = Aside(
            listen=fakes.number(),
            bands=("RECORDING LOST, LIST CONTINUES",),
            keys=KeyState(typed="160"),
            messages=(Message("1500 RPM is out of limits", Voice.REFUSED),),
        )
        seen = draw(
            size,
            aside,
            prompt=Prompt.UNMET,
            modes=("demonstration", "solo"),
            airborne=True,
            challenge="Engine RPM",
            gauge=fakes.GAUGE,
            running=(fakes.LONG_WAIT, fakes.BY_TIME),
            put_off=fakes.PUT_OFF,
            unmet_why="below 1550 rpm",
            options=("PUT OFF", "DRILL OIL PRESSURE LOW"),
            flags=("Oil temperature corrected behind a closed list",),
        )
        for part in (
            "DEMONSTRATION | SOLO: NOT CREW-VERIFIED", "IN FLIGHT",
            "RECORDING LOST, LIST CONTINUES", "LIMIT 1550 TO 1650 RPM", "50 rpm TOO LOW",
            "BY-TIME 0:20 LEFT: Oil pressure after firing", "TYPED 160 rpm", "NOT MET",
        ):  # fmt: skip
            assert part in seen

    def test_by_time_over_comes_first_and_is_a_warning(self, fakes: ModuleType, size: Size) -> None:
        over = fakes.BY_TIME._replace(ends=NOW - 5_000, over=True)
        view = fakes.view(running=(fakes.LONG_WAIT, over), drill_hint="Oil pressure low")
        rows = screen(view, Clock(0, NOW), size)
        warned = " ".join(span.text for row in rows for span in row if span.tone is Tone.WARNING)
        assert "TIME OVER 0:05: Oil pressure after firing" in " ".join(warned.split())
        assert "DRILL FOR THIS: Oil pressure low" in " ".join(warned.split())

    def test_choices_are_numbered(self, draw: Any, size: Size) -> None:
        seen = draw(size, options=("FIRING", "NOT FIRING", "FIRE"), response="FIRING / NOT FIRING")
        assert "1 FIRING 2 NOT FIRING 3 FIRE" in seen

    def test_choices_beside_a_value_are_behind_the_point(
        self, draw: Any, fakes: ModuleType, size: Size
    ) -> None:
        offered = ("WAIT ON", "DISCONTINUE")
        seen = draw(size, prompt=Prompt.CHOOSING, gauge=fakes.GAUGE, options=offered)
        assert "PRESS . THEN: 1 WAIT ON 2 DISCONTINUE" in seen

    def test_read_back(self, draw: Any, size: Size) -> None:
        seen = draw(size, prompt=Prompt.READ_BACK, read_back="1500")
        assert "READ BACK: 1500" in seen
        assert "AFFIRM +" in seen

    def test_caution(self, draw: Any, size: Size) -> None:
        seen = draw(size, prompt=Prompt.CAUTION, challenge="Head above 150 °C", response="ROGER")
        assert "CAUTION" in seen
        assert "ROGER +" in seen

    def test_waiting_shows_the_time_left_once_and_large(
        self, draw: Any, fakes: ModuleType, size: Size
    ) -> None:
        seen = draw(size, prompt=Prompt.WAITING, running=(fakes.LONG_WAIT,), response="120 S")
        assert seen.count("1:23 LEFT") == 1

    def test_standby_shows_place_and_elapsed_time(
        self, draw: Any, fakes: ModuleType, size: Size
    ) -> None:
        seen = draw(
            size,
            prompt=Prompt.STANDBY,
            standby_since=10_000,
            standby_place="Before start 34: Rotor brake",
            running=(fakes.LONG_WAIT,),
        )
        assert "STANDBY 0:50" in seen
        assert "HELD AT BEFORE START 34: ROTOR BRAKE" in seen
        assert "WAIT 1:23 LEFT: Clutch oil drains" in seen

    def test_both_look(self, draw: Any, size: Size) -> None:
        seen = draw(size, who="both", waiting_for=("copilot",), critical=True)
        assert "TO LOOK: 2 COPILOT" in seen
        assert "CRITICAL" in seen

    def test_closing_names_what_is_open(self, draw: Any, fakes: ModuleType, size: Size) -> None:
        drain, heater = fakes.PUT_OFF
        here = (drain._replace(key="before_start.drain"), heater._replace(key="before_start.heat"))
        there = drain._replace(key="cabin.drain")
        closing = {"prompt": Prompt.CLOSING, "response": "CLOSED"}
        seen = draw(size, **closing, open_lines=(*here, there))
        assert "BEFORE START, 2 OPEN: 12 Right side fuel drain, 28 Cabin heater" in seen
        assert "1 OPEN IN OTHER LISTS" in seen
        seen = draw(size, **closing, open_lines=(there,))
        assert "BEFORE START, NONE OPEN" in seen
        assert "1 OPEN IN OTHER LISTS" in seen

    def test_put_off_says_where_it_comes_back(
        self, draw: Any, fakes: ModuleType, size: Size
    ) -> None:
        seen = draw(size, put_off=fakes.PUT_OFF[:1])
        assert "PUT OFF: 12 Right side fuel drain, back before Rotor engagement" in seen
        assert "PUT OFF" in draw(size, put_off=fakes.PUT_OFF)

    def test_a_refusal_is_whole(self, draw: Any, size: Size) -> None:
        said = "This step cannot be put off: it stands before the rotor is engaged, answer it"
        aside = Aside(messages=(Message(said, Voice.REFUSED),))
        assert f"REFUSED: {said}" in draw(size, aside)

    def test_waits_visibly_after_its_repeats(self, draw: Any, size: Size) -> None:
        assert "CALLED 3 TIMES, WAITING 1:05" in draw(size, Aside(waited=65_000, calls=3))


def test_typed_words_are_whole_at_the_default_size(draw: Any) -> None:
    aside = Aside(keys=KeyState(line="snag vibration in the left pedal at high rpm"))
    assert "WORDS snag vibration in the left pedal at high rpm" in draw(Size(40, 12), aside)


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("bands", [(), ("RECORDING LOST, LIST CONTINUES",)])
def test_the_challenge_stands_at_one_row_whatever_is_around_it(
    fakes: ModuleType, size: Size, bands: tuple[str, ...]
) -> None:
    """The eye finds it where it was: neighbours, timers, a message and a limit do not move it."""
    heard = (Message("SIX", Voice.ECHO),)
    around: list[dict[str, Any]] = [
        {}, {"before": ()}, {"before": fakes.view().before[:1], "after": ()},
        {"running": (fakes.LONG_WAIT, fakes.BY_TIME)}, {"put_off": fakes.PUT_OFF},
        {"gauge": fakes.GAUGE, "prompt": Prompt.UNMET}, {"prompt": Prompt.CAUTION},
        {"critical": True, "who": "both", "waiting_for": ("copilot",)},
        {"snags": ("vibration",), "defects": ("lamp",), "section": ""},
    ]  # fmt: skip
    found = set()
    for changes in around:
        aside = Aside(listen=fakes.listen(), bands=bands, messages=heard)
        rows = screen(fakes.view(**changes), Clock(fakes.UTC_AT_ZERO, NOW), size, aside)
        found.add(next(n for n, row in enumerate(rows) if row_text(row).startswith("34 ROTOR")))
    assert len(found) == 1


def test_wide_screen_shows_the_lists_of_the_day(draw: Any) -> None:
    seen = draw(Size(120, 40))
    assert "DONE 07:40 UTC, STILL VALID" in seen
    assert "NOT REQUIRED: NO HOOK" in seen


def test_what_runs_yields_to_nothing(draw: Any, fakes: ModuleType) -> None:
    """The neighbours leave before a running by-time does."""
    seen = draw(Size(40, 8), running=(fakes.BY_TIME,))
    assert "BY-TIME 0:20 LEFT: Oil pressure after firing" in seen


def test_the_star_lies_on_the_side_of_its_value(fakes: ModuleType) -> None:
    from decimal import Decimal

    from runner.terminal.gauge import gauge_bar

    def bar(value: str) -> str:
        return gauge_bar(fakes.GAUGE._replace(value=value), 40)

    for low in ("0", "1500", "1549"):
        assert bar(low).index("*") < bar(low).index("[")
    for inside in ("1550", "1600", "1650"):
        assert bar(inside).index("[") < bar(inside).index("*") < bar(inside).index("]")
    for high in ("1651", "3000"):
        assert bar(high).index("*") > bar(high).index("]")
    below = fakes.GAUGE._replace(low=None, high=Decimal(150), value="151")
    assert gauge_bar(below, 40).index("*") > gauge_bar(below, 40).index("]")
    assert gauge_bar(fakes.GAUGE._replace(value=""), 40) == ""
    assert gauge_bar(fakes.GAUGE._replace(value="NaN"), 40) == ""


@pytest.mark.parametrize("size", [Size(40, 12), Size(80, 24)], ids=str)
def test_a_value_in_its_limit_that_came_too_late_says_so(fakes: ModuleType, size: Size) -> None:
    gauge = fakes.GAUGE._replace(value="1600")
    view = fakes.view(prompt=Prompt.UNMET, unmet_why="late", gauge=gauge)
    drawn = " ".join(row_text(row) for row in screen(view, Clock(0, NOW), size, Aside()))
    assert "too late" in drawn


WORDS = st.text(st.sampled_from("abcdefg °é日-:1 "), max_size=120)


@settings(max_examples=150, deadline=None)
@given(
    columns=st.integers(10, 150),
    rows=st.integers(1, 50),
    prompt=st.sampled_from(list(Prompt)),
    page=st.sampled_from(list(Page)),
    challenge=WORDS,
    said=WORDS,
    typed=st.one_of(st.none(), WORDS),
)
def test_any_size_and_text_fills_exactly_the_screen(
    fakes: ModuleType,
    columns: int,
    rows: int,
    prompt: Prompt,
    page: Page,
    challenge: str,
    said: str,
    typed: str | None,
) -> None:
    view = fakes.view(
        prompt=prompt,
        challenge=challenge,
        unmet_why=said,
        gauge=fakes.GAUGE,
        items=fakes.STATION,
        memory=fakes.MEMORY,
        running=(fakes.LONG_WAIT, fakes.BY_TIME),
        put_off=fakes.PUT_OFF,
    )
    keys = settle(KeyState(line=typed, page=page), view, 0)
    drawn = screen(view, Clock(0, NOW), Size(columns, rows), Aside(keys=keys))
    assert len(drawn) == rows
    assert {row_cells(row) for row in drawn} == {columns}
    assert not any("\n" in row_text(row) for row in drawn)


@pytest.mark.parametrize(
    "changes",
    [
        {"notes": ("Cool at 1400 to 1500 rpm, gills open, nose into wind",)},
        {"prompt": Prompt.UNMET, "accept_class": "commander may accept"},
        {"prompt": Prompt.UNMET, "may_put_off": False},
    ],
)
def test_a_note_and_a_limit_not_met_leave_the_challenge_its_large_letters(
    draw: Any, fakes: ModuleType, changes: dict[str, Any]
) -> None:
    gauge = fakes.GAUGE._replace(value="1500" if "prompt" in changes else "")
    small = {"gauge": gauge, "response": "1550 TO 1650 RPM", "may_begin_next": False}
    aside = Aside(listen=fakes.number())
    seen = draw(Size(40, 12), aside, **{**small, **changes}, challenge="Engine RPM")
    assert "█▀▀ █▄ █ ▄▀▀ ▀█▀ █▄ █ █▀▀ █▀▄ █▀▄ █▄ ▄█" in seen
    for part in ("34 ENGINE RPM", "HANDLING (COMMANDER) ANSWERS"):
        assert part in seen
    if "notes" in changes:
        assert "NOTE: Cool at 1400 to 1500 rpm, gills open, nose into wind" in seen
    else:
        assert "READ 1500 rpm, 50 rpm TOO LOW" in seen
        assert "NOT MET" in seen
    assert ("COMMANDER MAY ACCEPT: F8" in seen) == ("accept_class" in changes)
