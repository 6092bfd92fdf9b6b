"""An answer that a document may have is one that a crew can give: the reader of words agrees.

The documents know nothing of the reader of words, so what both must agree on is compared here.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine.answers import normal as engine_normal
from runner.flow.answers import BEGINNINGS, NUMBER_WORDS, STEERING, check_answers, normal
from runner.flow.documents import Item, Procedure
from runner.flow.faults import Faults, Place
from runner.flow.loader import load_aircraft
from runner.flow.model import ListDoc
from runner.flow.steps import ChallengeDoc
from runner.flow.tree import Mapping
from runner.words.numbers import read_number, read_threshold
from runner.words.spoken import LEADING, SIMPLE, split

ROOT = Path(__file__).parents[3]


def allowed(text: str) -> bool:
    """Whether a step of a list may have this text as its answer."""
    step = ChallengeDoc.made({"challenge": "Brake", "answer": text})
    doc = ListDoc.made({"list_": "work", "title": "Work", "steps": [step]})
    flow = Procedure("lists/work.yaml", doc, Mapping(Place("lists/work.yaml", 1, 1), {}, {}), [])
    faults = Faults("meaning")
    check_answers(Item(flow, 0, "brake", step), faults)
    return not faults


def heard(text: str) -> str | None:
    """The answer that a typed line is taken for; None if it is taken for something else."""
    words = split(text).text
    folded = " ".join(words.split()).lower().rstrip(".!?")
    if words != text or folded in SIMPLE:
        return None
    upper = words.upper().split()
    if any(upper[: len(lead.split())] == lead.upper().split() for lead in LEADING):
        return None
    number = read_number(words)
    if number is not None:
        return f"{number:f}"
    if read_threshold(words) is not None:
        return None
    if upper[0] == "DROP" and read_number(" ".join(upper[1:])) is not None:
        return None
    return normal(words)


def test_what_steers_the_list_is_no_answer() -> None:
    assert {name.upper() for name in SIMPLE} <= STEERING
    assert {name.upper() for name in LEADING} <= set(BEGINNINGS)


def test_answers_are_compared_as_the_engine_compares_them() -> None:
    for text in ("released", "  Off  and\tstowed ", "ß", "Höhe"):
        assert normal(text) == engine_normal(text)


@pytest.mark.parametrize("word", sorted(STEERING | set(BEGINNINGS)))
def test_a_control_word_is_refused_in_any_case(word: str) -> None:
    assert not allowed(word)
    assert not allowed(word.lower())
    assert not allowed(word.title() + ".") or word in BEGINNINGS


@pytest.mark.parametrize("text", ["ONE", "one six zero", "05", "-0.5.1", "NINER", "TWO HUNDRED"])
def test_what_is_heard_as_a_number_is_refused(text: str) -> None:
    assert not allowed(text)


@pytest.mark.parametrize(
    "text", ["RELEASED", "1", "20", "2.50", "-5", "ONE TANK", "1+2", "NOT FITTED", "ON", "DROPS IN"]
)
def test_a_state_is_an_answer(text: str) -> None:
    assert allowed(text)
    assert heard(text) == normal(text)


WORDS = st.sampled_from(
    sorted(
        {word for lead in (*LEADING, *SIMPLE) for word in lead.split()}
        | {word.lower() for word in NUMBER_WORDS}
        | {"below", "above", "drop", "list", "released", "off", "0", "7", "12", "007", "-3", "1.5"}
        | {"commander:", "ask 3:", "unsure:", '"x"', "roger", "wilco", "set", "B", "1e5", "x."}
    )
)


@given(st.lists(WORDS, min_size=1, max_size=4).map(" ".join))
def test_an_allowed_answer_is_heard_as_itself(text: str) -> None:
    if allowed(text):
        assert heard(text) == normal(text)


@given(st.text(min_size=1, max_size=12))
def test_any_allowed_text_is_heard_as_itself(text: str) -> None:
    tidy = " ".join(text.split())
    if tidy and tidy.isprintable() and allowed(tidy):
        assert heard(tidy) == normal(tidy)


def test_every_answer_of_our_own_aircraft_is_heard_as_itself() -> None:
    for path in (ROOT / "flows").glob("*/aircraft.yaml"):
        for step in load_aircraft(path.parent).table.steps.values():
            for choice in step.choices:
                for text in (choice.text, *choice.variants):
                    assert heard(text) == normal(text)
            for text in (step.response, *step.variants, *step.key_words):
                assert not text or heard(text) == normal(text)
