"""What a decision does to the run: a line with its grounds, a call once more, or nothing.

Rules: one utterance becomes one line at most, of the question that stood when it began; what came
too late is said to be so and answers nothing; an order that wants something behind it is kept, with
a word on what is wanted, and given as one line; an order to correct names its item from then on,
whatever is answered meanwhile; why something is to be said again is told before the call; every
spoken answer that became a line of the log is kept as a clip, if the crew keeps clips, after it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from runner.conversation.microphone import NOTHING
from runner.conversation.standing import FREE, Standing, item_of
from runner.engine.effects import Prompt, Voice
from runner.speech.controls import corrected_step, follow
from runner.speech.decision import Decision, Verdict, evidence, sentence

if TYPE_CHECKING:
    from runner.conversation.desk import Desk
    from runner.engine.effects import View
    from runner.speech.heard import Audio

TOO_LATE: Final = "SAID TOO LATE: ANOTHER QUESTION STANDS"
BY_KEY: Final = "NOT TAKEN: THIS IS BY KEY"
NOTHING_GIVEN: Final = "NOTHING WAS ANSWERED THAT COULD BE CORRECTED"
_BREAKS_OFF: Final = "disregard"
_AGAIN: Final = "say again"
_NOT_THAT: Final = "negative"
_OF_LATEST: Final = "correction "

Clipper = Callable[["Audio"], bytes]
"""A clip as the bytes of a file."""


class Answering:
    """Carries decisions out. Used by one thread."""

    def __init__(self, desk: Desk, clipper: Clipper | None = None) -> None:
        """`clipper`: spoken answers are kept beside the log."""
        self._desk = desk
        self._clipper = clipper
        self._told = ""

    def carry_out(self, decision: Decision, standing: Standing, samples: Audio) -> str:
        """Does what was decided; the order that wants something behind it now, or nothing."""
        if decision.ask != self._desk.view().ask:
            if decision.verdict is not Verdict.NOTHING:
                self.too_late()
            return ""
        if decision.verdict is Verdict.NOTHING:
            if decision.why == "nothing heard":
                self._desk.announce(NOTHING, Voice.STATUS)
            return standing.opener
        if decision.verdict is Verdict.SAY_AGAIN:
            self._desk.announce(sentence(decision), Voice.REFUSED)
            self._desk.ask_again(decision.ask, evidence(decision))
            self._keep(samples)
            return standing.opener
        if standing.opener and decision.line == _BREAKS_OFF:
            self._desk.announce("DISREGARDED", Voice.ECHO)
            return ""
        if standing.opener and decision.line == _AGAIN:
            # Of what is wanted behind the order: dropped in silence, the next words would answer
            # the question that stands.
            self._desk.announce(wanted(standing.opener, self._desk), Voice.OUTCOME)
            return standing.opener
        line = decision.line
        if line == _OF_LATEST and self._desk.view().prompt is Prompt.READ_BACK:
            # What is to be corrected is what is being read back, not the answer before it.
            line = _NOT_THAT
        if line in standing.by_key:
            self._desk.announce(BY_KEY, Voice.REFUSED)
            return ""
        if follow(line):
            return self._opened(line)
        self._desk.submit_heard(line, decision.ask, evidence(decision))
        self._keep(samples)
        return ""

    def too_late(self) -> None:
        """Says that what was said belongs to a question that stands no more."""
        self._desk.announce(TOO_LATE, Voice.REFUSED)

    def _opened(self, order: str) -> str:
        """The order that is kept, and what is wanted behind it."""
        if follow(order) == "correct":
            step = corrected_step(order, self._desk.view())
            if not step:
                self._desk.announce(NOTHING_GIVEN, Voice.REFUSED)
                return ""
            order = f"correct {step} "
        self._desk.announce(wanted(order, self._desk), Voice.OUTCOME)
        return order

    def _keep(self, samples: Audio) -> None:
        if self._clipper is None:
            return
        try:
            trouble = self._desk.keep_clip(self._clipper(samples))
        except Exception as fault:  # a clip that cannot be made must not cost the crew the list
            trouble = f"{type(fault).__name__}: {fault}"
        if trouble and trouble != self._told:
            self._told = trouble
            self._desk.announce(f"CLIP NOT KEPT: {trouble}", Voice.STATUS)


def waiting(order: str, shown: View) -> str:
    """What stands on the screen while an order waits for what is wanted behind it."""
    return "SNAG" if order == FREE else f"CORRECTING {item_of(order, shown) or 'LATEST ANSWER'}"


def wanted(order: str, desk: Desk) -> str:
    """What is to be said behind an order."""
    if order == FREE:
        return "SNAG: SAY WHAT, OR DISREGARD"
    return f"CORRECTION, {item_of(order, desk.view()) or 'LATEST ANSWER'}: SAY WHAT IS RIGHT"
