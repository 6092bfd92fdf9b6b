"""From what the recognisers heard to what was made of it: the program's own policy, trial by trial.

Rules: every trial is decided by `runner.speech.agreement.decide` and by nothing else, with the
recognisers in the program's order (the closed set proposes, then the named model, else the light
one) and the noise that the ears would hold it for, and then by its contest against the opposites; a
trial that one of them has not decoded, or whose contest was not, is no case; a control word is
counted as one unless it answers the question that stands; a number that the list itself reads back,
whatever the hearing, counts as read back by the engine's own rule.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from typing import Final, NamedTuple

from runner.speech.agreement import decide
from runner.speech.decision import UNSURE, Decision, Verdict
from runner.speech.heard import AnswerSet, Heard, Sort
from runner.speech.lexicon import lexicon
from runner.speech.opposites import against
from runner.speech.thresholds import Thresholds
from tests.bench.speech import asked
from tests.bench.speech.asked import Asked
from tests.bench.speech.contests import contested
from tests.bench.speech.decodings import Store
from tests.bench.speech.judging import Result, What
from tests.bench.speech.trials import Trial

FIRST: Final = "closed-set"
LIGHT: Final = "sphinx"

MADE: Final = {
    Verdict.ACCEPT: What.ACCEPTED, Verdict.READ_BACK: What.AFFIRM,
    Verdict.SAY_AGAIN: What.AGAIN, Verdict.NOTHING: What.AGAIN,
}  # fmt: skip


class Case(NamedTuple):
    """A trial, what was heard in the order of the panel, the ratio of speech to noise in dB, the
    seconds that the decodings took together, and what was heard against the opposites of the best
    answer, None where it has none."""

    trial: Trial
    heard: tuple[Heard, ...]
    ratio: float | None
    seconds: float = 0.0
    stood: Heard | None = None


def panel(names: Iterable[str]) -> tuple[str, ...]:
    """Which of the stores' recognisers hear together, the one that proposes first."""
    found = list(names)
    named = [name for name in found if name.startswith("vosk")]
    return (FIRST, *(named[:1] or [name for name in found if name == LIGHT]))


def cases(
    trials: Iterable[Trial], stores: Mapping[str, Store], ratio: Callable[[Trial], float | None]
) -> list[Case]:
    """The trials that every recogniser of the panel has decoded, with their contests."""
    order = [stores[name] for name in panel(stores)]
    found = []
    for trial in trials:
        kept = [one for store in order if (one := store.get(trial)) is not None]
        if len(kept) < len(order):
            continue
        heard = tuple(one.heard for one in kept)
        second = contested(trial, heard)
        stood = order[0].get(second) if second is not None else None
        if second is not None and stood is None:
            continue
        kept += [stood] if stood is not None else []
        took = sum(one.seconds for one in kept)
        found.append(Case(trial, heard, ratio(trial), took, stood.heard if stood else None))
    return found


def decided(case: Case, thresholds: Thresholds) -> Decision:
    """What the program makes of it. ValueError for a contest that nobody decoded."""
    answers = case.trial.answers

    def hear(pair: AnswerSet) -> Heard:
        if case.stood is None:
            raise ValueError(f"{case.trial.speech.text!r}: not decoded against {pair.phrases}")
        return case.stood

    made = decide(case.heard, answers, thresholds, case.ratio)
    return against(made, answers, lexicon(), hear)


def result(case: Case, thresholds: Thresholds) -> Result:
    """The same as the judges count it: by the hearing alone."""
    return counted(case.trial, decided(case, thresholds))


def counted(trial: Trial, decision: Decision) -> Result:
    """A decision as the judges count it."""
    line = decision.line.removeprefix(UNSURE) or decision.best
    control = decision.sort is Sort.CONTROL and not _answers(trial, line)
    return Result(trial, MADE[decision.verdict], line, control)


def _answers(trial: Trial, line: str) -> bool:
    """Whether a control word passes something: *affirm* where a value was read back, and there
    nothing else is an answer."""
    own = any(phrase.sort is not Sort.CONTROL for phrase in trial.answers.phrases)
    return line == "affirm" and not own and trial.answers.number is None


class ByTheList:
    """What the list itself reads back, whatever the hearing: asked of the engine in the state of
    the question that a trial was made for."""

    def __init__(self, asks: Iterable[Asked]) -> None:
        self._asks: dict[tuple[str, str], Asked] = {}
        for one in asks:
            self._asks.setdefault(_key(one.listen.step, one.answers.number), one)
        self._reads = lru_cache(maxsize=None)(self._asked)

    def __call__(self, found: Result) -> Result:
        """The result with what the list asks; ValueError for a question that nobody asked."""
        if found.what is not What.ACCEPTED or found.trial.part != "numbers" or found.control:
            return found
        key = _key(found.trial.step, found.trial.answers.number)
        return found._replace(what=What.AFFIRM) if self._reads(key, found.line) else found

    def _asked(self, key: tuple[str, str], line: str) -> bool:
        one = self._asks.get(key)
        if one is None:
            raise ValueError(f"no scripted crew was asked {key[0]}")
        return asked.read_back(one, line)


def _key(step: str, number: object) -> tuple[str, str]:
    return step, repr(number)
