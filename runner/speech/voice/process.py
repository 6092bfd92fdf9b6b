"""The voice's own process: `python -m runner.speech.voice.process`, lines in, lines out.

Rules: a line is one JSON object. In: `{"prepare": TEXT}` renders ahead when nothing else is to do;
`{"say": NUMBER, "text": TEXT}` speaks; `{"stop": NUMBER}` silences that one and what was given
before it, at once; `{"speed": 1.0}`. Out: `{"ready": ENGINE}` first, or the end after `{"fault":
SENTENCE, "final": true}`; then `{"began": N}`, and for every `say` exactly one `{"ended": N,
"whole": BOOL}`; faults as sentences; `{"prepared": COUNT}` when nothing is left to be rendered
ahead. The end of the input ends the process. Texts are words for the engine already.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
import threading
from collections import OrderedDict, deque
from typing import IO, Any, Final

from runner.speech.ears.devices import NoSound
from runner.speech.voice.engines import Engine, NoVoice, Rendered, first_engine
from runner.speech.voice.installed import SPEEDS
from runner.speech.voice.player import Player

MOST_BYTES: Final = 64 << 20
"""Of sound that is kept ready."""


class Kept:
    """Texts as sound, the longest unused one given up first."""

    def __init__(self, most: int = MOST_BYTES) -> None:
        self._most = most
        self._size = 0
        self._sounds: OrderedDict[tuple[str, float], Rendered] = OrderedDict()

    def get(self, text: str, speed: float) -> Rendered | None:
        """The sound, if it is there."""
        found = self._sounds.get((text, speed))
        if found is not None:
            self._sounds.move_to_end((text, speed))
        return found

    def put(self, text: str, speed: float, sound: Rendered) -> None:
        """Keeps a sound; what is too much goes."""
        self._sounds[text, speed] = sound
        self._size += sound.samples.nbytes
        while self._size > self._most and len(self._sounds) > 1:
            self._size -= self._sounds.popitem(last=False)[1].samples.nbytes


class Speaker:
    """The work of the process: one thread reads orders, the other renders and plays."""

    def __init__(self, engine: Engine, player: Player, out: IO[str], speed: float = 1.0) -> None:
        self._engine, self._player, self._out = engine, player, out
        self._speed = speed
        self._kept = Kept()
        self._changed = threading.Condition()
        self._says: deque[tuple[int, str]] = deque()
        self._prepares: deque[str] = deque()
        self._stopped = -1
        self._rendered = 0
        self._over = False

    def read(self, lines: Any) -> None:
        """Takes orders until there are no more."""
        for line in lines:
            try:
                order = json.loads(line)
            except ValueError:
                order = None
            if isinstance(order, dict):
                self._take(order)
        with self._changed:
            self._over = True
            self._stopped = sys.maxsize
            self._player.stop()
            self._changed.notify()

    def _take(self, order: dict[str, Any]) -> None:
        with self._changed:
            if "say" in order:
                self._says.append((int(order["say"]), str(order["text"])))
            elif "stop" in order:
                self._stopped = max(self._stopped, int(order["stop"]))
                self._player.stop()
            elif "prepare" in order:
                self._prepares.append(str(order["prepare"]))
            elif "speed" in order:
                self._speed = min(max(float(order["speed"]), SPEEDS[0]), SPEEDS[1])
            self._changed.notify()

    def work(self) -> None:
        """Speaks and renders until the orders end."""
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._over or self._says or self._prepares)
                if self._over:
                    return
                say = self._says.popleft() if self._says else None
                ahead = "" if say else self._prepares.popleft()
                speed = self._speed
                if say and say[0] > self._stopped:
                    self._player.allow()
            if say:
                self._say(*say, speed)
                continue
            with contextlib.suppress(NoVoice):  # it is told when it is to be said
                self._render(ahead, speed)
                self._rendered += 1
            if not self._prepares:
                self._tell(prepared=self._rendered)

    def _say(self, number: int, text: str, speed: float) -> None:
        whole = False
        try:
            if number > self._stopped:
                sound = self._render(text, speed)
                if number > self._stopped:
                    self._tell(began=number)
                    whole = self._player.play(sound)
        except (NoVoice, NoSound) as fault:
            self._tell(fault=str(fault))
        self._tell(ended=number, whole=whole)

    def _render(self, text: str, speed: float) -> Rendered:
        found = self._kept.get(text, speed)
        if found is None:
            found = self._engine.render(text, speed)
            self._kept.put(text, speed, found)
        return found

    def _tell(self, **what: Any) -> None:
        tell(self._out, **what)


def tell(out: IO[str], **what: Any) -> None:
    """One line to the program; a program that is gone is no fault of ours."""
    with contextlib.suppress(BrokenPipeError, ValueError):
        out.write(json.dumps(what) + "\n")
        out.flush()


def main(arguments: list[str]) -> None:
    """Begins with `[SPEED [DEVICE [ENGINE]]]`."""
    speed, device, wanted = (*arguments, *("1.0", "", "")[len(arguments) :])
    # What libraries print must not stand between the lines.
    out = os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="utf-8")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    try:
        engine = first_engine(wanted)
    except NoVoice as fault:
        tell(out, fault=str(fault), final=True)
        return
    speaker = Speaker(engine, Player(device), out, float(speed))
    tell(out, ready=engine.name)
    reading = threading.Thread(target=speaker.read, args=(sys.stdin,), daemon=True)
    reading.start()
    speaker.work()


if __name__ == "__main__":
    main(sys.argv[1:])
