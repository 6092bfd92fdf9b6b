"""Every outcome has words, every refusal a sentence that is complete, every number its digits."""

from __future__ import annotations

import string
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.folder import LogFolder
from runner.engine.cells import BEFORE, CELLS
from runner.engine.effects import Effect, Listen, Say, Show, Voice
from runner.engine.events import Answer
from runner.engine.outcomes import OUTCOMES, REFUSALS, Outcome, sentence
from runner.engine.state import initial
from runner.engine.table import Table
from runner.flow.loader import load_aircraft
from runner.host.stepping import step
from runner.words.calls import TELLERS, effects, spoken, tell
from tests.runner.host.support import AnyCrew, FakeClock, begin, people, table

DETAILED = {"choose", "affirm or negative"}


def test_every_outcome_has_a_teller_and_no_teller_is_left_over() -> None:
    # A refusal has a sentence; a fault of ours is an outcome of the host, not of the engine.
    assert set(TELLERS) == set(OUTCOMES) - {"refused"} | {"fault"}


@cache
def shipped() -> Table:
    """The documents that come with the program."""
    return load_aircraft(Path(__file__).parents[3] / "flows" / "corvane_c4").table


def responses() -> set[str]:
    """Whatever answers a step of the shipped documents, in capitals."""
    return {
        text.upper()
        for step in shipped().steps.values()
        for text in (step.response, *step.variants, *(c.text for c in step.choices))
        if text
    }


def _places(text: str) -> int:
    return sum(1 for _, name, _, _ in string.Formatter().parse(text) if name is not None)


@pytest.mark.parametrize("code", sorted(REFUSALS))
def test_every_refusal_is_a_sentence(code: str) -> None:
    details = ("X9", "Y8", "Z7", "W6")[: _places(REFUSALS[code])]
    told = tell(table(), ("refused", code, *details))
    assert told is not None
    assert told.kind is Voice.REFUSED
    assert told.text[0].isupper()
    assert told.text[-1] in '.:"'
    assert "{" not in told.text
    assert told.text == sentence(code, details)


def test_a_refusal_straight_from_the_table_needs_no_details() -> None:
    codes = {cell for row in (*CELLS.values(), BEFORE) for cell in row.values()}
    for code in codes:
        if isinstance(code, str) and code not in DETAILED:
            assert _places(REFUSALS[code]) == 0, code


def _whole(said: tuple[Effect, ...]) -> None:
    for effect in said:
        if isinstance(effect, Say):
            assert effect.text.strip() == effect.text
            assert effect.text
            assert not set("{}_") & set(effect.text), effect.text
            assert "  " not in effect.text
            assert " ," not in effect.text
    if any(isinstance(e, Show) for e in said):
        assert isinstance(said[-1], Listen)


@pytest.mark.parametrize("seed", range(25))
def test_whatever_happens_is_told_whole(seed: int, tmp_path: Path) -> None:
    clock = FakeClock()
    crew = AnyCrew(seed)
    heard: list[tuple[Effect, ...]] = []
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, people())
        run.subscribe(heard.append)
        for _ in range(60):
            heard.clear()
            clock.go(crew.pause())
            run.say_line(crew.line(run))
            for said in heard:
                _whole(said)
        run.stop()


@pytest.mark.parametrize(
    # Digit by digit, decimals with DECIMAL: ICAO Annex 10 Volume II, 5.2.1.4.1 and 5.2.1.4.2.
    ("text", "said"),
    [
        ("1600", "ONE SIX ZERO ZERO"), ("29.92", "TWO NINE DECIMAL NINE TWO"),
        ("-5", "MINUS FIVE"), ("54.0", "FIVE FOUR DECIMAL ZERO"), ("0", "ZERO"),
        ("below 80", "BELOW EIGHT ZERO"), ("above 40.5", "ABOVE FOUR ZERO DECIMAL FIVE"),
        ("drop 80", "DROP EIGHT ZERO"), ("RELEASED", "RELEASED"), ("off and stowed",
                                                                   "OFF AND STOWED"),
        ("NAN", "NAN"), ("INFINITY", "INFINITY"), ("1E5", "1E5"), ("1_000", "1_000"), ("", ""),
        ("below the line", "BELOW THE LINE"), ("9" * 300, "9" * 300),
    ],
)  # fmt: skip
def test_values_are_said_digit_by_digit_and_words_as_they_are(text: str, said: str) -> None:
    assert spoken(text) == said


@given(st.text(max_size=210))
def test_any_text_can_be_said(text: str) -> None:
    assert isinstance(spoken(text), str)


@given(st.decimals(-10_000, 10_000, places=2))
def test_what_is_said_of_a_number_holds_its_digits(value: object) -> None:
    digits = "".join(c for c in f"{value}" if c.isdigit())
    words = [w for w in spoken(f"{value}").split() if w not in ("MINUS", "DECIMAL")]
    names = ["ZERO", "ONE", "TWO", "THREE", "FOUR", "FIVE", "SIX", "SEVEN", "EIGHT", "NINE"]
    assert "".join(str(names.index(w)) for w in words) == digits


def test_a_fault_of_ours_is_said_and_changes_nothing() -> None:
    before = initial()
    outcome: Outcome = (("fault", "TypeError"),)
    said = effects(table(), before, Answer(0, 0, value="X"), outcome, before)
    assert any(isinstance(s, Say) and "FAULT OF THE PROGRAM (TypeError)" in s.text for s in said)
    _, refused = step(table(), before, Answer(0, 0, value="X"))
    assert refused == (("refused", "not opened"),)


@pytest.mark.parametrize(
    ("item", "said"),
    [
        (("happened", "refuelled"), "REFUELLED"),
        (("happened", "refuelled", "outside"), "REFUELLED, TO BE DONE AGAIN: OUTSIDE"),
        (("happened", "flight", "outside"), "TO BE DONE AGAIN: OUTSIDE"),
        (("happened", "flight"), None),
        (("lapsed", "outside"), "NO LONGER VALID, FOR THE NEXT FLIGHT: OUTSIDE"),
    ],
)
def test_what_happened_is_said_once_with_what_it_undoes(
    item: tuple[str, ...], said: str | None
) -> None:
    told = tell(table(), item)
    assert (told.text if told is not None else None) == said


def test_what_was_open_at_lift_off_is_named_or_counted() -> None:
    """The outcome names nine at most; what it does not name is counted, never passed over."""
    names = tuple(f"Item {n}" for n in range(9))
    told = tell(table(), ("lifted", "13", "0", *names))
    assert told is not None
    assert told.text == f"LIFTED, 13 OPEN: {', '.join(names)} AND 4 MORE"
    told = tell(table(), ("lifted", "2", "0", "Oil temperature", "Oil pressure"))
    assert told is not None
    assert told.text == "LIFTED, 2 OPEN: Oil temperature, Oil pressure"
    told = tell(table(), ("lifted", "1", "2", "outside", "start", "Oil pressure"))
    assert told is not None
    assert told.text == "LIFTED, 2 LISTS NOT BEGUN, 1 OPEN: OUTSIDE, START, Oil pressure"
    told = tell(table(), ("lifted", "4", "8", *["start"] * 8, *names[:4]))
    assert told is not None
    assert told.text.startswith("LIFTED, 8 LISTS NOT BEGUN, 4 OPEN: START, START")
    assert told.text.endswith("START, Item 0 AND 3 MORE")
    told = tell(table(), ("lifted", "0", "1", "start"))
    assert told is not None
    assert told.text == "LIFTED, 1 LIST NOT BEGUN: START"


def test_what_is_not_so_is_said_in_words_that_answer_no_step() -> None:
    """Cooling gills are asked for OPEN: "not so, open" would give the position asked for."""
    gills = next(s for s in shipped().steps.values() if s.response == "OPEN")
    told = tell(shipped(), ("unmet", gills.id, "not so"))
    assert told is not None
    assert told.text == f"{gills.challenge}: NOT SO, STILL ASKED"
    assert not {part.strip() for part in told.text.partition(":")[2].split(",")} & responses()


def test_what_is_read_back_is_said_again_when_it_is_asked_for_again(tmp_path: Path) -> None:
    crew, clock = people(), FakeClock()
    said: list[str] = []
    with LogFolder.open(tmp_path / "logs") as folder:
        run = begin(folder, clock, crew)
        run.subscribe(lambda found: said.extend(e.text for e in found if isinstance(e, Say)))
        for line in ("commander: page read", "copilot: page read", "tick hook", "tick tie-downs",
                     "tick nose cowl latches", "closed", "roger", "released", "unsure: engaged",
                     "say again"):  # fmt: skip
            clock.go(1000)
            run.say_line(line)
        run.stop()
    assert run.view().read_back == "ENGAGED"
    once, again = said[-2:]
    assert once == again
    assert once.endswith(": ENGAGED. AFFIRM?")
