"""A run and the voice joined for tests: the run, the gate and the judging are real, the sound, the
recognisers and the program's voice are not."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest

np = pytest.importorskip("numpy")

from audit.folder import LogFolder  # noqa: E402
from runner.conversation.calling import Caller  # noqa: E402
from runner.conversation.conversation import LISTENING, STARTING, Conversation  # noqa: E402
from runner.conversation.hearing import Judge  # noqa: E402
from runner.conversation.parts import Parts  # noqa: E402
from runner.conversation.standing import Way  # noqa: E402
from runner.host.run import Run  # noqa: E402
from runner.speech.ears.detector import Detector  # noqa: E402
from runner.speech.ears.gate import Mode  # noqa: E402
from runner.speech.ears.hearing import Hearing  # noqa: E402
from runner.speech.heard import Heard  # noqa: E402
from runner.speech.lexicon import lexicon  # noqa: E402
from tests.runner.conversation.desks import HeardPanel  # noqa: E402
from tests.runner.conversation.sounds import (  # noqa: E402
    QUIET,
    SPEECH,
    FakeDevice,
    LoudIsSpeech,
    mark_of,
    piece,
)
from tests.runner.conversation.voices import NotedVoice  # noqa: E402
from tests.runner.host.support import Ear, FakeClock, begin, lines_of, people, say  # noqa: E402
from tests.runner.speech.judging import LIMITS  # noqa: E402
from tests.runner.speech.sound import until  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import AnswerSet, Audio

READ = ("commander: page read", "copilot: page read")
STATION = (*READ, "tick hook", "tick tie-downs", "tick nose cowl latches")
CLOSING = 5
"""The question of the closing of the station, the fifth of the run."""
TO_BRAKE = (*STATION, "closed", "roger")


class Panel(HeardPanel):
    """Recognisers that hear what was said by its mark; whoever judges may be made to wait."""

    def __init__(self) -> None:
        super().__init__()
        self.means: dict[float, list[Heard]] = {}
        self.goes_on = threading.Event()
        self.goes_on.set()
        self.began = threading.Event()
        self.fails: Exception | None = None

    def heard(self, audio: Audio, answers: AnswerSet) -> list[Heard]:
        self.asked.append((audio, answers))
        self.began.set()
        assert self.goes_on.wait(30)
        if self.fails is not None:
            raise self.fails
        return self.means.get(mark_of(audio), [Heard("one", ()), Heard("two", ())])


class Talk:
    """A run by voice. What is said is put into the microphone; what happens is asked of the run."""

    def __init__(self, folder: LogFolder, **given: Any) -> None:
        self.clock = FakeClock()
        self.folder = folder
        self.run: Run = begin(folder, self.clock, people())
        say(self.run, self.clock, *given.pop("lines", READ))
        self.ear = Ear(self.run)
        self.mode: Mode = given.pop("mode", Mode.PRESSED)
        self.device, self.panel, self.net = FakeDevice(), Panel(), LoudIsSpeech()
        self.hearing = Hearing(self.mode, Detector(self.net))
        self.voice = NotedVoice()
        self.way = Way(lexicon(), self.mode is Mode.OPEN)
        self.judge = Judge(self.panel, LIMITS, self.way)  # type: ignore[arg-type]
        self.marks = 0.2
        self.parts = Parts(
            lambda: self.judge, lambda: self.hearing, lambda: self.device, self._speaking,
            given.pop("clipper", None),
        )._replace(**given.pop("parts", {}))  # fmt: skip
        self.conversation = Conversation(
            self.run, self.parts, self.way, given.pop("caller", Caller.PROGRAM)
        )
        assert not given

    def _speaking(self, changed: Callable[[bool], None]) -> Any:
        self.voice.changed = changed
        return self.voice

    def start(self) -> Talk:
        self.conversation.start()
        self.begun()
        self.hears(1.0)
        return self

    def begun(self) -> None:
        """Until the voice has begun, for which a microphone must give its first sound."""
        self.device.put(piece(0.1))
        until(lambda: STARTING not in self.conversation.bands(), "the voice")

    def hears(self, seconds: float, value: float = QUIET, mark: float = 0.0) -> None:
        self.device.put(piece(seconds, value, mark))
        until(lambda: self.device.dealt_with >= self.device.given, "the sound")

    def will_hear(self, heard: list[Heard]) -> float:
        """What the recognisers will make of an utterance with this mark."""
        self.marks = round(self.marks + 0.0005, 4)
        self.panel.means[self.marks] = heard
        return self.marks

    def opened(self) -> None:
        self.conversation.talk()
        self.hears(0.1)
        assert LISTENING in self.conversation.bands()

    def says(self, heard: list[Heard]) -> None:
        """Somebody presses the key and speaks; nothing more is said."""
        mark = self.will_hear(heard)
        if self.mode is Mode.PRESSED:
            self.opened()
        self.hears(0.3)
        self.hears(0.4, SPEECH, mark)
        self.hears(1.0)

    def judged(self) -> None:
        """Until nothing is waiting to be judged, and all of it has been done."""
        until(lambda: not self.conversation._judging, "the judging")

    def said(self, *texts: str) -> None:
        until(lambda: all(any(t in one for one in self.ear.texts) for t in texts), f"{texts}")

    def keys(self, *lines: str) -> None:
        say(self.run, self.clock, *lines)

    def events(self, source: str = "voice") -> list[dict[str, Any]]:
        path = self.folder.path_of(self.run.recorder.writer.run)
        return [
            line.data for line in lines_of(path)
            if line.type == "event" and line.data["event"].get("source") == source
        ]  # fmt: skip

    def end(self) -> None:
        self.conversation.stop()
        self.run.stop()
