"""What follows from one person's reading: gain, by how much their scores lie lower, how much more
margin they want, and their own ways of saying words.

Rules: pure; everything follows from what was measured by the figures below, and from nothing else.
The score wanted is lowered so far that nine of ten right answers reach it, of those that were read
in the quietest class of noise, because in a louder one it is the noise that lowers scores (measured
on 15 synthesised voices: a reading at 10 dB lowered all but one to the bound, and answers were
taken wrong that were not before); never further than everybody's bounds allow and never so far that
an answer which was heard wrong in the reading reaches it too; the margin wanted can only rise,
above every wrong answer that would have passed.
A way of saying is taken from free writing: the same other word written twice for one that was read,
more often than the right one, and only if it neither is nor sounds like another word of the lists.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from difflib import SequenceMatcher
from statistics import median
from typing import Any, Final, NamedTuple

from runner.speech.heard import Heard
from runner.speech.thresholds import (
    MOST_GAIN_DB,
    MOST_RAISED,
    MOST_SHIFT,
    Bar,
    Kind,
    Person,
    Thresholds,
    Who,
)
from runner.words.phonetics import alike

LEVEL_DB: Final = -23.0
"""The level of speech that a gain aims at; the recognisers were measured around it."""
PEAK_DB: Final = -1.0
"""No gain lifts the highest sample of the reading over this."""
_LEAST_GAIN_DB: Final = 1.0
LEAST_RIGHT: Final = 12
"""With fewer right answers in the quietest class of noise nothing is known of the scores, and they
are left alone."""
OUT_OF_TEN: Final = 1
"""So many of ten right answers may stay under the score wanted."""
GUARD: Final = 0.2
"""A wrong answer of the reading stays this far under it."""
ABOVE: Final = 1.1
"""By this factor the margin wanted lies above that of a wrong answer."""
TWICE: Final = 2
MOST_WAYS: Final = 12
_SAID: Final = re.compile(r"[a-z]+(?:'[a-z]+)*(?: [a-z]+(?:'[a-z]+)*)*")
_WORD: Final = re.compile(r"[a-z]+(?:'[a-z]+)*")


class Read(NamedTuple):
    """One sentence that was read: the words shown, the line it is and what that may do; what the
    recognisers heard, the one that proposes first, and how far its best stands from what it would
    have written freely; the class of the noise; level of the speech and highest sample in dB under
    full scale."""

    words: str
    line: str
    kind: Kind
    heard: tuple[Heard, ...]
    score: float | None
    noise: str
    level_db: float
    peak_db: float

    @property
    def best(self) -> str:
        """What the proposing recogniser heard best; empty where it rejects it."""
        return self.heard[0].ranked[0].line if self.heard and self.heard[0].ranked else ""

    @property
    def right(self) -> bool:
        """Whether that is what was to be read."""
        return self.best == self.line

    @property
    def who(self) -> Who:
        """Who else heard it so."""
        others = [one.ranked[0].line for one in self.heard[1:] if one.ranked]
        if self.best in others:
            return Who.AGREED
        return Who.DIFFER if others else Who.ALONE


class Enrolment(NamedTuple):
    """The person, what was measured, and sentences on what a reading cannot mend."""

    person: Person
    measured: Mapping[str, Any]
    doubts: tuple[str, ...]


def enrolment(
    name: str, reads: Sequence[Read], bars: Thresholds, words: Iterable[str]
) -> Enrolment:
    """What follows from a reading; `words` are all those of the lists."""
    known = frozenset(words)
    shifts = _shifts(reads, bars)
    raised, doubts = _raised(reads, bars, shifts)
    ways = own_ways([read for read in reads if read.noise == bars.noise[0][0]], known)
    person = Person(name, _gain(reads), shifts, raised, ways)
    wrong = [one for one in reads if one.best and not one.right]
    measured = {
        "read": len(reads),
        "right": sum(one.right for one in reads),
        "wrong": [{"read": one.words, "heard": one.best.strip()} for one in wrong],
        "level_db": _rounded(median(one.level_db for one in reads)) if reads else None,
        "peak_db": _rounded(max(one.peak_db for one in reads)) if reads else None,
        "noise": dict(Counter(one.noise for one in reads)),
        "above_the_score_wanted": [_rounded(over) for over in sorted(_over(reads, bars))],
    }
    return Enrolment(person, measured, doubts)


def _gain(reads: Sequence[Read]) -> float:
    if not reads:
        return 0.0
    wanted = LEVEL_DB - median(one.level_db for one in reads)
    room = PEAK_DB - max(one.peak_db for one in reads)
    gain = max(min(wanted, room, MOST_GAIN_DB), -MOST_GAIN_DB)
    return _rounded(gain) if abs(gain) >= _LEAST_GAIN_DB else 0.0


def _bar(read: Read, bars: Thresholds) -> Bar | None:
    return bars.bar(read.heard[0].recogniser, read.noise, read.kind, read.who)


def _judged(reads: Iterable[Read], bars: Thresholds) -> Iterator[tuple[Read, float, Bar]]:
    """What was read, by how much its score is above the one wanted, and its bar."""
    for read in reads:
        bar = _bar(read, bars) if read.score is not None else None
        if read.score is not None and bar is not None and bar.score is not None:
            yield read, read.score - bar.score, bar


def _over(reads: Sequence[Read], bars: Thresholds) -> list[float]:
    quietest = bars.noise[0][0]
    return [over for read, over, _ in _judged(reads, bars) if read.right and read.noise == quietest]


def _shifts(reads: Sequence[Read], bars: Thresholds) -> dict[str, float]:
    """By how much the score wanted lies under everybody's, of the recogniser that proposes."""
    over = sorted(_over(reads, bars))
    if len(over) < LEAST_RIGHT:
        return {}
    shift = max(min(over[len(over) * OUT_OF_TEN // 10], 0.0), -MOST_SHIFT)
    for read, above, _ in _judged(reads, bars):
        if not read.right and above < 0:
            shift = max(shift, min(above + GUARD, 0.0))
    # Rounded down, so that whoever just reaches it does; the guard is many times wider.
    shift = max(math.floor(shift * 100) / 100, -MOST_SHIFT)
    return {reads[0].heard[0].recogniser: shift} if shift < 0 else {}


def _raised(
    reads: Sequence[Read], bars: Thresholds, shifts: Mapping[str, float]
) -> tuple[float, tuple[str, ...]]:
    """The factor on the margin wanted, and what even the highest one lets pass."""
    raised, doubts = 1.0, []
    for read, above, bar in _judged(reads, bars):
        shift = shifts.get(read.heard[0].recogniser, 0.0)
        margin = read.heard[0].margin
        if read.right or above < shift or (margin is not None and margin < bar.margin):
            continue
        enough = margin is not None and bar.margin > 0
        wanted = margin / bar.margin * ABOVE if enough and margin is not None else MOST_RAISED + 1
        raised = max(raised, min(wanted, MOST_RAISED))
        if wanted > MOST_RAISED:
            doubts.append(
                f"{read.words.upper()} was clearly heard as {read.best.strip().upper()}: if it was "
                "read as it stood there, answer it by the key"
            )
    return _up(raised), tuple(doubts)


def own_ways(reads: Iterable[Read], words: frozenset[str]) -> dict[str, tuple[str, ...]]:
    """The person's ways of saying words of the lists, `words`."""
    written: dict[str, Counter[str]] = {}
    for read in reads:
        for word, way in _written(read):
            written.setdefault(word, Counter())[way] += 1
    found: dict[str, tuple[str, ...]] = {}
    for word in sorted(written):
        ways = [
            way
            for way, times in sorted(written[word].items(), key=lambda one: (-one[1], one[0]))
            if way != word and times >= TWICE and times > written[word][word]
            and _free(way, word, words)
        ]  # fmt: skip
        if ways and len(found) < MOST_WAYS:
            found[word] = tuple(ways[:1])
    return found


def _free(way: str, word: str, words: frozenset[str]) -> bool:
    """Whether a writing is free to stand for a word: no other is it, nor sounds like it."""
    parts = way.split()
    if not _SAID.fullmatch(way) or any(part in words for part in parts):
        return False
    return not any(alike(way, other) for other in words if other != word)


def _written(read: Read) -> Iterator[tuple[str, str]]:
    """The words that were read, each with what was written in its place."""
    if read.kind is Kind.NUMBERS or not read.heard:
        return
    said = read.words.lower().split()
    free = _WORD.findall(read.heard[0].free.lower().replace("’", "'"))
    for what, i, i2, j, j2 in SequenceMatcher(None, said, free, autojunk=False).get_opcodes():
        if what == "equal":
            yield from ((word, word) for word in said[i:i2])
        elif what == "replace" and i2 - i == 1 and j2 - j <= TWICE:
            yield said[i], " ".join(free[j:j2])
        elif what == "replace" and i2 - i == j2 - j:
            yield from zip(said[i:i2], free[j:j2], strict=True)


def _rounded(value: float) -> float:
    return round(value, 2)


def _up(value: float) -> float:
    """Rounded up, so that nothing is wanted less."""
    return min(math.ceil(value * 100) / 100, MOST_RAISED)
