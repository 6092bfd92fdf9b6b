"""The trials: every recording once, no speaker on two sides, what was said is what is true."""

from __future__ import annotations

from collections import Counter
from itertools import islice

import pytest

pytest.importorskip("numpy")

from runner.speech.heard import Sort
from tests.bench.speech import asked, parts, recordings, saying, voices
from tests.bench.speech.trials import Trial, at_levels

DATA = recordings.folder()
needs_data = pytest.mark.skipif(bool(recordings.missing()), reason=recordings.missing())
needs_voices = pytest.mark.skipif(
    len(voices.present()) < voices.LEAST, reason="fewer than 12 voices are installed"
)


def made(part: str, count: int) -> list[Trial]:
    return parts.build(part, DATA, count, [asked.DAY])


@needs_data
def test_every_real_word_is_tried_once_and_speakers_are_in_one_group() -> None:
    found = made("words", parts.FULL["words"])
    assert len({trial.speech.paths for trial in found}) == len(found) == 851
    assert sum(trial.truth is None for trial in found) == 151
    assert len({(trial.speech.speaker, trial.group) for trial in found}) == len(
        {trial.speech.speaker for trial in found}
    )
    shares = Counter(trial.group for trial in found[:400])
    assert min(shares.values()) > 40


@needs_data
@needs_voices
@pytest.mark.parametrize("part", ["numbers", "phrases", "critical"])
def test_a_part_is_the_same_each_time_and_its_beginning_is_its_own(part: str) -> None:
    found = made(part, 60)
    assert [trial.name for trial in made(part, 30)] == [trial.name for trial in found[:30]]
    assert len({(trial.speech.speaker, trial.group) for trial in found}) == len(
        {trial.speech.speaker for trial in found}
    )
    assert all(trial.level is None for trial in found)
    assert [trial.level for trial in at_levels(found)[:3]] == [None, 10, 5]


@needs_data
@needs_voices
def test_numbers_are_on_the_scale_and_said_as_they_are() -> None:
    found = made("numbers", 300)
    for trial in found:
        form = trial.answers.number
        assert form is not None
        assert trial.truth is not None
        assert parts.truth_of(trial.answers, trial.speech.text) == trial.truth
        if trial.sort == "real digits":
            takes = {one.path: one for one in recordings.digits(DATA)}
            spoken = [takes[path] for path in trial.speech.paths]
            assert " ".join(one.word for one in spoken) == trial.speech.text
            assert {one.speaker for one in spoken} == {trial.speech.speaker}
    ways = Counter(trial.sort for trial in found)
    assert set(ways) == {*saying.NUMBER_WAYS, "real digits"}
    assert len({trial.step for trial in found}) > 20


@needs_voices
def test_critical_steps_are_told_more_wrong_than_right_and_marked() -> None:
    found = list(islice(parts.critical(asked.questions([asked.DAY]), DATA), 300))
    assert all(trial.answers.critical for trial in found)
    wrong = [trial for trial in found if trial.sort in ("near miss", "other phrase")]
    assert len(wrong) > 130
    # What is nearly the phrase may be another answer of the same step, and is then no stray.
    assert sum(trial.truth is None for trial in wrong) > 0.8 * len(wrong)
    for trial in found:
        if trial.sort == "words":
            assert " " in trial.speech.text
            assert trial.truth is not None


def test_every_answer_of_the_day_is_in_its_set() -> None:
    for one in asked.answered():
        if one.sort in (asked.Sort.WORDS, asked.Sort.ITEM, asked.Sort.CONTROL):
            assert parts.phrase_of(one.answers, one.line) is not None, one.line


def test_the_truth_is_found_by_any_way_and_only_so() -> None:
    one = next(one for one in asked.answered() if one.sort is asked.Sort.ITEM)
    item = next(p for p in one.answers.phrases if p.sort is Sort.ITEM)
    for way in item.ways:
        assert parts.truth_of(one.answers, way) == item.line
    assert parts.truth_of(one.answers, "not " + item.ways[0]) is None
    assert parts.truth_of(one.answers, "say again") == "say again"
