"""`--hear`: recordings in place of a crew, on a simulated clock, for trials and tests.

Rules: a folder is played in the order of its names, numbers by their value: a sound file is said
aloud to the question that stands when it begins, one utterance after the other; a text file holds
what is done by keys in between, lines as in a script; each comes a second after the one before, and
a sound takes the time that it lasts. All are read before anything is begun. Heard, judged and
logged as in a run by voice, where an order waits for what belongs to it until another question
comes; what is not taken is not said again by itself: the next file must.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from runner.commands.signing import say
from runner.commands.talking import judge, way_of
from runner.commands.voice_ear import Taken, utterances
from runner.commands.voice_person import NO_RECOGNISER
from runner.conversation.answering import Answering
from runner.conversation.hearing import Clip, Judge
from runner.conversation.standing import Way, now
from runner.host.places import PlaceFault
from runner.host.scripted import Printer, let_pass, play, read_script
from runner.host.voicing import read_settings
from runner.speech.decision import evidence
from runner.speech.ears.detector import Detector, NoDetector
from runner.speech.ears.files import SoundFileFault, flac, read_sound, recordings
from runner.speech.heard import RATE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from runner.host.clock import SimulatedClock
    from runner.host.run import Run

TEXT: Final = ".txt"
_BETWEEN_MS: Final = 1000


class Recorded(NamedTuple):
    """What is played: the files in their order, and by what they are judged."""

    files: tuple[Path, ...]
    judge: Judge
    way: Way


def read_recordings(path: Path) -> Recorded:
    """All that is needed, before anything is begun. PlaceFault says what is missing."""
    settings = read_settings()
    if settings.fault:
        say(settings.fault)
    way = way_of(())
    try:
        files = tuple(recordings(path, also=(TEXT,)))
        for file in files:
            # Once now and once when its turn comes: the sounds of a day are more than must be held.
            (read_script if file.suffix.lower() == TEXT else read_sound)(file)
        Detector()
        made = judge(settings.model, way)
        for sentence in made.lacking:
            say(sentence)
        return Recorded(files, made, way)
    except SoundFileFault as fault:
        raise PlaceFault(str(fault), 2) from None
    except (*NO_RECOGNISER, NoDetector) as fault:
        raise PlaceFault(str(fault)) from None


def play_recordings(
    run: Run, clock: SimulatedClock, given: Recorded, printer: Printer, *, keep_clips: bool
) -> None:
    """Plays the files into a run."""
    run.subscribe(printer.heard)
    answering = Answering(run, flac if keep_clips else None)
    order, ask = "", run.view().ask
    try:
        for file in given.files:
            if file.suffix.lower() == TEXT:
                play(run, clock, read_script(file), printer, heard=True)
                continue
            let_pass(run, clock, _BETWEEN_MS)
            if run.view().ask != ask:
                order, ask = "", run.view().ask
            order = _said(run, clock, given, (file, order), printer, answering)
    finally:
        given.judge.close()


def _said(
    run: Run, clock: SimulatedClock, given: Recorded, what: tuple[Path, str], printer: Printer,
    answering: Answering,
) -> str:  # fmt: skip
    """One sound file; the order that wants something behind it."""
    file, order = what
    try:
        sound = read_sound(file)
    except SoundFileFault as fault:
        raise PlaceFault(str(fault), 2) from None
    found: Sequence[Taken] = utterances(sound)
    stood = now(run, run.listen(), run.view(), order, given.way)
    if not found:
        printer.line("heard", f"{file.name}: no speech")
    let_pass(run, clock, round(len(sound) * 1000 / RATE))
    for one in found:
        decision = given.judge.decide(Clip(one.samples, one.ratio), stood)
        printer.line("heard", f"{file.name}: {evidence(decision)}")
        order = answering.carry_out(decision, stood, one.samples)
        if order != stood.opener and run.view().ask == stood.ask:
            stood = now(run, run.listen(), run.view(), order, given.way)
    return order
