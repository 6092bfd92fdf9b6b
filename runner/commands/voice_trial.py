"""`voice test`: level, noise and ten phrases, and a verdict that says what to do.

Rules: the phrases are answers of the demonstration's lists, each heard against all that might be
said there and judged as in a run; one that would have been taken as another is worse than any that
was not taken; what is wrong with the sound is told before what is wrong with the hearing.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from textwrap import fill
from typing import TYPE_CHECKING, Final, NamedTuple

from runner.commands.signing import say
from runner.commands.voice import settings
from runner.commands.voice_ear import NOISE_SECONDS, Ear, Taken, ear
from runner.commands.voice_person import Listener, listener, recognisers
from runner.commands.voice_script import Sentence
from runner.commands.voice_script import trial as phrases
from runner.flow.loader import load_aircraft
from runner.host import places
from runner.speech.decision import UNSURE, Decision, Verdict

if TYPE_CHECKING:
    from runner.speech.panel import Panel

QUIET_DB: Final = -45.0
"""Speech below this is too quiet; common practice, no published source, as are the two below."""
CLIPPED: Final = 0.002
"""The share of samples at full scale from which a phrase counts as clipped."""
NOISY_DB: Final = 5.0
WIDTH: Final = 79
ENOUGH: Final = 8
"""Phrases of ten that must be taken, or read back, as what they were."""


class Tried(NamedTuple):
    """One phrase: its sound, none where nothing was said, and what was decided."""

    line: str
    taken: Taken | None
    decision: Decision | None

    @property
    def right(self) -> bool:
        """Whether it would have become its own line, perhaps after a read-back."""
        return self.decision is not None and self.decision.line.removeprefix(UNSURE) == self.line

    @property
    def wrong(self) -> bool:
        """Whether another line would have been taken at once."""
        return (
            self.decision is not None
            and self.decision.verdict is Verdict.ACCEPT
            and self.decision.line != self.line
        )


def trial(hear: Path | None, name: str) -> int:
    """Tries it; 1 where it would not do."""
    held = settings()
    who = listener(name)
    sentences = phrases(load_aircraft(places.shipped() / "corvane_c4"), who.language)
    panel = recognisers(held)
    try:
        source = ear(hear, held.microphone)
        try:
            return _tried(source, sentences, panel, who, live=hear is None)
        finally:
            source.close()
    finally:
        panel.close()


def _tried(
    source: Ear, sentences: Sequence[Sentence], panel: Panel, who: Listener, *, live: bool
) -> int:
    print(f"microphone  {source.name}")
    if live:
        say(f"be quiet for {NOISE_SECONDS:g} seconds, in the noise in which it will be used")
    noise = source.noise()
    print(f"noise       {'not known' if noise is None else f'{noise:.0f} dB'}")
    done = []
    for number, sentence in enumerate(sentences, 1):
        if live:
            say(f"{number:>2} of {len(sentences)}, say:  {sentence.shown}")
        taken = source.phrase(number)
        decision = None
        if taken is not None:
            decision = who.decided(panel, taken.samples, taken.ratio, sentence.answers).decision
        done.append(Tried(sentence.line, taken, decision))
        print(row(sentence, done[-1], source.missed))
        sys.stdout.flush()
    good, told = verdict(done, source.trouble)
    right = sum(one.right for one in done)
    print(f"{'GOOD' if good else 'NOT GOOD'}: {right} of {len(done)} heard as they were said")
    for one in told:
        print(fill(one, WIDTH, initial_indent="  ", subsequent_indent="    "))
    return 0 if good else 1


def row(sentence: Sentence, tried: Tried, missed: str = "") -> str:
    """One phrase in two lines: what was shown, levels, what was heard and what became of it."""
    if tried.taken is None or tried.decision is None:
        return f"{sentence.shown:<24} nothing was heard{f': {missed}' if missed else ''}"
    one, made = tried.taken, tried.decision
    above = " ?" if one.ratio is None else f"{one.ratio:.0f}"
    figures = [
        f"{name} {value:.1f}"
        for name, value in (("score", made.score), ("margin", made.margin))
        if value is not None
    ]
    done = {
        Verdict.ACCEPT: "taken", Verdict.READ_BACK: "read back",
        Verdict.SAY_AGAIN: f"say again ({made.why})", Verdict.NOTHING: made.why or "nothing",
    }[made.verdict]  # fmt: skip
    mark = "WRONG " if tried.wrong else ""
    heard = made.best.strip() or "no answer"
    return (
        f"{sentence.shown:<24} {one.level_db:4.0f} dB, {above} over noise\n"
        f"  {mark}{heard}; {' '.join(figures) or 'no figures'}; {done}"
    )


def verdict(done: Sequence[Tried], trouble: str = "") -> tuple[bool, list[str]]:
    """Whether it would do, and what to do, the sound first."""
    sound = [one.taken for one in done if one.taken is not None]
    silent = len(done) - len(sound)
    told = [trouble] if trouble and silent else []
    if silent:
        told.append(f"{silent} of {len(done)} phrases were not heard at all: speak after the line "
                    "stands there, nearer to the microphone")  # fmt: skip
    if sound:
        told += _of_sound(sound)
    wrong = [one for one in done if one.wrong]
    for one in wrong:
        line = one.decision.line.strip() if one.decision is not None else ""
        told.append(f"{one.line.upper()} would have been taken as {line.upper()}: do not answer by "
                    "voice before a reading, latchword voice enrol NAME")  # fmt: skip
    right = sum(one.right for one in done)
    good = not wrong and right * 10 >= ENOUGH * len(done)
    unsure = len(sound) - right - len(wrong)
    if not good and unsure > 0:
        told.append(f"{unsure} were not surely heard: speak as on the radio; then a reading, "
                    "latchword voice enrol NAME")  # fmt: skip
    return good, told


def _of_sound(sound: Sequence[Taken]) -> list[str]:
    told = []
    level = median(one.level_db for one in sound)
    if level < QUIET_DB:
        told.append(f"too quiet ({level:.0f} dB): turn the microphone up in the mixer, or go "
                    "nearer to it")  # fmt: skip
    clipped = sum(one.clipped >= CLIPPED for one in sound)
    if clipped:
        told.append(f"{clipped} phrases are clipped: turn the microphone down in the mixer")
    ratios = [one.ratio for one in sound if one.ratio is not None]
    if ratios and median(ratios) < NOISY_DB:
        told.append(f"too noisy (speech {median(ratios):.0f} dB over the noise): bring the "
                    "microphone to the lips; a headset with a noise-cancelling one")  # fmt: skip
    return told
