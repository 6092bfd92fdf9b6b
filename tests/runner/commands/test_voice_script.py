"""What is read aloud: every sentence is an answer where it stands, and all that matters is in."""

from __future__ import annotations

from collections import Counter
from functools import cache

from runner.commands.voice_script import Sentence, reading, trial
from runner.flow.loader import load_aircraft
from runner.host import places
from runner.speech.agreement import LIGHT, kind_of
from runner.speech.heard import Sort
from runner.speech.lexicon import lexicon
from runner.speech.thresholds import Kind
from runner.words.numbers import read_number

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
RADIO = {"tree": "three", "fower": "four", "fife": "five", "niner": "nine"}
"""ICAO Annex 10 Volume II, 5.2.1.4."""


@cache
def all_of_them() -> tuple[list[Sentence], list[Sentence]]:
    loaded = load_aircraft(places.shipped() / "corvane_c4")
    return trial(loaded, lexicon()), reading(loaded)


def test_every_sentence_is_an_answer_where_it_stands() -> None:
    phrases, sentences = all_of_them()
    for sentence in (*phrases, *sentences):
        meant = sentence.meant
        if meant.sort is Sort.NUMBER:
            plain = " ".join(RADIO.get(word, word) for word in sentence.words.split())
            value = read_number(plain)
            assert value is not None
            assert f"{value:f}" == sentence.line
            form = sentence.answers.number
            assert form is not None
            assert form.low <= value <= form.high
        else:
            phrase = next(p for p in sentence.answers.phrases if p.line == sentence.line)
            assert sentence.words in phrase.ways


def test_ten_phrases_of_every_kind_are_tried() -> None:
    phrases, _ = all_of_them()
    kinds = {kind_of(one.meant, one.answers) for one in phrases}
    assert len(phrases) == 10
    assert kinds >= {Kind.PHRASES, Kind.NUMBERS, Kind.CRITICAL, Kind.LIGHT}


def test_a_reading_of_two_minutes_holds_what_it_sets() -> None:
    _, sentences = all_of_them()
    assert 30 <= len(sentences) <= 40
    kinds = Counter(kind_of(one.meant, one.answers) for one in sentences)
    assert kinds[Kind.CRITICAL] >= 8
    assert kinds[Kind.NUMBERS] >= 8
    assert {"stand by", "say again", "negative", "affirm"} <= {one.line for one in sentences}
    assert any(one.line in LIGHT for one in sentences)


def test_digits_in_both_pronunciations() -> None:
    _, sentences = all_of_them()
    said = {w for one in sentences if one.meant.sort is Sort.NUMBER for w in one.words.split()}
    assert said >= set(RADIO)
    assert {RADIO.get(word, word) for word in said} >= set(DIGITS)
    assert said >= {"decimal", "point", "minus", "hundred", "thousand"}
    twice = Counter(one.line for one in sentences if one.meant.sort is Sort.NUMBER)
    assert sum(times > 1 for times in twice.values()) >= 4


def test_what_is_to_be_learnt_of_a_word_stands_there_twice() -> None:
    _, sentences = all_of_them()
    words = Counter(w for one in sentences for w in one.words.split())
    for word in ("mixture", "off", "on", "open", "brake", "released", "locked", "clutch", "servos"):
        assert words[word] >= 2, word
