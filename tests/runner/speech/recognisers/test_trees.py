"""What may be said: every way of every value in its range, nothing else, and how it is written."""

from __future__ import annotations

import math
from decimal import Decimal
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

np = pytest.importorskip("numpy")

from runner.speech.heard import AnswerSet, NumberForm, Phrase, Sort  # noqa: E402
from runner.speech.recognisers.answer_tree import Answer, answers_said, roots_of  # noqa: E402
from runner.speech.recognisers.number_tree import UNMARKED  # noqa: E402
from runner.speech.recognisers.writing import Writing, vocabulary  # noqa: E402
from runner.words.numbers import read_number  # noqa: E402
from runner.words.sayings import sayings  # noqa: E402
from tests.runner.speech.recognisers.test_tokens import packaged  # noqa: E402

D = Decimal


def form(decimals: int, low: str, high: str) -> NumberForm:
    return NumberForm(decimals, D(low), D(high))


RPM = form(0, "0", "3000")
COLD = form(0, "-50", "55")
VOLTS = form(1, "0", "40")
QNH = form(2, "25", "32")
HOURS = form(1, "0", "99999")
PHRASES = (
    Phrase("released", ("released", "brake released")),
    Phrase("stand by", ("stand by",), Sort.CONTROL),
    Phrase("rpm", ("r p m",)),
)


@cache
def written(number: NumberForm | None) -> Writing:
    # The letters of a writing need no tokens: an empty vocabulary serves.
    return Writing(roots_of(AnswerSet(1, PHRASES, number)), {})


def lines(answers: tuple[Answer, ...]) -> list[str]:
    return [answer.line for answer in answers]


def line_of(value: Decimal) -> str:
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


@pytest.mark.parametrize("number", [RPM, COLD, VOLTS, QNH])
def test_every_way_of_every_value_is_said_and_is_that_value_alone(number: NumberForm) -> None:
    scale = 10**number.decimals
    roots = roots_of(AnswerSet(1, (), number))
    for units in range(int(number.low * scale), int(number.high * scale) + 1):
        value = D(units) / scale
        ways = sayings(value, number.decimals)
        assert ways
        for way in ways:
            assert lines(answers_said(roots, way.split())) == [line_of(value)], way


@pytest.mark.parametrize("number", [RPM, COLD, VOLTS, QNH, HOURS])
@given(data=st.data())
@settings(max_examples=200)
def test_whatever_may_be_said_is_read_as_the_same_number(
    number: NumberForm, data: st.DataObject
) -> None:
    """A walk down the tree from its root, at every fork any way: it ends in a number, read so."""
    nodes = list(roots_of(AnswerSet(1, (), number)))
    said: list[str] = []
    while True:
        words = sorted({word for node in nodes for word in node.following()})
        done = {answer for node in nodes for answer in node.ends()}
        assert words or done
        if done and (not words or data.draw(st.booleans())):
            break
        said.append(data.draw(st.sampled_from(words)))
        nodes = [n for node in nodes if (n := node.following().get(said[-1])) is not None]
    if said[0].isdigit() or any(word.isdigit() for word in said):
        return  # figures before "hundred" are writings, and no way of the crew's words
    value = read_number(" ".join(said))
    assert value is not None, said
    assert lines(tuple(done)) == [line_of(value)]
    assert number.low <= value <= number.high


@pytest.mark.parametrize(
    ("number", "text", "line"),
    [
        # One digit too many or too few, beyond the range, decimals too few, too many, or none due.
        (RPM, "three zero zero one", ""), (RPM, "one two three four five", ""),
        (RPM, "thirty one hundred", ""), (RPM, "minus five", ""), (RPM, "one point five", ""),
        (QNH, "two niner point niner", ""), (QNH, "two nine point nine two one", ""),
        (QNH, "two four decimal nine nine", ""), (VOLTS, "two eight point", ""),
        (COLD, "five six", ""), (COLD, "minus five one", ""), (COLD, "minus minus five", ""),
        # Within.
        (RPM, "zero eight zero", "80"), (RPM, "two nine nine nine", "2999"),
        (VOLTS, "twenty eight", "28"), (VOLTS, "two eight decimal zero", "28"),
        (COLD, "minus five zero", "-50"),
        (HOURS, "nine eight seven six five point four", "98765.4"),
    ],
)  # fmt: skip
def test_digits_decimals_and_range_are_those_of_the_form(
    number: NumberForm, text: str, line: str
) -> None:
    words = text.replace("niner", "nine").split()
    found = lines(answers_said(roots_of(AnswerSet(1, (), number)), words))
    assert found == ([line] if line else [])


def test_a_whole_number_without_its_decimals_counts_as_rare() -> None:
    roots = roots_of(AnswerSet(1, (), VOLTS))
    (marked,) = answers_said(roots, ["two", "eight", "point", "zero"])
    (whole,) = answers_said(roots, ["two", "eight"])
    assert marked.rare == 0
    assert whole == marked._replace(rare=UNMARKED)
    assert answers_said(roots_of(AnswerSet(1, (), RPM)), ["two", "eight"])[0].rare == 0
    assert math.exp(UNMARKED) == pytest.approx(1 / 20, abs=0.001)


def test_sides_and_drops_are_answers_where_the_form_has_them() -> None:
    roots = roots_of(AnswerSet(1, (), RPM._replace(thresholds=True, drops=True)))
    for text, line in (("below eighty", "below 80"), ("above eight zero", "above 80"),
                       ("drop seventy", "drop 70"), ("eighty", "80")):  # fmt: skip
        assert answers_said(roots, text.split()) == (Answer(line, Sort.NUMBER),)
    for text in ("below eighty", "drop eighty"):
        assert answers_said(roots_of(AnswerSet(1, (), RPM)), text.split()) == ()


def test_the_address_stands_before_the_number_where_it_is_wanted() -> None:
    number = RPM._replace(before=("list", "check list"), thresholds=True)
    roots = roots_of(AnswerSet(1, (), number))
    assert lines(answers_said(roots, ["check", "list", "one", "four"])) == ["14"]
    assert lines(answers_said(roots, ["list", "below", "one", "four"])) == ["below 14"]
    assert answers_said(roots, ["one", "four"]) == ()


def test_a_range_without_a_value_is_refused() -> None:
    with pytest.raises(ValueError, match="no number lies from 3 to 2"):
        roots_of(AnswerSet(1, (), form(0, "3", "2")))


def test_a_way_without_words_is_refused() -> None:
    with pytest.raises(ValueError, match="a way of saying 'released' is empty"):
        roots_of(AnswerSet(1, (Phrase("released", ("released", "-")),)))


def test_two_answers_that_are_said_alike_are_both_found() -> None:
    roots = roots_of(AnswerSet(1, (Phrase("a", ("on",)), Phrase("b", ("on",)))))
    assert lines(answers_said(roots, ["on"])) == ["a", "b"]


@pytest.mark.parametrize(
    ("number", "text", "line"),
    [
        (None, "Released.", "released"), (None, "brake-released!", "released"),
        (None, "Standby", "stand by"), (None, "Stand, by...", "stand by"), (None, "RPM.", "rpm"),
        (RPM, "1,600", "1600"), (RPM, "One-six-zero-zero.", "1600"), (RPM, "16 hundred", "1600"),
        (RPM, "One 6-0 0", "1600"), (RPM, "Two-niner, niner two", "2992"), (RPM, "To for", "24"),
        (RPM, "2. 9.", "29"), (RPM, "One Hundred & Forty-Five.", "145"),
        (VOLTS, "2.9", "2.9"), (VOLTS, "29", "29"), (VOLTS, "2 point 9", "2.9"),
        (QNH, "29.92.", "29.92"), (QNH, "Two-niner decimal nine 2", "29.92"),
        (COLD, "-5", "-5"), (COLD, "Minus 5", "-5"), (COLD, "five-5", "55"),
        # No writing of anything here.
        (None, "release", ""), (None, "released it", ""), (None, "stand  by", ""), (None, "", ""),
        (RPM, "2.9", ""), (RPM, "3001", ""), (RPM, "1600.5", ""), (QNH, "29.9", ""),
        (QNH, "29. 92", ""), (COLD, "--5", ""), (COLD, "-", ""), (RPM, "1600 rpm", ""),
    ],
)  # fmt: skip
def test_how_it_may_be_written(number: NumberForm | None, text: str, line: str) -> None:
    assert lines(written(number).read(text)) == ([line] if line else [])


@given(st.text(alphabet="0123456789.-, ", max_size=8))
def test_no_writing_is_two_numbers(text: str) -> None:
    for number in (RPM, COLD, VOLTS, QNH):
        assert len(written(number).read(text)) <= 1


def test_the_tokens_that_may_follow_are_those_whose_letters_do() -> None:
    tokens = packaged()
    writing = Writing(roots_of(AnswerSet(1, PHRASES, VOLTS)), vocabulary(tokens))
    place = 0
    for letter in " two":
        after = writing.step(place, letter)
        assert after is not None
        place = after
    found = {tokens.text(int(token)) for token in writing.tokens(place)[0]}
    assert {" point", ".", " six", "-", "nd"} & found == {" point", ".", " six", "-"}
    for token, lead in zip(*(part.tolist() for part in writing.tokens(place)), strict=True):
        here: int | None = place
        for letter in (tokens.text(token) or "?").lower():
            assert here is not None
            here = writing.step(here, letter)
        assert here == lead
