"""Decodings that were made up, for the tests of what judges and fits."""

from __future__ import annotations

import math
from decimal import Decimal
from pathlib import Path

from runner.speech.heard import AnswerSet, Heard, NumberForm, Phrase, Ranked, Sort
from runner.speech.opposites import MEANT, OPPOSITE
from runner.speech.thresholds import Thresholds
from tests.bench.speech.deciding import Case
from tests.bench.speech.trials import Speech, Trial

FRAME = Thresholds((("quiet", 10.0), ("loud", -math.inf)), 2.0, {})
PHRASES = (
    Phrase("released", ("released",)),
    Phrase("parked", ("parked",)),
    Phrase("on", ("on",)),
    Phrase("off", ("off",)),
    Phrase("brake released", ("brake released",)),
    Phrase("affirm", ("affirm",), Sort.CONTROL),
    Phrase("say again", ("say again",), Sort.CONTROL),
    Phrase("discontinue", ("discontinue",), Sort.CONTROL),
)
SET = AnswerSet(
    0, PHRASES, NumberForm(0, Decimal(0), Decimal(200)),
    read_back=frozenset({Sort.RESPONSE, Sort.NUMBER}),
)  # fmt: skip
STOOD = Heard("closed-set", (Ranked(MEANT, -1.0, Sort.RESPONSE),
                             Ranked(OPPOSITE, -9.0, Sort.RESPONSE)))  # fmt: skip
"""An answer that stood against its opposites."""
SORTS = {phrase.line: phrase.sort for phrase in PHRASES}


def heard(line: str, second: str = "", score: float = -0.5, margin: float = 4.0) -> Heard:
    """What the proposing recogniser made of it; nothing where `line` is empty."""
    lines = [(one, -10.0 - away) for one, away in ((line, 0.0), (second, margin)) if one]
    ranked = tuple(Ranked(one, at, SORTS.get(one, Sort.NUMBER)) for one, at in lines)
    return Heard("closed-set", ranked, "", -10.0 - score)


def case(
    truth: str | None, line: str, other: str = "", *, second: str = "", score: float = -0.5,
    margin: float = 4.0, group: int = 0, level: float | None = None, ratio: float | None = 20.0,
    answers: AnswerSet = SET, part: str = "phrases", sort: str = "words", text: str = "",
) -> Case:  # fmt: skip
    """One utterance: what was said, what the first heard, what the other one."""
    named = text or f"{truth} {line} {score} {margin}"
    speech = Speech(f"speaker {group}", named, None, (Path(named),))
    trial = Trial(part, group, speech, answers, truth, level, "a.step", sort)
    opinion = Heard("sphinx", (Ranked(other, -1.0, SORTS.get(other, Sort.NUMBER)),) * bool(other))
    return Case(trial, (heard(line, second, score, margin), opinion), ratio, stood=STOOD)
