"""A desk that notes what is done to it, in its order, and what recognisers would have heard."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NamedTuple

from runner.engine.effects import Effect, Line, Listen, View, Voice
from runner.engine.listening import CONTROLS
from runner.speech.heard import Heard, Ranked, Sort
from tests.runner.terminal.fakes import listen, view

if TYPE_CHECKING:
    from runner.speech.heard import AnswerSet, Audio

BRAKE = Line(34, "Rotor brake", "RELEASED", "RELEASED", "answered", key="levers.rotor_brake")
OIL = Line(31, "Oil temperature", "", "45", "answered", key="levers.oil")


def asked(**changes: Any) -> Listen:
    """The brake is asked for, with all that may be said beside its answer."""
    base = listen(responses=("RELEASED",), meanings=(("RELEASED",),), controls=CONTROLS)
    return base._replace(**changes)


class Done(NamedTuple):
    """One thing that was done to a desk."""

    what: str
    text: str = ""
    ask: int = 0
    kind: Voice | None = None
    evidence: str = ""


class NotingDesk:
    """A run in which nothing happens: what is done to it is noted. `trouble` is what it says to a
    clip; `listens_to` what is listened for behind an order to correct."""

    def __init__(self, shown: View | None = None, hears: Listen | None = None) -> None:
        self.shown = shown or view(latest=OIL, before=(OIL,))
        self.hears = hears or asked()
        self.listens_to = asked()
        self.corrected: list[str] = []
        self.done: list[Done] = []
        self.clips: list[bytes] = []
        self.trouble = ""
        self.at = 0

    def now(self) -> int:
        return self.at

    def view(self) -> View:
        return self.shown

    def listen(self) -> Listen:
        return self.hears

    def listen_to(self, step: str) -> Listen:
        self.corrected.append(step)
        return self.listens_to

    def subscribe(self, heard: Callable[[tuple[Effect, ...]], None]) -> None:
        raise AssertionError("nothing happens here")

    def submit_heard(self, line: str, ask: int, evidence: str) -> object:
        self.done.append(Done("line", line, ask, evidence=evidence))
        return None

    def ask_again(self, ask: int, evidence: str) -> object:
        self.done.append(Done("again", "", ask, evidence=evidence))
        return None

    def announce(self, text: str, kind: Voice) -> None:
        self.done.append(Done("say", text, kind=kind))

    def keep_clip(self, content: bytes) -> str:
        self.clips.append(content)
        self.done.append(Done("clip"))
        return self.trouble

    @property
    def what(self) -> list[str]:
        return [one.what for one in self.done]

    @property
    def texts(self) -> list[str]:
        return [one.text for one in self.done if one.what == "say"]


class HeardPanel:
    """Recognisers that hear what they are told to, by the first sample of the sound."""

    def __init__(self, *heard: Heard) -> None:
        self.gives: list[Heard] = list(heard)
        self.asked: list[tuple[Audio, AnswerSet]] = []
        self.prepared: list[AnswerSet] = []
        self.lacking: tuple[str, ...] = ()
        self.closed = 0

    def heard(self, audio: Audio, answers: AnswerSet) -> list[Heard]:
        self.asked.append((audio, answers))
        return self.gives

    def first(self, audio: Audio, answers: AnswerSet) -> Heard:
        """Against its opposites every answer stands."""
        return Heard("one", (Ranked(answers.phrases[0].line, 0.0, Sort.RESPONSE),))

    def prepare(self, answers: AnswerSet) -> None:
        self.prepared.append(answers)

    def close(self) -> None:
        self.closed += 1


def surely(line: str, sort: Sort = Sort.RESPONSE, *, free: str = "") -> list[Heard]:
    """A line that two recognisers heard, with nothing near it."""
    ranked = (Ranked(line, -2.0, sort), Ranked("wilco", -40.0, Sort.CONTROL))
    return [Heard("one", ranked, free, -2.0), Heard("two", ranked)]


def unsurely(line: str, sort: Sort = Sort.RESPONSE, *, free: str = "") -> list[Heard]:
    """A line that is far from what would have been written freely."""
    return [Heard("one", (Ranked(line, -9.0, sort),), free, -1.0)]


def only_written(free: str) -> list[Heard]:
    """Words that are none of the answers."""
    return [Heard("one", (), free, -1.0), Heard("two", ())]
