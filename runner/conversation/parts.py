"""What a conversation is made of, each part by a call that may take a second, and its work.

Rules: nothing is made here; a part that cannot be had raises, and its sentence is shown.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from pathlib import Path

    from runner.conversation.answering import Clipper
    from runner.conversation.hearing import Judge
    from runner.conversation.microphone import Device
    from runner.speech.ears.hearing import Clip as Taken
    from runner.speech.ears.hearing import Hearing
    from runner.speech.voice.speaking import Speaking


class Parts(NamedTuple):
    """What is made once the first screen stands, each by a call that may take a second. A part that
    cannot be had raises; its sentence is shown. `speaking` gets what hears that it speaks."""

    judge: Callable[[], Judge]
    hearing: Callable[[], Hearing]
    device: Callable[[], Device]
    speaking: Callable[[Callable[[bool], None]], Speaking] | None = None
    clipper: Clipper | None = None
    pedal: Path | None = None


class Work(NamedTuple):
    """A clip to judge: one that was taken whole, or what it will be if nothing more is said."""

    clip: Taken
    whole: bool


def same_utterance(one: Taken, other: Taken) -> bool:
    """Whether two clips are one utterance; neither cut short by the key."""
    pair = (one.utterance, other.utterance)
    return pair[0] == pair[1] and not pair[0].cut
