"""A gate that is told things as a crew would do them."""

from __future__ import annotations

from runner.speech.ears.gate import (
    Asked,
    Dropped,
    Event,
    Mode,
    Out,
    Sound,
    State,
    TalkKey,
    Utterance,
    Why,
    advance,
)
from runner.speech.heard import RATE

FRAME = 512


class Told:
    """A gate that is told things in the order of their places, as a crew would do them."""

    def __init__(self, mode: Mode = Mode.HELD, ask: int | None = 1) -> None:
        self.state = State(mode=mode)
        self.at = 0
        self.out: list[Out] = []
        self.told(Asked(0, ask))
        self.silence(1)

    def told(self, event: Event) -> None:
        self.state, out = advance(self.state, event)
        self.out += out

    def frames(self, seconds: float, *, speech: bool, faint: bool) -> None:
        for _ in range(round(seconds * RATE / FRAME)):
            self.told(Sound(self.at, self.at + FRAME, speech, faint))
            self.at += FRAME

    def silence(self, seconds: float) -> None:
        self.frames(seconds, speech=False, faint=False)

    def talk(self, seconds: float) -> None:
        self.frames(seconds, speech=True, faint=True)

    def whisper(self, seconds: float) -> None:
        self.frames(seconds, speech=False, faint=True)

    def key(self, *, down: bool) -> None:
        self.told(TalkKey(self.at, down))

    def answer(self) -> None:
        """A word with the key held around it."""
        self.key(down=True)
        self.silence(0.3)
        self.talk(0.5)
        self.silence(0.3)
        self.key(down=False)

    @property
    def taken(self) -> list[Utterance]:
        return [one for one in self.out if isinstance(one, Utterance)]

    @property
    def dropped(self) -> list[Why]:
        return [one.why for one in self.out if isinstance(one, Dropped)]
