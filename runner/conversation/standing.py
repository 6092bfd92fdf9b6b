"""The question that stands and all that may be said to it just now.

Rules: pure; an order that wants something behind it ("correct ITEM", "snag") stands beside its
question until it is given or another question comes; then nothing else is listened for but what
belongs to it, the words that break it off, and the ways out that are always open; the words of a
snag are free, and so no set holds them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from runner.engine.effects import Line, Listen, View
from runner.speech.answers import answer_set, correction_set
from runner.speech.controls import corrected_step, follow
from runner.speech.heard import AnswerSet, Phrase, Sort
from runner.speech.lexicon import Lexicon

if TYPE_CHECKING:
    from runner.conversation.desk import Desk

FREE: Final = "snag "
_BREAKS_OFF: Final = ("disregard", "say again", "stand by")


class Way(NamedTuple):
    """In which words the crew speaks, whether the microphone is open, and the lines that are by
    key alone: of a page with more sheets than one the voice does not know which were seen."""

    language: Lexicon
    open_microphone: bool = False
    by_key: frozenset[str] = frozenset()


class Standing(NamedTuple):
    """One question: what may be said to it, the order to which it belongs, if there is one, and
    what is heard as what it is, so that it is heard as nothing else, but is a key's alone."""

    answers: AnswerSet
    opener: str = ""
    by_key: frozenset[str] = frozenset()

    @property
    def ask(self) -> int:
        """The number of the question."""
        return self.answers.ask

    @property
    def free(self) -> bool:
        """Whether any words are wanted."""
        return self.opener == FREE


def standing(listen: Listen, view: View, way: Way) -> Standing:
    """What may be said to the question that stands."""
    found = answer_set(listen, view, way.language, open_microphone=way.open_microphone)
    return Standing(found, by_key=way.by_key)


def of_correction(order: str, listen_to: Listen, way: Way, out: Sequence[Phrase] = ()) -> Standing:
    """What may be said behind an order to correct; `listen_to` belongs to the step it is about,
    `out` are the ways out that are always open."""
    found = correction_set(order, listen_to, way.language, open_microphone=way.open_microphone)
    taken = {one for phrase in found.phrases for one in phrase.ways}
    more = tuple(phrase for phrase in out if not taken & {*phrase.ways})
    return Standing(found._replace(phrases=(*found.phrases, *more)), order)


def of_snag(view: View, way: Way, out: Sequence[Phrase] = ()) -> Standing:
    """Behind "snag": any words, those that break it off, and the ways out."""
    words = way.language.control
    phrases = tuple(Phrase(word, words[word], Sort.CONTROL) for word in _BREAKS_OFF)
    return Standing(AnswerSet(view.ask, (*phrases, *out)), FREE)


def ways_out(stands: Standing) -> tuple[Phrase, ...]:
    """What may be said at any question, whatever waits beside it: to discontinue, a drill, a
    mark."""
    return tuple(
        phrase
        for phrase in stands.answers.phrases
        if phrase.sort is Sort.CONTROL
        and (phrase.line == "discontinue" or phrase.line.startswith(("drill ", "mark ")))
    )


def now(desk: Desk, listen: Listen, view: View, order: str, way: Way) -> Standing:
    """The question that stands, with the order that waits beside it, if one does."""
    plain = standing(listen, view, way)
    if order == FREE:
        return of_snag(view, way, ways_out(plain))
    step = corrected_step(order, view) if follow(order) == "correct" else ""
    if not step:
        return plain
    return of_correction(order, desk.listen_to(step), way, ways_out(plain))


def item_of(order: str, view: View) -> str:
    """The name of the item that an order is about, as the crew reads it; empty for none."""
    step = corrected_step(order, view)
    lines: list[Line] = [*view.before, *view.items]
    lines += [view.latest] if view.latest is not None else []
    return next((line.challenge.upper() for line in lines if step and line.key == step), "")
