"""The thread that listens: sound from the microphone to utterances, its loss and its return.

Rules: this thread alone touches the device; keys, mutes and questions are told by any thread and
take effect at their place in the sound; a lost microphone is said once, looked for again while
nobody speaks, and its return is said; nothing that goes wrong with sound stops the run.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Final, Protocol

from runner.engine.effects import Voice
from runner.speech.ears.gate import (
    PRESSED_FOR,
    Asked,
    Dropped,
    Mode,
    ModeSet,
    OwnVoice,
    State,
    TalkKey,
    TransmitKey,
    Why,
)

if TYPE_CHECKING:
    from runner.speech.ears.capture import Piece
    from runner.speech.ears.hearing import Clip, Hearing

READ_S: Final = 0.05
LOOK_AGAIN_S: Final = 2.0
NONE: Final = "NO MICROPHONE"
NOTHING: Final = "NOTHING HEARD"
BACK: Final = "MICROPHONE IS BACK"
_DROPPED: Final = {
    Why.BEGAN_BEFORE: "NOT TAKEN: BEGAN BEFORE THE KEY",
    Why.SOUND_LOST: "NOT TAKEN: SOUND WAS LOST",
    Why.TOO_LONG: "NOT TAKEN: TOO LONG FOR AN ANSWER",
    Why.KEY_STUCK: "TALK KEY DID NOT COME UP",
}
"""Of these the crew hears; the others it knows."""


class Device(Protocol):
    """What this needs of a microphone."""

    fault: str

    @property
    def position(self) -> int:
        """The place in the sound of what is being said now."""
        ...

    @property
    def lost(self) -> bool:
        """Whether it must be opened again."""
        ...

    def reopen(self) -> bool:
        """Looks for devices and opens."""
        ...

    def read(self, timeout: float) -> Piece | None:
        """What has arrived."""
        ...

    def close(self) -> None:
        """Hears no more."""
        ...


class Listener:
    """One microphone, one gate, one thread. `taken` gets every utterance, `announce` sentences."""

    def __init__(
        self, device: Device, hearing: Hearing, taken: Callable[[Clip], None],
        likely: Callable[[Clip], None], announce: Callable[[str, Voice], None],
    ) -> None:  # fmt: skip
        """`likely` gets, once, what an utterance will be if nothing more is said."""
        self._device, self._hearing = device, hearing
        self._mode = hearing.state.mode
        self._taken, self._likely, self._announce = taken, likely, announce
        self._begun = (0, 0)
        self._stop = threading.Event()
        self._fault = ""
        self._sounding = False
        self._trouble = ""
        self._thread = threading.Thread(target=self._work, name="microphone", daemon=True)

    @property
    def listening(self) -> bool:
        """Whether what is said now would be taken."""
        return self._hearing.listening and not (self._device.fault or self._trouble)

    @property
    def sounding(self) -> bool:
        """Whether sound has arrived: before its first, the talk key opens nothing."""
        return self._sounding

    @property
    def answering(self) -> bool:
        """Whether somebody is answering just now, or has pressed the key to do so: an open
        microphone listens always, and nobody answers by that."""
        keyed = self.listening and self._hearing.state.mode is not Mode.OPEN
        return keyed or self._hearing.occupied

    @property
    def fault(self) -> str:
        """What is wrong with the microphone; empty while it hears."""
        return self._fault

    def start(self) -> None:
        """Begins to listen."""
        self._thread.start()

    def stop(self) -> None:
        """Lets the device go."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(timeout=2)

    # what is told ---------------------------------------------------------------------------

    def asked(self, ask: int | None) -> None:
        """This question stands now; None: none."""
        self._hearing.tell(Asked(self._device.position, ask))

    def talk(self) -> None:
        """A press of the talk key: it opens the gate, or shuts the open one. Without a microphone
        it does nothing: it must not open one that comes back later."""
        if self._device.lost:
            return
        self._hearing.tell(TalkKey(self._device.position, down=not self._hearing.state.key))

    def let_go(self) -> None:
        """A talk key that is open is shut, and a pedal that is down counts as up."""
        self._hearing.tell(TalkKey(self._device.position, down=False))

    def hold(self, *, down: bool) -> None:
        """A pedal, of which the release is known: open for as long as it is down."""
        at = self._device.position
        order = (ModeSet(at, Mode.HELD), TalkKey(at, down=True))
        for event in order if down else (TalkKey(at, down=False), ModeSet(at, self._mode)):
            self._hearing.tell(event)

    def transmit(self, *, down: bool) -> None:
        """The transmit key went down, or up."""
        self._hearing.tell(TransmitKey(self._device.position, down))

    def own_voice(self, speaking: bool) -> None:
        """The program's own voice begins, or has ended."""
        self._hearing.tell(OwnVoice(self._device.position, speaking))

    # the thread -----------------------------------------------------------------------------

    def _work(self) -> None:
        look_at = 0.0
        while not self._stop.is_set():
            try:
                look_at = self._once(look_at)
            except Exception as fault:  # whatever goes wrong with sound, it is listened on
                self._trouble = f"a fault of the program ({type(fault).__name__}); the keys go on"
                with contextlib.suppress(Exception):
                    self._deaf()
                self._stop.wait(READ_S)
            with contextlib.suppress(Exception):
                self._tell_fault()
        self._device.close()

    def _once(self, look_at: float) -> float:
        """One piece of sound, or one look for a device; when to look next."""
        if not self._device.lost:
            piece = self._device.read(READ_S)
            if piece is not None:
                self._sounding = True
                before = self._hearing.state
                found = self._hearing.feed(piece.samples, broken=piece.broken)
                self._out(found)
                if not found and self._ran_out(before):
                    self._announce(NOTHING, Voice.STATUS)
                self._trouble = ""
                self._ahead()
            return look_at
        if self._hearing.state.hearing:
            self._deaf()
        if time.monotonic() < look_at:
            self._stop.wait(READ_S)
            return look_at
        self._device.reopen()
        return time.monotonic() + LOOK_AGAIN_S

    def _ran_out(self, before: State) -> bool:
        """Whether the time of a pressed key was over just now: nothing was found to be speech."""
        waited = self._hearing.position - before.key_since
        was_open = before.key and before.opened is not None
        return was_open and not self._hearing.state.key and waited >= PRESSED_FOR

    def _deaf(self) -> None:
        """What was being said is dropped, and whoever hears again finds the key up: nobody talks to
        a microphone that is gone."""
        self.let_go()
        self._out(self._hearing.stopped())

    def _out(self, found: list[Clip | Dropped]) -> None:
        for one in found:
            if isinstance(one, Dropped):
                text = _DROPPED.get(one.why, "")
                # Without a key nobody knows whether it was said to the list.
                open_to_all = self._mode is Mode.OPEN and one.why is Why.BEGAN_BEFORE
                if text and not open_to_all:
                    self._announce(text, Voice.REFUSED)
            else:
                self._taken(one)

    def _ahead(self) -> None:
        one = self._hearing.likely()
        if one is None:
            return
        place = (one.utterance.first, one.utterance.last)
        if place != self._begun:
            self._begun = place
            self._likely(one)

    def _tell_fault(self) -> None:
        """Its loss and its return, each once, whatever else is found wrong meanwhile."""
        fault = self._device.fault or self._trouble
        was, self._fault = self._fault, fault
        if fault and not was:
            self._announce(f"{NONE}: {fault}", Voice.STATUS)
        elif was and not fault:
            self._announce(BACK, Voice.STATUS)
