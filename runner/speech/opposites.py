"""What an answer is most dangerously mistaken for: its opposite, and itself with a "not" in it.

Rules: pure; a recogniser that knows only the list's own answers makes "locked" of "unlocked" and
"closed" of "not closed", and its second opinion does so too; so before an answer counts it stands
once more against its opposites, which no list holds: words with another one of their pair, with a
prefix that reverses them, or without it, and the answer with a negation before each of its words
and behind it. The pairs, prefixes and negations are the language's, as data. An opposite that is
itself an answer of the question has been heard against it already.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Final, NamedTuple

from runner.speech.agreement import LIGHT
from runner.speech.decision import Decision, Verdict
from runner.speech.heard import AnswerSet, Heard, Phrase, Ranked, Sort
from runner.speech.lexicon import Lexicon

MEANT: Final = "meant"
OPPOSITE: Final = "opposite"
CLEAR: Final = 2.5
"""Nats by which an answer must stand before its opposites. Of 1,703 answers in phrases that were
heard rightly 68 stood less clearly (1 in 100 in quiet, 4 at 10 dB, 7 at 5 dB), of 832 that were
heard wrongly 544 (tests/bench/speech); "unstowed" heard as "stowed" stood by 1.2."""
_WAYS: Final = 4
"""Ways of the answer that stand against their opposites."""
_MOST: Final = 48
_SHORTEST: Final = 4
"""Letters of a word that a prefix may reverse."""


class Contest(NamedTuple):
    """An answer and its opposites as one question; none where nothing is like it."""

    answers: AnswerSet | None


def contest(best: Ranked, answers: AnswerSet, language: Lexicon) -> Contest:
    """The question that decides between an answer of words and its opposites."""
    phrase = next((p for p in answers.phrases if p.line == best.line), None)
    if phrase is None or best.sort is Sort.NUMBER:
        return Contest(None)
    taken = {way for one in answers.phrases for way in one.ways}
    found = [way for way in opposites(phrase.ways[:_WAYS], language) if way not in taken][:_MOST]
    if not found:
        return Contest(None)
    own = tuple(phrase.ways)
    pair = (Phrase(MEANT, own), Phrase(OPPOSITE, tuple(found)))
    return Contest(AnswerSet(answers.ask, pair))


def against(
    found: Decision, answers: AnswerSet, language: Lexicon, hear: Callable[[AnswerSet], Heard]
) -> Decision:
    """A decision after the contest: what did not stand is asked again. `hear` is the proposing
    recogniser, with the same sound."""
    if found.verdict not in (Verdict.ACCEPT, Verdict.READ_BACK) or found.best in LIGHT:
        return found
    pair = contest(Ranked(found.best, 0.0, found.sort), answers, language).answers
    if pair is None or won(hear(pair)):
        return found
    return found._replace(verdict=Verdict.SAY_AGAIN, line="", why="opposite")


def won(heard: Heard) -> bool:
    """Whether the answer stood, and clearly, against its opposites."""
    if not heard.ranked or heard.ranked[0].line != MEANT:
        return False
    return heard.margin is None or heard.margin >= CLEAR


def opposites(ways: Iterable[str], language: Lexicon) -> list[str]:
    """Ways of saying the opposite, each once, those of the first way first."""
    found: dict[str, None] = {}
    for way in ways:
        found.update(dict.fromkeys(_of(way.split(), language)))
    return list(found)


def _of(words: list[str], language: Lexicon) -> Iterator[str]:
    for place, word in enumerate(words):
        for other in _others(word, language):
            yield " ".join([*words[:place], other, *words[place + 1 :]])
    for negation in language.negations:
        for place in range(len(words) + 1):
            yield " ".join([*words[:place], negation, *words[place:]])


def _others(word: str, language: Lexicon) -> Iterator[str]:
    for pair in language.opposites:
        if word in pair:
            yield from (other for other in pair if other != word)
    for prefix in language.reversing:
        if word.startswith(prefix) and len(word) - len(prefix) >= _SHORTEST:
            yield word.removeprefix(prefix)
        elif len(word) >= _SHORTEST and word.endswith(language.reversible):
            yield prefix + word
