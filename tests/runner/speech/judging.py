"""Answers, bars and recognisers of our own, by which agreement is tried."""

from __future__ import annotations

import math
from decimal import Decimal

from runner.speech.agreement import decide
from runner.speech.decision import (
    Decision,
    Verdict,
)
from runner.speech.heard import AnswerSet, Heard, NumberForm, Phrase, Ranked, Sort
from runner.speech.thresholds import Bar, Kind, Thresholds, Who

ACCEPT, READ_BACK, AGAIN, NOTHING = Verdict
NOISE = (("quiet", 10.0), ("loud", -math.inf))
WORDS = {
    Who.AGREED: Bar(-2.0, 1.0), Who.ALONE: Bar(-1.0, 3.0), Who.DIFFER: Bar(-0.5, 6.0),
    Who.ASK: Bar(-4.0, 0.5),
}  # fmt: skip
NUMBERS = {Who.AGREED: Bar(-2.0, 1.0), Who.ALONE: Bar(-1.0, 5.0), Who.ASK: Bar(-4.0, 0.5)}
BARS = {
    **{
        ("one", n, kind, who): bar
        for n, _ in NOISE
        for who, bar in WORDS.items()
        for kind in (Kind.WORDS, Kind.PHRASES)
    },
    **{("one", n, Kind.NUMBERS, who): bar for n, _ in NOISE for who, bar in NUMBERS.items()},
    **{("one", n, Kind.CRITICAL, Who.AGREED): Bar(-1.5, 2.0) for n, _ in NOISE},
    **{("one", n, Kind.AWAY, Who.ALONE): Bar(-1.0, 2.0) for n, _ in NOISE},
    **{("one", n, Kind.LIGHT, Who.ALONE): Bar(-3.0, 0.5) for n, _ in NOISE},
    ("one", "loud", Kind.WORDS, Who.AGREED): Bar(-2.0, 2.0),
    ("one", "loud", Kind.PHRASES, Who.AGREED): Bar(-2.0, 2.0),
}
LIMITS = Thresholds(NOISE, 2.0, BARS)

PHRASES = (
    Phrase("released", ("released",)),
    Phrase("parked", ("parked",)),
    Phrase("pump on", ("pump on",)),
    Phrase("pump off", ("pump off",)),
    Phrase("no fire seen", ("no fire seen",)),
    Phrase("tick a.hook", ("hook latched", "tick hook"), Sort.ITEM),
    Phrase("affirm", ("affirm",), Sort.CONTROL),
    Phrase("negative", ("negative",), Sort.CONTROL),
    Phrase("say again", ("say again",), Sort.CONTROL),
    Phrase("discontinue", ("discontinue",), Sort.CONTROL),
    Phrase("drill fire", ("drill fire in start",), Sort.CONTROL),
    Phrase("correction ", ("correction",), Sort.CONTROL),
    Phrase("next flight", ("next flight",), Sort.CONTROL),
)
FORM = NumberForm(1, Decimal(5), Decimal(60), "inHg", thresholds=True)
BOTH = frozenset({Sort.RESPONSE, Sort.NUMBER})
ASKED = AnswerSet(7, PHRASES, FORM, read_back=BOTH)
SORTS = {phrase.line: phrase.sort for phrase in PHRASES}


def heard(
    *lines: str, score: float = -0.5, margin: float = 4.0, free: str = "", by: str = "one"
) -> Heard:
    """What a recogniser heard: the lines, each so far behind the one before; `score` is the
    distance of the best to the free writing."""
    ranked = tuple(
        Ranked(line, -10.0 - number * margin, SORTS.get(line, Sort.NUMBER))
        for number, line in enumerate(lines)
    )
    return Heard(by, ranked, free, -10.0 - score if by == "one" else None)


def other(line: str) -> Heard:
    return heard(line, by="two")


def judged(
    *given_heard: Heard, answers: AnswerSet = ASKED, snr: float | None = 20.0, open_: bool = False,
    opener: str = "",
) -> Decision:  # fmt: skip
    return decide(given_heard, answers, LIMITS, snr, open_microphone=open_, opener=opener)
