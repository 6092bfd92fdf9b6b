"""The default recogniser: the packaged English model scores every answer of the closed set.

Rules: an answer's score is the logarithm of the likelihood that the model gives to all writings of
it together, so phrases and numbers compare; beside them stands what the model would have written
freely, its likelihood on the same scale being the anti-model; what seems to be a number is heard a
second time, slower, on the other core where there are two threads; a set's tree is kept while the
set is asked again; nothing is decided here.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from threading import Lock
from typing import TYPE_CHECKING, Final

from runner.speech.heard import AnswerSet, Heard, NumberForm, Phrase, Ranked, Sort
from runner.speech.recognisers.answer_tree import roots_of
from runner.speech.recognisers.beam import Found, search
from runner.speech.recognisers.form import check
from runner.speech.recognisers.model import Model
from runner.speech.recognisers.tokens import Tokens
from runner.speech.recognisers.views import SLOWER, at_tempo, together
from runner.speech.recognisers.weights import Weights, find_weights
from runner.speech.recognisers.writing import Writing, vocabulary

if TYPE_CHECKING:
    from runner.speech.heard import Audio

NAME: Final = "closed-set"
_SETS_KEPT: Final = 12
_AHEAD: Final = 4
_MOST_AHEAD: Final = 600
"""Tokens deep, and places at most, that are worked out before anything is said."""


class ClosedSet:
    """The recogniser over one set of weights."""

    def __init__(self, weights: Weights | None = None, threads: int = 2) -> None:
        weights = weights or find_weights()
        self._tokens = Tokens.read(weights.tokenizer)
        # Two threads within one pass gain nothing (measured); two hearings side by side do.
        self._model = Model(weights, 1)
        self._beside = ThreadPoolExecutor(1, "second hearing") if threads > 1 else None
        self._turn = Lock()
        self._words = vocabulary(self._tokens)
        self._writing = lru_cache(maxsize=_SETS_KEPT)(self._made)

    @property
    def name(self) -> str:
        """How the log calls it."""
        return NAME

    def prepare(self, answers: AnswerSet) -> None:
        """Works out ahead what an utterance would have to wait for: the first words' places."""
        with self._turn:
            writing = self._writing(answers.phrases, answers.number)
            known, level = {0}, [0]
            for _ in range(_AHEAD):
                found = dict.fromkeys(
                    after for place in level for after in writing.tokens(place)[1].tolist()
                )
                level = [place for place in found if place not in known]
                known.update(level)
                if len(known) > _MOST_AHEAD:
                    return

    def decode(self, audio: Audio, answers: AnswerSet) -> Heard:
        """The answers ranked. ValueError for audio of another form."""
        check(audio)
        with self._turn:
            writing = self._writing(answers.phrases, answers.number)
            writing.trim()
            found = self._heard(audio, writing, twice=answers.number is not None)
        ranked = sorted(
            (Ranked(answer.line, score, answer.sort) for answer, score in found.answers.items()),
            key=lambda one: (-one.score, one.line),
        )
        return Heard(NAME, tuple(ranked), self._tokens.decode(found.free), found.free_score)

    def _heard(self, audio: Audio, writing: Writing, *, twice: bool) -> Found:
        """What was found in one hearing or two."""
        slow = self._beside.submit(self._slower, audio, writing) if self._beside and twice else None
        found = self._search(audio, writing)
        # It is waited for in any case: it works on what the next utterance may change.
        again = slow.result() if slow is not None else None
        if not _is_number(found):
            return found
        return together((found, again or self._slower(audio, writing)))

    def _search(self, audio: Audio, writing: Writing) -> Found:
        return search(self._model, self._model.encode(audio), writing)

    def _slower(self, audio: Audio, writing: Writing) -> Found:
        return self._search(at_tempo(audio, SLOWER), writing)

    def _made(self, phrases: tuple[Phrase, ...], number: NumberForm | None) -> Writing:
        return Writing(roots_of(AnswerSet(0, phrases, number)), self._words)


def _is_number(found: Found) -> bool:
    best = max(found.answers.items(), key=lambda one: one[1], default=None)
    return best is not None and best[0].sort is Sort.NUMBER
