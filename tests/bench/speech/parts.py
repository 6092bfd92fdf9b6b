"""The parts of the bench: which trials each consists of, spread so that any beginning is fair.

Rules: a part is a list of utterances in an order that its seed shuffled, so that a run over the
first thousand judges the same mixture as one over all; every real recording is in it once; numbers
have the forms of the demo aircraft's instruments, half of them near what its scripted crew reads
there and half from anywhere on the scale; a critical step is also told what is nearly its phrase,
other steps' phrases and parts of its own.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from decimal import Decimal
from itertools import islice
from pathlib import Path
from typing import Final

from runner.speech.heard import AnswerSet, NumberForm, Phrase
from runner.words.numbers import read_number, read_threshold
from tests.bench.speech import asked, recordings, saying, voices
from tests.bench.speech.asked import Asked, Sort
from tests.bench.speech.recordings import Recording
from tests.bench.speech.trials import Speech, Trial
from tests.bench.speech.voices import Voice

NAMES: Final = ("words", "numbers", "phrases", "critical")
FULL: Final = {"words": 10**6, "numbers": 3_500, "phrases": 600, "critical": 600}
"""Some of the numbers drawn are the same: 3,500 are just enough for 10,000 trials of their own."""
QUICK: Final = {"words": 250, "numbers": 250, "phrases": 200, "critical": 200}
"""Utterances of a part, each at three levels."""

_REAL_NUMBERS: Final = 0.15
_OTHER_WAY: Final = 0.2
_STRAY: Final = 0.25
_NEAR: Final = 0.5
SEED: Final = 20261126


def build(part: str, data: Path, count: int, scripts: Iterable[str] = ()) -> list[Trial]:
    """The first `count` utterances of a part, without noise; its questions are those of the
    scripted crews named, else of all."""
    if part == "words":
        found: Iterator[Trial] = words(data)
    else:
        asks = asked.questions(scripts)
        makers = {"numbers": numbers, "phrases": phrases, "critical": critical}
        found = makers[part](asks, data)
    return list(islice(found, count))


def words(data: Path) -> Iterator[Trial]:
    """Real single words that are answers, and those that are none."""
    answers = AnswerSet(0, tuple(Phrase(word.upper(), (word,)) for word in recordings.WORDS))
    known, others = recordings.words(data), recordings.others(data)
    groups = recordings.grouped([*known, *others])
    found = [*known, *others]
    random.Random(SEED).shuffle(found)
    for one in found:
        right = one.word in recordings.WORDS
        truth, sort = (one.word.upper(), "answer") if right else (None, "other")
        speech = Speech(one.speaker, one.word, None, (one.path,), trimmed=False)
        yield Trial("words", groups[one.speaker], speech, answers, truth, None, "", sort)


def numbers(asks: list[Asked], data: Path) -> Iterator[Trial]:
    """Numbers of the demo instruments: synthesised, and joined from real speakers' digits."""
    rng = random.Random(SEED + 1)
    pool = [one for one in asks if one.sort is Sort.NUMBER]
    digits = recordings.digits(data)
    spoken = _by_speaker(digits)
    groups = recordings.grouped(one for one in digits if one.speaker in spoken)
    crew = voices.present()
    while True:
        one = rng.choice(pool)
        answers = one.answers
        if answers.number is None or one.value is None:
            raise TypeError(one)
        value = _value(rng, answers.number, one.value)
        if spoken and rng.random() < _REAL_NUMBERS and value >= 0 and value == int(value):
            speaker = rng.choice(sorted(spoken))
            speech, way = _joined(rng, speaker, spoken[speaker], int(value)), "real digits"
            group = groups[speaker]
            if any(map(recordings.silent, speech.paths)):
                # Joining brings takes to one level: of silence it makes noise, not a digit.
                continue
        else:
            voice, way = rng.choice(crew), rng.choice(saying.NUMBER_WAYS)
            speech = Speech(voice.person, saying.number_said(value, way), voice)
            group = voice.group
        line = _line(value, answers.number)
        yield Trial("numbers", group, speech, answers, line, None, one.listen.step, way)


def _line(value: Decimal, form: NumberForm) -> str:
    """How a recogniser writes it: plain, without zeros that nobody need say."""
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if form.decimals and "." in text else text


def _value(rng: random.Random, form: NumberForm, near: Decimal) -> Decimal:
    """Near what the scripted crew reads, or from anywhere on the scale."""
    unit = Decimal(1).scaleb(-form.decimals)
    if rng.random() < _NEAR:
        wanted = near * Decimal(repr(round(rng.uniform(0.8, 1.2), 3)))
    else:
        wanted = form.low + (form.high - form.low) * Decimal(repr(round(rng.random(), 5)))
    value = min(max(wanted.quantize(unit), form.low), form.high)
    return value.normalize() + Decimal(0) if value else Decimal(0)


def _by_speaker(digits: list[Recording]) -> dict[str, dict[str, list[Path]]]:
    """The takes of each digit, of speakers who have all of them."""
    found: dict[str, dict[str, list[Path]]] = {}
    for one in digits:
        found.setdefault(one.speaker, {}).setdefault(one.word, []).append(one.path)
    return {who: takes for who, takes in found.items() if len(takes) == len(recordings.DIGITS)}


def _joined(rng: random.Random, speaker: str, takes: dict[str, list[Path]], value: int) -> Speech:
    words = [recordings.DIGITS[int(digit)] for digit in str(value)]
    return Speech(speaker, " ".join(words), None, tuple(rng.choice(takes[w]) for w in words))


def phrases(asks: list[Asked], data: Path) -> Iterator[Trial]:
    """What answers the steps that are not critical, and in part what does not."""
    del data
    pool = [
        one for one in asks
        if one.sort in (Sort.WORDS, Sort.ITEM, Sort.CONTROL) and not one.listen.critical
    ]  # fmt: skip
    yield from _told("phrases", asks, pool, random.Random(SEED + 2), _STRAY)


def critical(asks: list[Asked], data: Path) -> Iterator[Trial]:
    """The critical steps: their phrase, and more often what is not."""
    del data
    pool = [
        one for one in asks
        if one.sort in (Sort.WORDS, Sort.ITEM) and one.listen.critical
    ]  # fmt: skip
    yield from _told("critical", asks, pool, random.Random(SEED + 3), 0.6)


def _told(
    part: str, asks: list[Asked], pool: list[Asked], rng: random.Random, stray: float
) -> Iterator[Trial]:
    crew = voices.present()
    everything = sorted({saying.words_of(one.line) for one in asks} - {""})
    while True:
        for one in rng.sample(pool, len(pool)):
            answers, voice = one.answers, rng.choice(crew)
            right = phrase_of(answers, one.line)
            if right is None:
                # A text that sounds like another answer of its step cannot be said.
                continue
            if rng.random() < stray:
                text, sort = _stray(rng, right, everything)
            else:
                text, sort = _way(rng, right), one.sort.value
            yield _trial(part, one, answers, voice, text, sort)


def _trial(part: str, one: Asked, answers: AnswerSet, voice: Voice, text: str, sort: str) -> Trial:
    speech = Speech(voice.person, text, voice)
    truth = truth_of(answers, text)
    return Trial(part, voice.group, speech, answers, truth, None, one.listen.step, sort)


def _way(rng: random.Random, phrase: Phrase) -> str:
    """The plain way, sometimes another."""
    return rng.choice(phrase.ways) if rng.random() < _OTHER_WAY else phrase.ways[0]


def _stray(rng: random.Random, right: Phrase, everything: list[str]) -> tuple[str, str]:
    if rng.random() < 0.5:
        return rng.choice(saying.near_misses(right.ways[0])), "near miss"
    return rng.choice(everything), "other phrase"


def phrase_of(answers: AnswerSet, line: str) -> Phrase | None:
    """The answer that a line of a script is; None if it cannot be said."""
    text = saying.words_of(line)
    for phrase in answers.phrases:
        if line == phrase.line or text in phrase.ways:
            return phrase
    # An item is ticked by its name and said with its state.
    named = f"tick {text}"
    return next((phrase for phrase in answers.phrases if named in phrase.ways), None)


def truth_of(answers: AnswerSet, text: str) -> str | None:
    """The line that a text answers with, by all its ways; None if it is no answer."""
    for phrase in answers.phrases:
        if text in phrase.ways:
            return phrase.line
    if answers.number is not None:
        value = read_number(text)
        if value is not None and answers.number.low <= value <= answers.number.high:
            return _line(value, answers.number)
        call = read_threshold(text)
        if call is not None and answers.number.thresholds:
            return f"{call.side} {_line(call.value, answers.number)}"
    return None
