"""Sound to the loudspeaker, stopped at once; imported by the voice's own process alone.

Rules: the device runs at its own rate; what it is given is whole before it begins, so that nothing
stutters; stopped means silent within a block of the device; a device that is not there is looked
for once more before it is a fault.
"""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

import numpy as np

from runner.speech.ears.devices import Device, NoSpeaker, choose, devices, portaudio, rescan
from runner.speech.ears.resample import resampled

if TYPE_CHECKING:
    from runner.speech.heard import Audio
    from runner.speech.voice.engines import Rendered

_LATENCY_SECONDS = 0.25
"""What waits in the device: through a sound server, 0.1 ran dry and most of the sound was lost, 0.2
did not. It begins at once all the same, and stopped it is thrown away."""
_TAIL_SECONDS = _LATENCY_SECONDS + 0.05
"""Silence behind the sound: the end of a stream does not wait for what is in the device."""
_PATIENCE_SECONDS = 5.0
"""A device that is this much behind with what it was given is no longer playing."""


class Player:
    """One loudspeaker. Played by one thread, stopped by any."""

    def __init__(self, device: str = "", library: Any = None) -> None:
        self.wanted = device
        self._library = library
        self._stop = threading.Event()

    def play(self, sound: Rendered) -> bool:
        """Plays to the end; False if it was stopped. `NoSpeaker` if there is no device."""
        library = self._library = portaudio("output") if self._library is None else self._library
        try:
            return self._play(library, sound)
        except (NoSpeaker, library.PortAudioError):
            if self._stop.is_set():
                return False
            rescan(library)
        try:
            return self._play(library, sound)
        except library.PortAudioError as fault:
            raise NoSpeaker(f"the loudspeaker cannot be used ({_line(fault)})") from None

    def stop(self) -> None:
        """Silence, now and until `allow`."""
        self._stop.set()

    def allow(self) -> None:
        """What is played from now on is heard."""
        self._stop.clear()

    def _play(self, library: Any, sound: Rendered) -> bool:
        found = choose(self.wanted, devices(library, "output"), "output")
        samples = _at(found, sound)
        place = 0
        over = threading.Event()

        def fill(out: Any, frames: int, when: Any, status: Any) -> None:
            nonlocal place
            if self._stop.is_set():
                out.fill(0)
                raise library.CallbackAbort
            piece = samples[place : place + frames]
            out[: len(piece)] = piece[:, None]
            out[len(piece) :] = 0
            place += len(piece)
            if place >= len(samples):
                raise library.CallbackStop

        stream = library.OutputStream(
            device=found.number,
            channels=min(2, found.channels),
            samplerate=found.rate,
            dtype="float32",
            latency=_LATENCY_SECONDS,
            callback=fill,
            finished_callback=over.set,
        )
        try:
            stream.start()
            ended = over.wait(len(samples) / found.rate + _PATIENCE_SECONDS)
        finally:
            stream.close(ignore_errors=True)
        if self._stop.is_set():
            return False
        if not ended or place < len(samples):
            raise NoSpeaker(f"the loudspeaker {found.name!r} has stopped playing")
        return True


def _at(found: Device, sound: Rendered) -> Audio:
    whole = (sound.samples / 32768).astype(np.float32)
    tail = np.zeros(round(_TAIL_SECONDS * found.rate), np.float32)
    played: Audio = np.concatenate([resampled(whole, sound.rate, found.rate), tail])
    return np.clip(played, -1, 1).astype(np.float32)


def _line(fault: Exception) -> str:
    return " ".join(str(fault).split())
