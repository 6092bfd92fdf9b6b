"""The demo day, as it is asked: what its script says is what the questions let be said."""

from __future__ import annotations

from collections import Counter

import pytest

pytest.importorskip("numpy")

from runner.words.numbers import read_number
from tests.bench.speech import asked
from tests.bench.speech.asked import Sort


def test_the_day_is_answered_with_what_its_questions_allow() -> None:
    day = asked.answered()
    counts = Counter(one.sort for one in day)
    assert counts[Sort.WORDS] > 300
    assert counts[Sort.NUMBER] > 80
    assert counts[Sort.ITEM] > 30
    assert counts[Sort.THRESHOLD] >= 1
    assert counts[Sort.CONTROL] >= 3
    # What both look at is given by keys; of the rest hardly anything needs one.
    keys = [one for one in day if one.sort is Sort.KEYS]
    assert sum(not one.listen.both for one in keys) < 0.05 * len(day)
    assert all(one.sort is Sort.KEYS for one in day if one.listen.both)
    for one in day:
        if one.sort is Sort.WORDS:
            assert one.line.upper() in one.listen.responses
        if one.sort is Sort.NUMBER:
            assert one.value == read_number(one.line)
            assert one.value is not None
            assert one.listen.low is not None
            assert one.listen.high is not None
            assert one.listen.low <= one.value <= one.listen.high


def test_what_was_refused_is_left_out() -> None:
    """The day puts off and comes back; nothing in it is said twice at one question."""
    asks = [one.listen.ask for one in asked.answered() if one.sort is Sort.WORDS]
    assert len(asks) == len(set(asks))


def test_the_same_question_with_the_same_answer_is_one() -> None:
    found = asked.questions([asked.DAY])
    keys = {(one.listen._replace(ask=0), one.line) for one in found}
    assert len(keys) == len(found) < len(asked.answered())


def test_the_ordinary_day_comes_first_and_the_others_are_there() -> None:
    names = asked.scripts()
    assert names[0] == asked.DAY
    assert len(names) == len(set(names)) > 10
