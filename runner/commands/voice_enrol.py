"""`voice enrol`: one person's reading, what follows from it, and who is enrolled.

Rules: what is stored follows from the reading by `speech.enrolment` alone, and the file says what
was measured; an earlier reading stands until the new one is whole; too little heard is no reading;
whatever is stored, nothing is taken on less than the bounds that were tested.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Final

from audit.stamps import wall_text
from runner.commands.signing import say
from runner.commands.voice import needed, settings
from runner.commands.voice_script import Sentence, reading
from runner.flow.loader import load_aircraft
from runner.host import places
from runner.host.clock import SystemClock
from runner.host.places import PlaceFault
from runner.host.vocabulary import words_of
from runner.host.voicing import enrolled, forget_person, own_file, write_person
from runner.speech.agreement import distance, kind_of
from runner.speech.enrolment import LEAST_RIGHT, Enrolment, Read, enrolment
from runner.speech.thresholds import MOST_RAISED, MOST_SHIFT, Person, thresholds

if TYPE_CHECKING:
    from runner.commands.voice_ear import Ear, Taken
    from runner.speech.panel import Panel

LEAST: Final = 0.8
"""The share of the sentences that must have been heard."""
WIDTH: Final = 79
_AGAIN: Final = 2
"""How often a sentence is shown where nothing was heard."""


def enrol(name: str | None, hear: Path | None, *, forget: bool) -> int:
    """Reads, forgets, or tells who is enrolled."""
    if name is None:
        return _listed()
    path = own_file(name)
    if forget:
        gone = forget_person(name)
        say(f"what {name} read is removed" if gone else f"{name} was not enrolled ({path})")
        return 0 if gone else 4
    needed()
    from runner.commands.voice_ear import ear
    from runner.commands.voice_person import recognisers

    before = path.exists()
    if before:
        say(f"{name} has read before; this reading replaces that one when it is whole")
    held = settings()
    loaded = load_aircraft(places.shipped() / "corvane_c4")
    sentences = reading(loaded)
    panel = recognisers(held)
    try:
        source = ear(hear, held.microphone)
        try:
            reads, over = _read(source, sentences, panel, live=hear is None)
        finally:
            source.close()
    finally:
        panel.close()
    if len(reads) < LEAST * len(sentences):
        trouble = f"; {source.trouble}" if source.trouble else ""
        raise PlaceFault(
            f"{len(reads)} of {len(sentences)} sentences were heard, too few for a reading; "
            f"nothing is changed{trouble}; try: latchword voice test", 1
        )  # fmt: skip
    found = enrolment(name, reads, thresholds(), words_of(loaded, places.shipped()))
    measured = {
        **found.measured, "sentences": len(sentences), "above_noise_db": over,
        "recognisers": [one.name for one in panel.members], "microphone": source.name,
        "at": wall_text(SystemClock().stamp().wall_ms),
    }  # fmt: skip
    where = write_person(found.person, measured)
    say(f"{'replaced' if before else 'written'}: {where}")
    _tell(found, len(sentences))
    return 0


def _listed() -> int:
    known = enrolled()
    for fault in known.faults:
        say(fault)
    for person in known.persons:
        print(f"{person.name}  {_figures(person)}")
    if not known.persons:
        say("nobody has read. Two minutes: latchword voice enrol NAME")
    return 4 if known.faults else 0


def _read(
    source: Ear, sentences: Sequence[Sentence], panel: Panel, *, live: bool
) -> tuple[list[Read], list[float]]:
    """What was heard of each sentence that was, and how far speech stood above the noise."""
    bars = thresholds()
    reads: list[Read] = []
    over: list[float] = []
    if live:
        say(f"{len(sentences)} sentences, one after another, as on the radio; Ctrl-C breaks it off")
        say("first some seconds of silence, by which the noise is known")
        source.noise()
    for number, sentence in enumerate(sentences, 1):
        if live:
            say(f"{number:>2} of {len(sentences)}, say:  {sentence.shown}")
        taken = _taken(source, sentence, number, times=_AGAIN if live else 1)
        if taken is None:
            continue
        heard = tuple(panel.heard(taken.samples, sentence.answers))
        kind = kind_of(sentence.meant, sentence.answers)
        noise = bars.noise_class(taken.ratio)
        read = Read(
            sentence.words, sentence.line, kind, heard, distance(heard[0], sentence.answers),
            noise, taken.level_db, taken.peak_db,
        )  # fmt: skip
        reads.append(read)
        over += [] if taken.ratio is None else [round(taken.ratio, 1)]
        if not read.right:
            say(f"   {sentence.shown}: heard {read.best.strip() or 'no answer'}")
    return reads, over


def _taken(source: Ear, sentence: Sentence, number: int, *, times: int) -> Taken | None:
    for turn in range(times):
        if turn:
            say(f"    {source.missed or 'nothing heard'}; once more:  {sentence.shown}")
        taken = source.phrase(number)
        if taken is not None:
            return taken
    return None


def _tell(found: Enrolment, sentences: int) -> None:
    measured, person = found.measured, found.person
    print(f"{person.name}: {measured['right']} of {sentences} heard right")
    noise = Counter(measured["noise"]).most_common(1)[0][0]
    print(
        f"level   {measured['level_db']:.0f} dB, peaks {measured['peak_db']:.0f} dB, noise {noise}"
    )
    print(f"set     {_figures(person)}")
    for word, said in person.ways.items():
        print(f"        {word}: also {', '.join(said)}")
    for doubt in found.doubts:
        print(fill(f"DOUBT   {doubt}", WIDTH, subsequent_indent=" " * 8))
    if person.shifts and min(person.shifts.values()) <= -MOST_SHIFT:
        say(fill("the scores lie lower than may be allowed for: expect to be asked again; try "
                 "another microphone, then read again", WIDTH))  # fmt: skip
    if len(measured["above_the_score_wanted"]) < LEAST_RIGHT:
        say(fill("too few sentences stood clear above the noise for the scores, which are left as "
                 "all have them: read again where it is quiet", WIDTH))  # fmt: skip
    if person.raised >= MOST_RAISED:
        say("answers of this voice are easily taken for others: read again where it is quiet")


def _figures(person: Person) -> str:
    shifts = ", ".join(f"{name} {shift:+.2f}" for name, shift in person.shifts.items())
    return (
        f"gain {person.gain_db:+.1f} dB, score {shifts or 'as all'}, margin x {person.raised:.2f}, "
        f"{len(person.ways)} own ways"
    )
