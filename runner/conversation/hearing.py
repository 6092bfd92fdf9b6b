"""From a clip of sound to what is done about it, by recognisers, thresholds and the crew's reading.

Rules: nothing here knows the run; an answer of words stands once more against its opposites before
it counts; a clip that was cut by the key is never taken as it is: it is read back where the list
does that, else asked again; free words (a snag's) are what the recogniser would have written down
without a set, and are taken only where none of the words that break off was said; one person's
reading sharpens the bars only where nobody else may have spoken.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from runner.conversation.standing import Standing, Way
from runner.speech.agreement import decide
from runner.speech.decision import UNSURE, Decision, Verdict
from runner.speech.lexicon import Lexicon
from runner.speech.opposites import against
from runner.speech.thresholds import Person, Thresholds, of_person

if TYPE_CHECKING:
    from runner.speech.heard import AnswerSet, Audio
    from runner.speech.panel import Panel

_WORD = re.compile(r"[^\W_]+")


class Clip(NamedTuple):
    """One utterance to judge: its sound, how far the speech stands above the noise in dB, and
    whether the key ended it while it went on."""

    samples: Audio
    ratio: float | None = None
    cut: bool = False


class Judge:
    """Recognisers with the bars by which they are judged."""

    def __init__(
        self, panel: Panel, bars: Thresholds, way: Way, persons: Sequence[Person] = ()
    ) -> None:
        """`persons`: those whose reading is known; until it is told who is aboard they are."""
        self._panel = panel
        self.lacking = panel.lacking
        """Sentences on what could not be loaded, or is not known."""
        self._everybody, self._persons, self._way = bars, tuple(persons), way
        self._bars, self._gain_db = bars, 0.0
        self.aboard({one.name for one in persons})

    def aboard(self, names: Collection[str]) -> None:
        """These are aboard now: one alone has bars and gain of their own, if they have read."""
        alone = [one for one in self._persons if len(names) == 1 and one.name in names]
        self._bars = of_person(self._everybody, alone[0]) if alone else self._everybody
        self._gain_db = alone[0].gain_db if alone else 0.0

    def unknown(self, words: Sequence[str]) -> list[str]:
        """Those of `words` that the second opinion does not know."""
        return self._panel.unknown(words)

    def prepare(self, answers: AnswerSet) -> None:
        """Works ahead for a question, while nobody speaks."""
        self._panel.prepare(answers)

    def decide(self, clip: Clip, standing: Standing) -> Decision:
        """What is done about a clip that was said to a question."""
        from runner.speech.ears.levels import louder  # nothing of sound before the first screen

        samples, answers = louder(clip.samples, self._gain_db), standing.answers
        found = decide(
            self._panel.heard(samples, answers), answers, self._bars, clip.ratio,
            language=self._way.language, open_microphone=self._way.open_microphone,
            opener=standing.opener,
        )  # fmt: skip
        found = against(
            found, answers, self._way.language, lambda pair: self._panel.first(samples, pair)
        )
        if standing.free and found.verdict is not Verdict.ACCEPT:
            calls = self._way.language.address if self._way.open_microphone else ()
            return _words(found, standing, calls, cut=clip.cut)
        return _whole(found, answers) if clip.cut else found

    def close(self) -> None:
        """Lets the recognisers go."""
        self._panel.close()


def language_of(language: Lexicon, persons: Iterable[Person]) -> Lexicon:
    """The language with the ways of saying words of everybody who read them."""
    for person in persons:
        language = language.having(person.ways)
    return language


def _words(found: Decision, standing: Standing, calls: Sequence[str], *, cut: bool) -> Decision:
    """Free words as the line that they complete; none said is asked again, and so is half of them,
    and what breaks off but was not surely heard. `calls` are no part of them: the address."""
    if found.verdict is Verdict.NOTHING and found.why != "nothing heard":
        return found  # an open microphone, and not said to the list
    words = " ".join(found.free.split()).strip(" .,;:!?").lower()
    for call in calls:
        words = words.removeprefix(call).strip(" .,;:!?") if words.startswith(call) else words
    again = found._replace(verdict=Verdict.SAY_AGAIN, line="")
    if not words:
        return again._replace(why="nothing heard")
    if cut:
        return again._replace(why="key came up")
    spaced = f" {' '.join(_WORD.findall(words))} "
    for phrase in standing.answers.phrases:
        for way in phrase.ways:
            if f" {way} " in spaced:
                return again._replace(why="denied", words=(way,))
    line = f"{standing.opener}{words}"
    return found._replace(verdict=Verdict.ACCEPT, line=line, why="", best=line)


def _whole(found: Decision, answers: AnswerSet) -> Decision:
    """An utterance that was cut short may be the beginning of another one."""
    if found.verdict is not Verdict.ACCEPT:
        return found
    if found.sort in answers.read_back:
        return found._replace(
            verdict=Verdict.READ_BACK, line=UNSURE + found.line, why="key came up"
        )
    return found._replace(verdict=Verdict.SAY_AGAIN, line="", why="key came up")
