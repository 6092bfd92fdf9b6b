"""A voice that notes what it is told to say, and never speaks."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable

from runner.engine.effects import Voice
from runner.speech.voice.lineup import Hold


class NotedVoice:
    """Stands in for the program's voice. `changed` is what hears that it speaks."""

    def __init__(self, changed: Callable[[bool], None] = lambda _: None, fault: str = "") -> None:
        self.changed = changed
        self.fault = fault
        self.told: list[tuple[object, ...]] = []
        self.prepared: list[str] = []
        self.holds: set[Hold] = set()
        self.closed = 0
        self.fails: Exception | None = None
        self._lock = threading.Lock()

    def connect(self) -> bool:
        return not self.fault

    def _tell(self, *what: object) -> None:
        with self._lock:
            self.told.append(what)

    def say(self, text: str, kind: Voice, ask: int) -> None:
        if self.fails is not None:
            raise self.fails
        self._tell("say", text, ask)

    def asked(self, ask: int) -> None:
        self._tell("asked", ask)

    def prepare(self, texts: Iterable[str]) -> None:
        self.prepared += texts

    def hold(self, why: Hold, *, holding: bool) -> None:
        (self.holds.add if holding else self.holds.discard)(why)
        self._tell("hold", why, holding)

    def barge_in(self) -> None:
        self._tell("barge in")

    def close(self) -> None:
        self.closed += 1

    @property
    def texts(self) -> list[object]:
        with self._lock:
            return [one[1] for one in self.told if one[0] == "say"]
