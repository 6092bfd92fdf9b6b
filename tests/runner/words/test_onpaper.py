"""What a range of the card done on paper did: the steps it did and those still asked, by number."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine import events as ev
from runner.engine.effects import Say, Voice
from runner.engine.state import How, ordinary
from runner.words.calls import effects
from runner.words.onpaper import ranges
from tests.runner.engine.crew import Crew


def said(crew: Crew, first: int, last: int) -> str:
    """What is said of a range, the event sent."""
    before, event = crew.run.state, ev.OnPaper(crew.at, first=first, last=last, revision="3")
    outcome = crew.send(event)
    assert ("paper", str(first), str(last)) in outcome, "the outcome is what it always was"
    told = effects(crew.table, before, event, outcome, crew.run.state)
    texts = [t.text for t in told if isinstance(t, Say) and t.kind is Voice.OUTCOME]
    return next(text for text in texts if text.startswith("ON PAPER"))


def numbers(text: str, label: str) -> set[int]:
    """The numbers behind a label, ranges counted out."""
    part = next((p for p in text.split("; ") if p.startswith(label)), f"{label}: ")
    found: set[int] = set()
    for one in part.removeprefix(f"{label}: ").split(", "):
        low, _, high = one.partition(" TO ")
        if low.isdigit():
            found |= set(range(int(low), int(high or low) + 1))
    return found


def test_what_was_done_and_what_is_still_asked_are_told_apart() -> None:
    crew = Crew().until("prepare.doors")
    steps = crew.table.flows["prepare"].steps
    text = said(crew, steps[0].number, steps[-1].number)
    latches = crew.run.state.visits[0].latches
    paper = {s.number for s, v in zip(steps, latches, strict=True) if v.how is How.ON_PAPER}
    asked = {s.number for s, v in zip(steps, latches, strict=True)
             if s.asked and v.how in (How.OPEN, How.UNMET)}  # fmt: skip
    assert paper
    assert asked
    assert numbers(text, "ON PAPER") == paper
    assert numbers(text, "STILL ASKED") == asked


def test_a_list_to_come_is_told_by_what_paper_will_do_for_it() -> None:
    crew = Crew().until("prepare.doors")
    state = crew.run.state
    come = next(f for f in state.plan if f not in {visit.flow for visit in state.visits})
    steps = [step for step in crew.table.flows[come].steps if step.asked]
    text = said(crew, steps[0].number, steps[-1].number)
    assert numbers(text, "ON PAPER") == {s.number for s in steps if ordinary(s)}
    assert numbers(text, "STILL ASKED") == {s.number for s in steps if not ordinary(s)}


def test_a_range_that_paper_did_nothing_of_says_none() -> None:
    crew = Crew().until("prepare.doors")
    limit = next(s for s in crew.table.flows["prepare"].steps if s.limit is not None)
    text = said(crew, limit.number, limit.number)
    assert text == f"ON PAPER: NONE; STILL ASKED: {limit.number}"


@pytest.mark.parametrize(
    ("given_", "text"),
    [
        ((), ""), ((5,), "5"), ((158, 159), "158, 159"), ((160, 157, 161), "157, 160, 161"),
        ((31, 32, 33, 36, 38, 39), "31 TO 33, 36, 38, 39"), ((1, 2, 3, 4), "1 TO 4"),
    ],
)  # fmt: skip
def test_three_in_a_row_are_a_range(given_: tuple[int, ...], text: str) -> None:
    assert ranges(given_) == text


@given(st.sets(st.integers(1, 999), max_size=40))
def test_ranges_name_each_number_and_no_other(given_: set[int]) -> None:
    assert numbers(f"ON PAPER: {ranges(given_)}", "ON PAPER") == given_
