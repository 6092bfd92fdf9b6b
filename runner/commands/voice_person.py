"""By whom and by what is heard: the recognisers of this machine, and a person's reading.

Rules: without the packages the sentence says what to install; a person is one who is enrolled, by
the whole name; without a person everybody's bars and ways hold.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from runner.commands.signing import say
from runner.commands.voice import plain
from runner.engine.words import nearest
from runner.engine.words import plain as same
from runner.host.places import PlaceFault
from runner.host.voicing import VoiceSettings, enrolled
from runner.speech.agreement import decide
from runner.speech.ears.levels import louder
from runner.speech.lexicon import Lexicon, lexicon
from runner.speech.opposites import against
from runner.speech.panel import NoRecogniser, Panel, panel
from runner.speech.recognisers.weights import NoWeights
from runner.speech.thresholds import Person, Thresholds, of_person, thresholds

if TYPE_CHECKING:
    from runner.speech.decision import Decision
    from runner.speech.heard import AnswerSet, Audio, Heard


NO_RECOGNISER = (NoRecogniser, NoWeights)
"""Why no utterance can be heard here; both say what to install."""


class Tried(NamedTuple):
    """What was heard, and what would be done."""

    heard: list[Heard]
    decision: Decision


class Listener(NamedTuple):
    """What one person's answers are judged by."""

    person: Person | None
    bars: Thresholds
    language: Lexicon

    def loud(self, samples: Audio) -> Audio:
        """A sound with the person's gain."""
        return louder(samples, self.person.gain_db if self.person is not None else 0.0)

    def decided(self, panel: Panel, taken: Audio, ratio: float | None, answers: AnswerSet) -> Tried:
        """What a run would make of a sound: what each recogniser heard, and what is done."""
        sound = self.loud(taken)
        heard = panel.heard(sound, answers)
        found = decide(heard, answers, self.bars, ratio, language=self.language)
        return Tried(heard, against(found, answers, self.language, lambda p: panel.first(sound, p)))


def listener(name: str) -> Listener:
    """Of a person who is enrolled, or of everybody. PlaceFault for a name that is not."""
    if not name:
        return Listener(None, thresholds(), lexicon())
    known = enrolled()
    for fault in known.faults:
        say(fault)
    person = next((one for one in known.persons if same(one.name) == same(name)), None)
    if person is None:
        names = [one.name for one in known.persons]
        near = nearest(name, names)
        hint = f"; nearest: {near}" if near else ""
        raise PlaceFault(
            f"--person {name!r}: nobody of that name is enrolled{hint}; enrolled: "
            f"{', '.join(names) or 'nobody'} (latchword voice enrol NAME)", 2
        )  # fmt: skip
    return Listener(person, of_person(thresholds(), person), lexicon().having(person.ways))


def recognisers(held: VoiceSettings) -> Panel:
    """Those of this machine, loaded. PlaceFault says what to install."""
    try:
        found = panel(held.model)
    except NO_RECOGNISER as fault:
        raise PlaceFault(plain(fault)) from None
    for sentence in found.lacking:
        say(sentence)
    return found
