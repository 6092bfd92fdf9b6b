"""The default recogniser on recordings of people and on synthesised answers."""

from __future__ import annotations

from decimal import Decimal
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("onnxruntime")

from runner.speech.heard import RATE, AnswerSet, NumberForm, Phrase, Sort  # noqa: E402
from runner.speech.recognisers import writing  # noqa: E402
from runner.speech.recognisers.closed_set import ClosedSet  # noqa: E402
from runner.speech.recognisers.model import Encoded, Model, log_softmax  # noqa: E402
from runner.speech.recognisers.tokens import END, Tokens  # noqa: E402
from runner.speech.recognisers.views import SLOWER  # noqa: E402
from runner.speech.recognisers.weights import NoWeights, Weights, find_weights  # noqa: E402
from tests.bench.speech import recordings  # noqa: E402
from tests.runner.speech.recognisers.spoken import (  # noqa: E402
    WORDS,
    clip,
    needs_data,
    needs_voice,
    said,
    words_heard,
)

if TYPE_CHECKING:
    from runner.speech.heard import Audio, Heard

D = Decimal
RPM = NumberForm(0, D(0), D(3000), "rpm", thresholds=True, drops=True)
COLD = NumberForm(0, D(-50), D(55))
QNH = NumberForm(2, D(25), D(32))
PHRASES = (
    Phrase("released", ("released", "brake released")),
    Phrase("not released", ("not released",)),
    Phrase("stand by", ("stand by",), Sort.CONTROL),
    Phrase("say again", ("say again",), Sort.CONTROL),
)


@cache
def weights() -> Weights:
    try:
        return find_weights()
    except NoWeights as fault:
        pytest.skip(str(fault))


@cache
def recogniser() -> ClosedSet:
    return ClosedSet(weights())


@cache
def model() -> Model:
    return Model(weights())


def best(audio: Audio, number: NumberForm | None = None) -> str:
    ranked = recogniser().decode(audio, AnswerSet(1, PHRASES, number)).ranked
    return ranked[0].line if ranked else ""


def margins(heard: Heard) -> list[float]:
    return [one.score - after.score for one, after in pairwise(heard.ranked)]


@needs_data
def test_people_who_say_the_words_of_a_set_are_heard() -> None:
    """Ten words of four speakers: in the speech bench some nine of ten are best guesses."""
    assert words_heard(recogniser()) >= 34


@needs_data
def test_an_answer_comes_nearer_to_what_is_written_freely_than_another_word_does() -> None:
    """What acceptance hangs on: the distance to the free text tells answers from other words."""

    def distance(word: str, number: int) -> float:
        heard = recogniser().decode(clip(word, number), WORDS)
        assert heard.free_score is not None
        return heard.ranked[0].score - heard.free_score if heard.ranked else -20.0

    answers = sorted(distance(word, number) for word in recordings.WORDS for number in (5, 25))
    others = sorted(distance("unknown", number) for number in range(0, 140, 7))
    assert answers[len(answers) // 2] > others[-len(others) // 5] + 1


@needs_voice
@pytest.mark.parametrize(
    ("text", "number", "line"),
    [
        ("released", None, "released"), ("brake released", None, "released"),
        ("not released", None, "not released"), ("stand by", None, "stand by"),
        ("stand by", RPM, "stand by"), ("one six zero zero", RPM, "1600"),
        ("seventeen hundred", RPM, "1700"), ("one hundred and forty five", RPM, "145"),
        ("two thousand four hundred", RPM, "2400"), ("drop eighty", RPM, "drop 80"),
        ("two niner decimal niner two", QNH, "29.92"),
        ("minus one fife", COLD, "-15"), ("minus five", COLD, "-5"), ("tree seven", COLD, "37"),
    ],
)  # fmt: skip
def test_phrases_and_numbers_are_heard(
    tmp_path: Path, text: str, number: NumberForm | None, line: str
) -> None:
    assert best(said(text, tmp_path), number) == line


@needs_voice
@pytest.mark.parametrize("voice", ["en-us", "en-gb", "en-us+f2"])
def test_what_is_misheard_lies_far_behind_what_is_written_freely(
    tmp_path: Path, voice: str
) -> None:
    """Of one of these voices the end of the number is lost: 30 is then no close second."""
    heard = recogniser().decode(
        said("thirty point zero one", tmp_path, voice), AnswerSet(1, PHRASES, QNH)
    )
    assert heard.free_score is not None
    first = heard.ranked[0]
    assert first.line == "30.01" or first.score < heard.free_score - 4


@needs_voice
def test_words_and_numbers_of_one_set_compare(tmp_path: Path) -> None:
    """Neither sort is favoured: each is far before the other when it is what was said."""
    both = AnswerSet(1, PHRASES, RPM)
    for text, sort in (("stand by", Sort.CONTROL), ("one seven five zero", Sort.NUMBER)):
        ranked = recogniser().decode(said(text, tmp_path), both).ranked
        other = [one.score for one in ranked if (one.sort is Sort.NUMBER) != (sort is Sort.NUMBER)]
        assert ranked[0].sort is sort
        assert all(score < ranked[0].score - 4 for score in other)


@needs_voice
def test_what_lies_beyond_the_form_is_never_an_answer(tmp_path: Path) -> None:
    heard = recogniser().decode(said("four two hundred", tmp_path), AnswerSet(1, (), QNH))
    assert all(D(25) <= D(one.line) <= D(32) for one in heard.ranked)


@needs_voice
def test_numbers_alone_are_heard_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lengths: list[int] = []
    encode = Model.encode

    def counted(self: Model, audio: Audio) -> Encoded:
        lengths.append(len(audio))
        return encode(self, audio)

    monkeypatch.setattr(Model, "encode", counted)
    words, number = said("stand by", tmp_path), said("seventeen hundred", tmp_path)
    one_by_one = ClosedSet(weights(), threads=1)
    one_by_one.decode(words, AnswerSet(1, PHRASES, RPM))
    one_by_one.decode(number, AnswerSet(1, PHRASES, RPM))
    assert lengths == [len(words), len(number), round(len(number) / SLOWER)]


@needs_voice
def test_two_threads_hear_what_one_hears(tmp_path: Path) -> None:
    one, two = ClosedSet(weights(), threads=1), ClosedSet(weights(), threads=2)
    for text in ("stand by", "seventeen hundred", "one six zero zero"):
        audio = said(text, tmp_path)
        for number in (None, RPM):
            answers = AnswerSet(1, PHRASES, number)
            assert two.decode(audio, answers) == one.decode(audio, answers)


@needs_voice
def test_what_is_forgotten_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    audio, answers = said("seventeen hundred", tmp_path), AnswerSet(1, PHRASES, RPM)
    first = recogniser().decode(audio, answers)
    monkeypatch.setattr(writing, "MOST_PLACES", 10)
    assert recogniser().decode(audio, answers) == first


@needs_voice
def test_the_same_sound_gives_the_same_figures(tmp_path: Path) -> None:
    audio, other = said("seventeen hundred", tmp_path), said("released", tmp_path)
    answers = AnswerSet(1, PHRASES, RPM)
    first = recogniser().decode(audio, answers)
    recogniser().decode(other, answers)
    assert recogniser().decode(audio, answers) == first
    assert ClosedSet(weights()).decode(audio, answers) == first
    assert all(step >= 0 for step in margins(first))


@needs_voice
def test_a_score_holds_all_writings_and_is_no_less_than_any(tmp_path: Path) -> None:
    """Against the other pass of the model, which scores one text as a whole."""
    audio = said("stand by", tmp_path)
    heard = recogniser().decode(audio, AnswerSet(1, PHRASES))
    tokens = Tokens.read(weights().tokenizer)
    texts = [tokens.encode(text) for text in ("Stand by.", "Stand by", "stand by", "Standby.")]
    scores = model().score(model().encode(audio), texts)
    # The two passes compute in eight bits, scaled by batch: they differ in the second place.
    assert heard.ranked[0].score >= max(scores) - 0.2
    assert heard.ranked[0].score == pytest.approx(np.logaddexp.reduce(scores), abs=0.3)


@needs_voice
def test_growing_a_text_token_by_token_is_the_pass_over_the_whole(tmp_path: Path) -> None:
    encoded = model().encode(said("seventeen hundred", tmp_path))
    tokens = Tokens.read(weights().tokenizer)
    for text in ("1700.", "Seventeen hundred", "1600"):
        row = tokens.encode(text)
        decoding, score = model().begin(encoded), 0.0
        for token in row:
            score += float(decoding.likely[0, token])
            # A second row beside it, taken from the same parent, must not change the first.
            decoding.step([0, 0], [token, tokens.encode("Two")[0]])
        score += float(decoding.likely[0, END])
        assert score == pytest.approx(model().score(encoded, [row])[0], abs=0.4)
        assert np.exp(decoding.likely).sum(axis=-1) == pytest.approx([1, 1], abs=1e-3)


def test_no_text_has_no_score() -> None:
    assert model().score(model().encode(np.zeros(RATE, np.float32)), []) == []


def test_silence_ends() -> None:
    heard = recogniser().decode(np.zeros(3 * RATE, np.float32), AnswerSet(1, PHRASES, RPM))
    assert heard.free_score is not None
    assert len(heard.free) < 200


def test_a_set_without_answers_ranks_none() -> None:
    assert recogniser().decode(np.zeros(RATE, np.float32), AnswerSet(1, ())).ranked == ()


def test_what_is_prepared_is_what_is_decoded() -> None:
    answers = AnswerSet(1, PHRASES, COLD)
    noise = np.random.default_rng(3).normal(0, 0.05, RATE).astype(np.float32)
    cold = ClosedSet(weights())
    warm = ClosedSet(weights())
    warm.prepare(answers)
    assert warm.decode(noise, answers) == cold.decode(noise, answers)


@pytest.mark.parametrize(
    ("audio", "what"),
    [
        (np.zeros(RATE, np.float64), "float64"),
        (np.zeros((1, RATE), np.float32), "2 dimensions"),
        (np.zeros(100, np.float32), "lasts 0.01 s"),
        (np.zeros(31 * RATE, np.float32), "lasts 31.00 s"),
        (np.full(RATE, 1.5, np.float32), "outside ±1"),
        (np.full(RATE, np.nan, np.float32), "no number"),
    ],
)
def test_audio_of_another_form_is_refused(audio: Audio, what: str) -> None:
    with pytest.raises(ValueError, match=what):
        recogniser().decode(audio, WORDS)


def test_likelihoods_are_shares_of_one() -> None:
    logits = np.array([[1000.0, 999.0, -1000.0], [0.0, 0.0, 0.0]], np.float32)
    assert np.exp(log_softmax(logits)).sum(axis=-1) == pytest.approx([1, 1])
    assert log_softmax(logits)[1] == pytest.approx(-np.log(3) * np.ones(3))
