"""The second opinion: its grammar, its pronunciations, and what it hears."""

from __future__ import annotations

import math
from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("pocketsphinx")

from runner.speech.heard import RATE, AnswerSet, NumberForm, Phrase  # noqa: E402
from runner.speech.recognisers.jsgf import grammar  # noqa: E402
from runner.speech.recognisers.sphinx import PRONOUNCED, Sphinx  # noqa: E402
from tests.runner.speech.recognisers.spoken import (  # noqa: E402
    needs_data,
    needs_voice,
    said,
    words_heard,
)

D = Decimal
RPM = NumberForm(0, D(0), D(3000), "rpm", thresholds=True, drops=True)
QNH = NumberForm(2, D(25), D(32))
COLD = NumberForm(0, D(-50), D(55))


@cache
def recogniser() -> Sphinx:
    return Sphinx()


@needs_data
def test_people_who_say_the_words_of_a_set_are_heard() -> None:
    """Ten words of four speakers; a second opinion need not be the better one (measured: .82)."""
    assert words_heard(recogniser()) >= 28


@needs_voice
@pytest.mark.parametrize(
    ("text", "number", "line"),
    [
        ("one six zero zero", RPM, "1600"), ("seventeen hundred", RPM, "1700"),
        ("two thousand four hundred", RPM, "2400"), ("below eighty", RPM, "below 80"),
        ("two niner decimal niner two", QNH, "29.92"), ("minus twelve", COLD, "-12"),
        ("released", RPM, "released"),
    ],
)  # fmt: skip
def test_phrases_and_numbers_are_heard(
    tmp_path: Path, text: str, number: NumberForm, line: str
) -> None:
    answers = AnswerSet(1, (Phrase("released", ("released",)),), number)
    assert [one.line for one in recogniser().decode(said(text, tmp_path), answers).ranked] == [line]


@needs_voice
def test_the_score_is_a_logarithm_and_nothing_carries_over(tmp_path: Path) -> None:
    audio, other = said("seventeen hundred", tmp_path), said("below eighty", tmp_path, "en-gb")
    answers = AnswerSet(1, (), RPM)
    first = recogniser().decode(audio, answers)
    assert math.isfinite(first.ranked[0].score)
    assert first.ranked[0].score < 0
    recogniser().decode(other, answers)
    assert recogniser().decode(audio, answers) == first
    assert Sphinx().decode(audio, answers) == first


@pytest.mark.parametrize("word", ["three", "four", "five", "nine"])
def test_both_pronunciations_are_in_its_dictionary(word: str) -> None:
    known = [recogniser()._decoder.lookup_word(f"{word}{n}") for n in ("", "(2)", "(3)")]
    assert set(PRONOUNCED[word]) < set(known)


def test_a_word_without_pronunciation_is_named_and_its_way_left_out() -> None:
    assert recogniser().lacking(["released", "qwzx", "wilco", "qwzx"]) == ["qwzx"]
    answers = AnswerSet(1, (Phrase("a", ("qwzx on", "on")), Phrase("b", ("qwzx",))))
    assert "qwzx" not in grammar(answers, lambda word: word != "qwzx")
    assert "<phrase> = on;" in grammar(answers, lambda word: word != "qwzx")


def test_a_set_of_unknown_words_alone_is_heard_as_nothing() -> None:
    answers = AnswerSet(1, (Phrase("b", ("qwzx",)),))
    assert grammar(answers, lambda word: word != "qwzx") == ""
    assert recogniser().decode(np.zeros(RATE, np.float32), answers).ranked == ()


@pytest.mark.parametrize(
    ("number", "holds", "lacks"),
    [
        (RPM, ["[below | above | drop] <whole>;", "<thousands>", "<many>"], ["[minus]", "<sca"]),
        (COLD, ["[minus] <whole>;", "<digit> [<digit>]"], ["| <hundreds>", "(decimal"]),
        (QNH, ["<whole> [(decimal | point) <digit> <digit>];"], ["[minus]"]),
        (RPM._replace(before=("list",)), ["(list) [below"], []),
    ],
)  # fmt: skip
def test_the_rules_of_numbers_are_those_of_the_form(
    number: NumberForm, holds: list[str], lacks: list[str]
) -> None:
    text = grammar(AnswerSet(1, (), number), lambda word: True)
    tops = "\n".join(line for line in text.splitlines() if line.startswith(("<whole>", "<number>")))
    assert all(part in tops for part in holds)
    assert not any(part in tops for part in lacks)


def test_old_grammars_are_let_go() -> None:
    small = Sphinx()
    silence = np.zeros(RATE, np.float32)
    for number in range(20):
        small.decode(silence, AnswerSet(1, (Phrase(str(number), ("on",)), Phrase("off", ("off",)))))
    assert len(small._sets) == 16
    small.decode(silence, AnswerSet(1, (Phrase("0", ("on",)), Phrase("off", ("off",)))))
