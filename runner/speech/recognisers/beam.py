"""The search: which answers the model gives how much likelihood, in all ways of writing them.

Rules: texts grow token by token, only into writings of the closed set; of each step the `width`
best are kept, and none further than `depth` behind the best; the likelihoods of all writings of one
answer are added up; beside them, in the same passes, the text that the model would write freely
grows by its best token. What was not reached is not in the result: it lies more than `depth` behind
or was crowded out. The same sound and set give the same result.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from runner.speech.recognisers.answer_tree import Answer
from runner.speech.recognisers.model import Encoded, Model
from runner.speech.recognisers.tokens import END
from runner.speech.recognisers.writing import Writing

WIDTH: Final = 12
DEPTH: Final = 12.0
TOKENS_A_SECOND: Final = 6.5
"""More than this nobody says: a free text that goes on longer repeats itself."""


class Found(NamedTuple):
    """The log likelihood of each answer that was reached, and the free text with its own."""

    answers: dict[Answer, float]
    free: tuple[int, ...]
    free_score: float


class _Row(NamedTuple):
    place: int
    likely: float


def search(
    model: Model, encoded: Encoded, writing: Writing, width: int = WIDTH, depth: float = DEPTH
) -> Found:
    """What `encoded` gives to each answer of `writing`."""
    decoding = model.begin(encoded)
    most = 4 + round(TOKENS_A_SECOND * encoded.seconds)
    answers: dict[Answer, float] = {}
    rows = [_Row(0, 0.0)]
    free: list[int] = []
    free_score, free_row = 0.0, 0
    while True:
        likely = decoding.likely
        for number, row in enumerate(rows):
            for answer in writing.ends(row.place):
                ended = row.likely + float(likely[number, END]) + answer.rare
                one = answer._replace(rare=0.0)
                answers[one] = float(np.logaddexp(answers.get(one, -math.inf), ended))
        best = max(answers.values(), default=-math.inf)
        parents, tokens, grown = _grown(rows, likely, writing, best, width, depth)
        if free_row >= 0:
            token = int(likely[free_row].argmax())
            if len(free) >= most:
                token = END
            free_score += float(likely[free_row, token])
            if token == END:
                free_row = -1
            else:
                free.append(token)
                parents, tokens = [*parents, free_row], [*tokens, token]
                free_row = len(tokens) - 1
        if not tokens:
            return Found(answers, tuple(free), free_score)
        decoding.step(parents, tokens)
        rows = grown


def _grown(
    rows: list[_Row],
    likely: np.ndarray[tuple[int, ...], np.dtype[np.float32]],
    writing: Writing,
    best: float,
    width: int,
    depth: float,
) -> tuple[list[int], list[int], list[_Row]]:
    """The best continuations of all rows: parent, token, and where they stand then."""
    if not rows:
        return [], [], []
    scores, parents, tokens, places = [], [], [], []
    for number, row in enumerate(rows):
        following, leads = writing.tokens(row.place)
        scores.append(row.likely + likely[number, following].astype(np.float64))
        parents.append(np.full(len(following), number))
        tokens.append(following)
        places.append(leads)
    score = np.concatenate(scores)
    if not len(score):
        return [], [], []
    parent, token, place = (np.concatenate(part) for part in (parents, tokens, places))
    order = np.argsort(-score, kind="stable")[:width]
    least = max(best, float(score[order[0]])) - depth
    order = order[score[order] >= least]
    return (
        [int(n) for n in parent[order]],
        [int(n) for n in token[order]],
        [_Row(int(place[n]), float(score[n])) for n in order],
    )
