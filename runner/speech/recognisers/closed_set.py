"""The default recogniser: the packaged English model scores every answer of the closed set.

Rules: an answer's score is the logarithm of the likelihood that the model gives to all writings of
it together, so phrases and numbers compare; beside them stands what the model would have written
freely, its likelihood on the same scale being the anti-model; a set's tree is kept while the set is
asked again; nothing is decided here.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final

from runner.speech.heard import AnswerSet, Heard, NumberForm, Phrase, Ranked
from runner.speech.recognisers.answer_tree import roots_of
from runner.speech.recognisers.beam import search
from runner.speech.recognisers.model import Model
from runner.speech.recognisers.tokens import Tokens
from runner.speech.recognisers.weights import Weights, find_weights
from runner.speech.recognisers.writing import Writing, vocabulary

if TYPE_CHECKING:
    from runner.speech.heard import Audio

NAME: Final = "closed-set"
_SETS_KEPT: Final = 64


class ClosedSet:
    """The recogniser over one set of weights."""

    def __init__(self, weights: Weights | None = None, threads: int = 2) -> None:
        weights = weights or find_weights()
        self._tokens = Tokens.read(weights.tokenizer)
        self._model = Model(weights, threads)
        self._words = vocabulary(self._tokens)
        self._writing = lru_cache(maxsize=_SETS_KEPT)(self._made)

    @property
    def name(self) -> str:
        """How the log calls it."""
        return NAME

    def prepare(self, answers: AnswerSet) -> None:
        """Works out ahead what an utterance would have to wait for."""
        writing = self._writing(answers.phrases, answers.number)
        _, places = writing.tokens(0)
        for place in dict.fromkeys(places.tolist()):
            writing.tokens(place)

    def decode(self, audio: Audio, answers: AnswerSet) -> Heard:
        """The answers ranked. ValueError for audio of another form."""
        encoded = self._model.encode(audio)
        found = search(self._model, encoded, self._writing(answers.phrases, answers.number))
        ranked = sorted(
            (Ranked(answer.line, score, answer.sort) for answer, score in found.answers.items()),
            key=lambda one: (-one.score, one.line),
        )
        return Heard(NAME, tuple(ranked), self._tokens.decode(found.free), found.free_score)

    def _made(self, phrases: tuple[Phrase, ...], number: NumberForm | None) -> Writing:
        return Writing(roots_of(AnswerSet(0, phrases, number)), self._words)
