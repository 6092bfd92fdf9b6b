"""A run by voice from the command line: what is set on this machine becomes a conversation.

Rules: nothing of sound or recognition is imported before the first screen stands; what is set is
read before the run begins, so that a bad file is told of on the first page; who calls the list is
the program where one person is aboard, else the copilot; clips are kept only if they are asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from runner.commands.signing import say
from runner.conversation.calling import Caller
from runner.conversation.conversation import Conversation
from runner.conversation.hearing import Judge, language_of
from runner.conversation.parts import Parts
from runner.conversation.standing import Way
from runner.host.places import PlaceFault
from runner.host.vocabulary import sayable
from runner.host.voicing import VoiceSettings, enrolled, read_settings
from runner.speech.lexicon import lexicon
from runner.speech.panel import INSTALL, installed

if TYPE_CHECKING:
    from pathlib import Path

    from runner.commands.running import Options
    from runner.conversation.microphone import Device
    from runner.host.run import Run
    from runner.speech.ears.hearing import Hearing
    from runner.speech.heard import Audio
    from runner.speech.thresholds import Person
    from runner.speech.voice.speaking import Speaking

SHEETS = frozenset({"page read"})
"""On the full screen the first page may have several sheets, and the keys know which were seen."""
MISSING = 4
CALLERS = {"program": Caller.PROGRAM, "copilot": Caller.COPILOT}


def need_voice() -> None:
    """Refuses a run by voice where nothing could be heard: before anything is begun."""
    if not installed():
        raise PlaceFault(
            f"--voice: no recogniser is installed: {INSTALL}; without --voice the run is worked by "
            "keys",
            MISSING,
        )


def voice_of(run: Run, options: Options, *, plain: bool) -> Conversation:
    """The voice of a run, not begun yet. Plain lines have no key to talk by: there the microphone
    is open, and what is said to the list is addressed to it."""
    open_microphone = options.open_microphone or plain
    settings = read_settings()
    found = enrolled()
    for fault in filter(None, (settings.fault, *found.faults)):
        say(fault)
    aboard = dict.fromkeys(name for _, name in run.view().crew)
    persons = [person for person in found.persons if person.name in aboard]
    way = way_of(persons, open_microphone=open_microphone)
    if not plain:
        way = way._replace(by_key=SHEETS)
    alone = len(aboard) == 1
    parts = Parts(
        lambda: _judge(run, settings.model, way, persons),
        lambda: _hearing(open_microphone=open_microphone),
        lambda: _microphone(settings),
        lambda changed: _speaking(settings, changed),
        _flac if options.keep_clips else None,
        options.pedal,
    )
    calls = CALLERS.get(options.caller) or (Caller.PROGRAM if alone else Caller.COPILOT)
    return Conversation(run, parts, way, calls)


def way_of(persons: Sequence[Person], *, open_microphone: bool = False) -> Way:
    """The crew's words, with those of everybody aboard who has read."""
    return Way(language_of(lexicon(), persons), open_microphone)


def _judge(run: Run, model: Path | None, way: Way, persons: Sequence[Person]) -> Judge:
    """The judge of a run, who says what the model that is named does not know of its lists."""
    made = judge(model, way, persons)
    if model is None:
        return made
    words, _ = sayable(run.table, "", way.language)
    unknown = made.unknown(sorted(words))
    if unknown:
        made.lacking += (
            f"the model lacks {len(unknown)} of {len(words)} words of these lists; which: "
            f"latchword voice model {model}",
        )
    return made


def judge(model: Path | None, way: Way, persons: Sequence[Person] = ()) -> Judge:
    """Recognisers with the bars that come with the program. NoRecogniser says what to install."""
    from runner.speech.panel import panel
    from runner.speech.thresholds import thresholds

    return Judge(panel(model), thresholds(), way, persons)


def _hearing(*, open_microphone: bool) -> Hearing:
    from runner.speech.ears.gate import Mode
    from runner.speech.ears.hearing import Hearing

    # A terminal reports no release of a key: a press opens, and the end of speech closes.
    return Hearing(Mode.OPEN if open_microphone else Mode.PRESSED)


def _microphone(settings: VoiceSettings) -> Device:
    from runner.speech.ears.capture import Microphone

    return Microphone(settings.microphone)


def _speaking(settings: VoiceSettings, changed: Callable[[bool], None]) -> Speaking:
    from runner.speech.voice.speaking import Speaking

    return Speaking(
        changed, speed=settings.speed, device=settings.loudspeaker, engine=settings.engine
    )


def _flac(samples: Audio) -> bytes:
    from runner.speech.ears.files import flac

    return flac(samples)
