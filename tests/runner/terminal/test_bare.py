"""What stands where the screen itself could not be drawn."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine.effects import Voice
from runner.terminal import bare
from runner.terminal.aside import Aside, Message, Size
from runner.terminal.bare import FAILED, drawn, our_fault
from runner.terminal.clock import Clock
from runner.terminal.fullscreen import FullScreen
from runner.terminal.keystate import KeyState, Page
from runner.terminal.rows import row_cells

CLOCK = Clock(0, 0)


def broken(*_: object, **__: object) -> Any:
    raise RuntimeError("no room\n\x1b[2J")


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bare, "screen", broken)


def texts(rows: Any) -> list[str]:
    return ["".join(span.text for span in row).rstrip() for row in rows]


def test_a_screen_that_can_be_drawn_is_drawn(fakes: Any) -> None:
    rows = drawn(fakes.view(), CLOCK, Size(40, 12), Aside())
    assert FAILED not in " ".join(texts(rows))
    assert "ROTOR BRAKE" in " ".join(texts(rows))


@pytest.mark.usefixtures("failing")
def test_the_question_the_choices_and_what_is_typed_stand_there(fakes: Any) -> None:
    aside = Aside(
        keys=KeyState(typed="16", note="KEY HELD", page=Page.DRILLS), bands=("RECORDING LOST",),
        messages=(Message("1500 does not answer", Voice.REFUSED),),
    )  # fmt: skip
    view = fakes.view(options=("closed", "not closed"))
    assert texts(drawn(view, CLOCK, Size(40, 14), aside)) == [
        FAILED, "RECORDING LOST", "BEFORE START LEVERS AND BRAKES", "34 ROTOR BRAKE",
        "HANDLING: RELEASED", "1 CLOSED", "2 NOT CLOSED", "PAGE OPEN: DRILLS; / CLOSES IT",
        "> 16_", "KEY HELD", "1500 DOES NOT ANSWER", "A FAULT OF THE PROGRAM (RUNTIMEERROR);",
        "THE LIST STANDS WHERE IT STOOD. GO ON,", "BY CARD IF IT COMES AGAIN",
    ]  # fmt: skip


def test_a_fault_says_what_happened_what_is_lost_and_what_to_do_and_nothing_of_its_own() -> None:
    said = our_fault(KeyError("self._x"))
    assert "KeyError" in said
    assert "_x" not in said
    assert "GO ON, BY CARD" in said
    assert our_fault(None).startswith("A FAULT OF THE PROGRAM (no name)")


@pytest.mark.usefixtures("failing")
def test_all_memory_items_stand_there(fakes: Any) -> None:
    view = fakes.view(is_drill=True, memory=("Starter: LET GO", "Magnetos: OFF", "Mixture: OFF"))
    said = texts(drawn(view, CLOCK, Size(40, 12), Aside()))
    assert said[4:7] == ["STARTER: LET GO", "MAGNETOS: OFF", "MIXTURE: OFF"]


@given(st.integers(1, 60), st.integers(1, 20), st.text(max_size=100))
def test_rows_are_of_the_size_asked_for(fakes: Any, columns: int, lines: int, text: str) -> None:
    view = fakes.view(challenge=text, response=text, memory=(text,))
    rows = bare.bare(view, Size(columns, lines), Aside(), ValueError(text))
    assert len(rows) == lines
    assert all(len("".join(span.text for span in row)) == columns for row in rows)


@pytest.mark.parametrize("columns", [20, 40, 80])
def test_an_ordinary_text_is_as_wide_as_the_screen(fakes: Any, columns: int) -> None:
    rows = bare.bare(fakes.view(), Size(columns, 12), Aside(), ValueError("x"))
    assert {row_cells(row) for row in rows} == {columns}


def test_a_fault_between_drawings_reaches_the_screen_in_our_words() -> None:
    shell: Any = FullScreen()
    shell._fault(None, {"exception": KeyError("self._x"), "message": "Exception in callback"})
    (said,) = shell._messages
    assert (said.text, said.kind) == (our_fault(KeyError()), Voice.REFUSED)


def test_a_screen_that_fails_on_and_on_ends_with_what_is_to_be_reported() -> None:
    """The screen is gone then: what the fault says of itself helps who mends it."""
    shell: Any = FullScreen()
    while shell._ended is None:
        shell._fault(None, {"exception": RuntimeError("no room\n\x1b[2J"), "message": ""})
    assert shell._ended.why.startswith("the screen failed (RuntimeError: no room")
    assert shell._ended.why.isprintable()
