"""The second question of a trial: the answer that was heard, once more against its opposites.

Rules: the program's own `against` says whether there is such a question and what comes of it, asked
here with bars that everything passes, so that no bar fitted later wants a question that was not
put; the same sound at that question is a trial like any other, decoded by the recogniser that
proposes and kept in its store, under a name that stands for the opposites too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from runner.speech.agreement import decide
from runner.speech.heard import AnswerSet, Heard
from runner.speech.lexicon import lexicon
from runner.speech.opposites import against
from runner.speech.thresholds import Bar, Kind, Thresholds, Who
from tests.bench.speech.trials import Trial

_NOISE: Final = "any"
_PASSED: Final = Bar(None, 0.0)


def contested(trial: Trial, heard: Sequence[Heard]) -> Trial | None:
    """The trial at its second question; None where nothing is like what was heard."""
    pairs: list[AnswerSet] = []

    def noted(pair: AnswerSet) -> Heard:
        pairs.append(pair)
        return Heard(heard[0].recogniser, ())

    bars = {(heard[0].recogniser, _NOISE, kind, who): _PASSED for kind in Kind for who in Who}
    everything = Thresholds(((_NOISE, float("-inf")),), 1.0, bars)
    made = decide(heard, trial.answers, everything, None)
    against(made, trial.answers, lexicon(), noted)
    return trial._replace(answers=pairs[0]) if pairs else None


def all_contested(found: Iterable[tuple[Trial, Sequence[Heard]]]) -> Iterator[Trial]:
    """Those of them that have a second question, at it."""
    for trial, heard in found:
        second = contested(trial, heard)
        if second is not None:
            yield second
