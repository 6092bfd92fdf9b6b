"""The voice as the program knows it: texts given, spoken by a process of its own, stopped at once.

Rules: nothing here waits for the voice, and no engine is imported; what is said next is decided by
the line-up; the program counts as speaking from the moment a text is handed over until the process
says that it has ended, so that the ears are deaf too long rather than too short; a process that
dies is begun again a few times and then left, with a sentence in `fault`: the list goes on, on the
screen. Everything may be told from any thread.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any, Final

from runner.engine.effects import Voice
from runner.speech.voice.installed import NONE, missing
from runner.speech.voice.lineup import Hold, Lineup, Saying
from runner.speech.voice.wording import wording

BEGUN_AGAIN: Final = 3
"""Times that a process which died is begun again."""
_ROOT: Final = str(Path(__file__).resolve().parents[3])
_PATIENCE_SECONDS: Final = 2.0


class Speaking:
    """One voice. `changed(True)` is called when the program begins to speak, `changed(False)` when
    it has ended; it must not wait, nor call back into this."""

    def __init__(
        self,
        changed: Callable[[bool], None] = lambda speaking: None,
        *,
        speed: float = 1.0,
        device: str = "",
        engine: str = "",
        language: str = "en",
        command: Sequence[str] | None = None,
    ) -> None:
        module = [sys.executable, "-m", "runner.speech.voice.process"]
        self._command = [*(command or module), str(speed), device, engine]
        self._changed, self._language = changed, language
        self._own = command is not None
        self._lock = threading.RLock()
        self._lineup = Lineup()
        self._child: subprocess.Popen[str] | None = None
        self._reader: threading.Thread | None = None
        self._given: dict[int, int] = {}
        self._number = 0
        self._handed = 0
        self._begun = 0
        self._closed = False
        self._prepared: list[str] = []
        self.engine = ""
        self.fault = ""
        self.ready_ahead = 0

    @property
    def speaking(self) -> bool:
        """Whether the program's own voice may be heard now."""
        return bool(self._given)

    def connect(self) -> bool:
        """Begins the process; False leaves the reason in `fault`. It is not waited for."""
        with self._lock:
            if self._closed or self._child is not None:
                return self._child is not None
            lacking = "" if self._own else missing()
            if lacking:
                self.fault = lacking
                return False
            return self._begin()

    def prepare(self, texts: Iterable[str]) -> None:
        """Has texts rendered ahead, in this order, while nothing is said."""
        with self._lock:
            new = [said for text in texts if (said := wording(text, self._language))]
            self._prepared += new
            for text in new:
                self._order(prepare=text)

    def say(self, text: str, kind: Voice, ask: int) -> None:
        """A text of question `ask`, to be said when its turn comes."""
        said = wording(text, self._language)
        with self._lock:
            if not said or self._child is None:
                return
            self._number += 1
            if self._lineup.add(Saying(self._number, said, kind, ask)):
                self._stop()
            self._go_on()

    def asked(self, ask: int) -> None:
        """Another question stands: what belongs to those before is not said."""
        with self._lock:
            if self._lineup.asked(ask):
                self._stop()
            self._go_on()

    def hold(self, why: Hold, *, holding: bool) -> None:
        """The transmit key is down, or somebody answers; or no more."""
        with self._lock:
            if not holding:
                self._lineup.release(why)
            elif self._lineup.hold(why):
                self._stop()
            self._go_on()

    def barge_in(self) -> None:
        """The talk key went down: silence, at once."""
        with self._lock:
            if self._lineup.barge_in():
                self._stop()
            self._go_on()

    def set_speed(self, speed: float) -> None:
        """From the next text on; what was rendered ahead is rendered again when its turn comes."""
        with self._lock:
            self._command[-3] = str(speed)
            self._order(speed=speed)

    def set_device(self, device: str) -> None:
        """Another loudspeaker: the process begins anew with it."""
        with self._lock:
            self._command[-2] = device
            child = self._child
            if child is not None:
                self._begun = 0
                self._lost(child)

    def close(self) -> None:
        """Silence, and the end of the process."""
        with self._lock:
            self._closed = True
            child, self._child = self._child, None
            reader = self._reader
            self._all_ended()
        if child is None:
            return
        _end(child)
        if reader is not None:
            reader.join(_PATIENCE_SECONDS)

    def _begin(self) -> bool:
        path = os.pathsep.join(part for part in (_ROOT, os.environ.get("PYTHONPATH", "")) if part)
        try:
            self._child = subprocess.Popen(
                self._command, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL, text=True, encoding="utf-8", start_new_session=True,
                env={**os.environ, "PYTHONPATH": path},
            )  # fmt: skip
        except OSError as fault:
            self.fault = f"the voice cannot be begun ({fault}); the list goes on, on the screen"
            return False
        self._reader = threading.Thread(target=self._read, args=(self._child,), daemon=True)
        self._reader.start()
        for text in self._prepared:
            self._order(prepare=text)
        return True

    def _read(self, child: subprocess.Popen[str]) -> None:
        """What the process says, until it ends."""
        assert child.stdout is not None  # noqa: S101
        for line in child.stdout:
            with contextlib.suppress(ValueError):
                told = json.loads(line)
                with self._lock:
                    if child is self._child:
                        self._told(told)
        child.stdout.close()
        with self._lock:
            if child is self._child:
                self._lost(child)

    def _told(self, told: dict[str, Any]) -> None:
        if "ready" in told:
            self.engine, self.fault = str(told["ready"]), ""
        elif "prepared" in told:
            self.ready_ahead = int(told["prepared"])
        elif "fault" in told:
            self.fault = f"{told['fault']}; the list goes on, on the screen"
            if told.get("final"):
                self.fault = str(told["fault"]) if told["fault"] == NONE else self.fault
                self._begun = BEGUN_AGAIN
        elif "ended" in told:
            if told.get("whole"):
                self.fault, self._begun = "", 0
            self._end_of(int(told["ended"]))
            self._go_on()

    def _lost(self, child: subprocess.Popen[str]) -> None:
        """The process is gone: begun again, or left."""
        self._child = None
        _end(child)
        self._all_ended()
        if self._closed:
            return
        if self._begun >= BEGUN_AGAIN:
            self.fault = self.fault or "the voice has ended; the list goes on, on the screen"
            return
        self._begun += 1
        if self._begin():
            self._go_on()

    def _all_ended(self) -> None:
        for number in sorted(self._given):
            self._end_of(number)

    def _end_of(self, number: int) -> None:
        if number in self._given:
            self._lineup.ended(self._given.pop(number))
            if not self._given:
                self._changed(False)

    def _go_on(self) -> None:
        """Hands over what is to be said now. One that was stopped must have ended first."""
        if self._child is None or self._given:
            return
        saying = self._lineup.next()
        if saying is None:
            return
        # What is said again has another number for the process, and keeps its place in the line-up.
        self._handed += 1
        self._given[self._handed] = saying.number
        self._changed(True)
        self._order(say=self._handed, text=saying.text)

    def _stop(self) -> None:
        self._order(stop=max(self._given, default=0))

    def _order(self, **what: Any) -> None:
        if self._child is None or self._child.stdin is None:
            return
        with contextlib.suppress(OSError, ValueError):  # its end is noticed by the reader
            self._child.stdin.write(json.dumps(what) + "\n")
            self._child.stdin.flush()


def _end(child: subprocess.Popen[str]) -> None:
    """Lets the process end by itself, and makes it end."""
    if child.stdin is not None:
        with contextlib.suppress(OSError):
            child.stdin.close()
    try:
        child.wait(_PATIENCE_SECONDS)
    except subprocess.TimeoutExpired:
        child.kill()
        child.wait()
