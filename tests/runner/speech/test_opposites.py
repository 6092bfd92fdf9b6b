"""An answer stands against its opposites, which are in no list."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.speech.answers import answer_set
from runner.speech.heard import AnswerSet, Heard, NumberForm, Phrase, Ranked, Sort
from runner.speech.lexicon import lexicon
from runner.speech.opposites import CLEAR, MEANT, OPPOSITE, contest, opposites, won
from tests.runner.speech.day import day

ENGLISH = lexicon()


@pytest.mark.parametrize(
    ("said", "opposite"),
    [("locked", "unlocked"), ("down locked", "down unlocked"), ("closed", "not closed"),
     ("closed", "open"), ("brake released", "brake not released"), ("on both", "off both"),
     ("inside envelope", "outside envelope"), ("unlocked", "locked"),
     ("drill fire in start", "not drill fire in start"), ("discontinue", "discontinue not"),
     ("clear right", "clear left"), ("stowed", "unstowed")],
)  # fmt: skip
def test_what_means_the_opposite_is_among_them(said: str, opposite: str) -> None:
    assert opposite in opposites([said], ENGLISH)


def test_what_means_the_same_is_not() -> None:
    assert "shut" not in opposites(["closed"], ENGLISH)


def test_every_answer_of_words_of_the_day_has_a_contest_that_holds_it_and_none_of_the_set() -> None:
    seen = 0
    for said in day():
        answers = answer_set(said.listen, said.view, role="commander")
        taken = {way for phrase in answers.phrases for way in phrase.ways}
        for phrase in answers.phrases:
            pair = contest(Ranked(phrase.line, 0.0, phrase.sort), answers, ENGLISH).answers
            if pair is None:
                continue
            seen += 1
            meant, other = pair.phrases
            assert (meant.line, other.line) == (MEANT, OPPOSITE)
            assert meant.ways == phrase.ways
            assert other.ways
            assert not taken & {*other.ways}
            assert pair.ask == answers.ask
    assert seen > 1000


def test_a_number_has_none() -> None:
    form = NumberForm(0, Decimal(0), Decimal(99))
    answers = AnswerSet(1, (Phrase("off", ("off",)),), form)
    assert contest(Ranked("54", 0.0, Sort.NUMBER), answers, ENGLISH).answers is None
    assert contest(Ranked("gone", 0.0, Sort.RESPONSE), answers, ENGLISH).answers is None


@given(st.lists(st.sampled_from([MEANT, OPPOSITE]), unique=True), st.floats(0, 9))
def test_it_is_won_by_the_answer_alone_and_clearly(lines: list[str], margin: float) -> None:
    ranked = tuple(Ranked(line, -place * margin, Sort.RESPONSE) for place, line in enumerate(lines))
    clear = len(lines) < 2 or margin >= CLEAR
    assert won(Heard("one", ranked)) is (lines[:1] == [MEANT] and clear)
