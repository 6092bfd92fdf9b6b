"""Which of the calls are spoken, by who calls the list and how long ago the aircraft lifted.

Rules: pure. Where the copilot reads, the program calls nothing: what it is asked to read back, what
was not taken, values that were heard, drills, marks of time and outcomes it says in either way.
The memory items of a drill stand there in silence. For two minutes after the take-off nothing but
marks, drills and their times is said. What only stands on the screen (what a list is called, who is
aboard) is not spoken, the loss of the recording and of the microphone apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from enum import Enum
from typing import Final, NamedTuple

from runner.conversation.microphone import BACK, NONE
from runner.engine.effects import Effect, Listen, Prompt, Say, View, Voice

QUIET_MS: Final = 120_000
"""After the take-off mark (a setting of the crew; this is its beginning)."""
_ALWAYS: Final = frozenset({
    Voice.READ_BACK, Voice.REFUSED, Voice.OUTCOME, Voice.TIMER, Voice.DRILL,
})  # fmt: skip
_OF_CALLER: Final = frozenset({Voice.CALL, Voice.CAUTION, Voice.REMARK})
_IN_QUIET: Final = frozenset({Voice.TIMER, Voice.DRILL})
CALLS: Final = frozenset({Voice.CALL, Voice.CAUTION, Voice.READ_BACK})
"""What waits for an answer, and is called again while none comes."""
_MARKS: Final = ("TAKE-OFF MARKED", "LANDING MARKED", "LIFTED")
_SEEN: Final = ("WAIT RUNS: ", "WAIT GOES ON: ", "CLOCK RUNS: ", "IN TIME: ")
"""Of times what stands on the screen: a wait is called at its end, a clock by its marks."""
_LOST: Final = ("RECORDING LOST", NONE, BACK)
"""Who looks elsewhere must hear of these."""


class Caller(Enum):
    """Who calls the list."""

    PROGRAM = "program calls"
    COPILOT = "copilot reads"


class Moment(NamedTuple):
    """What decides on speaking: who calls, what stands now, what was asked before, the time."""

    caller: Caller
    view: View
    before: Listen
    now: int
    quiet_ms: int = QUIET_MS


def spoken(effects: Iterable[Effect], moment: Moment) -> Iterator[Say]:
    """What of these effects is spoken, in its order."""
    quiet = in_quiet(moment.view, moment.now, moment.quiet_ms)
    for effect in effects:
        if isinstance(effect, Say) and _is_spoken(effect, moment, quiet=quiet):
            yield effect


def in_quiet(view: View, now: int, quiet_ms: int = QUIET_MS) -> bool:
    """Whether the aircraft has lifted just now."""
    lifted = [at for name, at in view.marks if name == "take-off"]
    return view.airborne and bool(lifted) and now - max(lifted) < quiet_ms


def _is_spoken(said: Say, moment: Moment, *, quiet: bool) -> bool:
    if said.kind is Voice.TIMER and said.text.startswith(_SEEN):
        return False
    if quiet:
        return said.kind in _IN_QUIET or said.text.startswith(_MARKS)
    if said.kind in _ALWAYS:
        return True
    if said.kind is Voice.ECHO:
        # Of words "DONE" or the words themselves: nobody needs to hear them twice.
        return moment.before.number
    if said.kind is Voice.STATUS:
        return said.text.startswith(_LOST)
    silent = moment.caller is Caller.COPILOT or moment.view.prompt is Prompt.MEMORY_ITEMS
    return said.kind in _OF_CALLER and not silent


def ahead(view: View) -> Iterator[str]:
    """What will be called next, to be rendered before it is wanted."""
    for line in view.after:
        yield f"{line.challenge.upper()}?"
