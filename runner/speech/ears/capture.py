"""The microphone: sound as it arrives, and plain words for what is wrong with it.

Rules: the sound library is imported when a microphone is opened and not before, because without it
the keys must go on; the device runs at its own rate; its callback copies into a queue, counts what
was lost, and does nothing else; nothing here raises once the microphone is open: its loss, a sound
that does not arrive and two seconds of exact zeros (no microphone is that silent: access is not
permitted, or it is switched off) stand in `fault` until they are over. A device that was plugged in
or out is seen only after a rescan, which ends every stream: `reopen` does both, between steps.
"""

from __future__ import annotations

import queue
import sys
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from runner.speech.ears.devices import Device, NoMicrophone, choose, devices, portaudio, rescan
from runner.speech.ears.resample import Resampler
from runner.speech.heard import RATE

if TYPE_CHECKING:
    from runner.speech.heard import Audio

ZEROS_SECONDS: Final = 2.0
STILL_SECONDS: Final = 3.0
"""Without any sound for so long, the device counts as gone (a sound server takes two to begin)."""
_LATENCY_SECONDS: Final = 0.1
"""What may wait in the device, so that a busy machine loses nothing."""
_MOST_SECONDS: Final = 20.0
"""Sound that waits longer than this for its reader is lost."""

_PERMITTED: Final = {
    "darwin": "allow the terminal the microphone in System Settings, Privacy & Security",
    "win32": "allow desktop apps the microphone in Settings, Privacy",
}
_SWITCHED: Final = "look for its mute in the mixer, and whether this user may use it"


class Piece(NamedTuple):
    """Sound at 16 kHz that follows the piece before; `broken`: something is missing in between."""

    samples: Audio
    broken: bool = False


class _Block(NamedTuple):
    samples: Audio
    overflowed: bool


class Microphone:
    """One input device. Opened, read and closed by one thread; `position` may be asked by any."""

    def __init__(self, device: str = "", library: Any = None) -> None:
        """`device` is its number or a part of its name; empty is the system's own choice."""
        self.wanted = device
        self.device: Device | None = None
        self.overflows = 0
        self.fault = ""
        self._library = library
        self._stream: Any = None
        self._blocks: queue.SimpleQueue[_Block | None] = queue.SimpleQueue()
        self._stream_ended = False
        self._captured = 0
        self._on_the_way = 0
        self._before = 0
        self._delivered = 0
        self._zeros = 0
        self._still = 0.0
        self._broken = False
        self._resampler = Resampler(RATE)

    @property
    def position(self) -> int:
        """The place in the sound of what is being said now: samples at 16 kHz since the first,
        those on their way through the device counted."""
        rate = self.device.rate if self.device else RATE
        return self._before + self._captured * RATE // rate + self._on_the_way

    def connect(self) -> None:
        """Begins to hear. `NoMicrophone` says what was found, and what to do."""
        library = self._library = portaudio() if self._library is None else self._library
        self.device = found = choose(self.wanted, devices(library))
        self._resampler = Resampler(found.rate)
        self._blocks = queue.SimpleQueue()
        self._captured, self._zeros, self._still = 0, 0, 0.0
        self._stream_ended = False
        for channels in dict.fromkeys((1, found.channels)):
            try:
                self._stream = self._opened(library, found, channels)
                self._on_the_way = round(min(self._stream.latency, 1.0) * RATE)
            except library.PortAudioError as fault:
                told = fault
            else:
                self.fault = ""
                return
        self._stream = None
        raise NoMicrophone(
            f"the microphone {found.name!r} cannot be opened ({_first_line(told)}): "
            "is it plugged in, and free? `latchword voice devices` lists them; the keys go on"
        )

    def _opened(self, library: Any, found: Device, channels: int) -> Any:
        blocks = self._blocks
        most = round(_MOST_SECONDS * found.rate)

        def copy(indata: Any, frames: int, when: Any, status: Any) -> None:
            lost = bool(status and status.input_overflow)
            # What waits is what was captured less what was read; `qsize` counts blocks.
            if blocks.qsize() * frames > most:
                self.overflows += 1
                self._broken = True
                return
            self.overflows += lost
            blocks.put(_Block(indata[:, 0].copy(), lost))
            self._captured += frames

        stream = library.InputStream(
            device=found.number,
            channels=channels,
            samplerate=found.rate,
            dtype="float32",
            latency=_LATENCY_SECONDS,
            callback=copy,
            finished_callback=lambda: blocks.put(None),
        )
        try:
            stream.start()
        except library.PortAudioError:
            stream.close()
            raise
        return stream

    def read(self, timeout: float) -> Piece | None:
        """What has arrived, waiting `timeout` seconds for it; None for nothing. Keeps `fault`."""
        found: list[Audio] = []
        broken = False
        try:
            block = self._blocks.get(timeout=timeout)
            while True:
                if block is None:
                    self._stream_ended = True
                else:
                    broken = broken or block.overflowed
                    found.append(block.samples)
                block = self._blocks.get_nowait()
        except queue.Empty:
            pass
        if not found:
            self._nothing(timeout)
            return None
        self._still = 0.0
        samples = np.concatenate(found)
        self._judge(samples)
        if self._stream_ended:
            self._nothing(0)
        broken, self._broken = broken or self._broken, False
        # A rate that is made another one overshoots where sound stands at full scale.
        piece = Piece(np.clip(self._resampler.feed(samples), -1, 1), broken)
        self._delivered += len(piece.samples)
        return piece

    def _judge(self, samples: Audio) -> None:
        """Counts the zeros at the end, and says what they mean."""
        assert self.device is not None  # noqa: S101
        sounding = np.flatnonzero(samples)
        if len(sounding):
            self._zeros = len(samples) - 1 - int(sounding[-1])
        else:
            self._zeros += len(samples)
        self.fault = ""
        if self._zeros >= ZEROS_SECONDS * self.device.rate:
            advice = _PERMITTED.get(sys.platform, _SWITCHED)
            self.fault = (
                f"the microphone {self.device.name!r} gives exact silence, so access is not "
                f"permitted or it is switched off: {advice}; the keys go on"
            )

    def _nothing(self, waited: float) -> None:
        self._still += waited
        name = self.device.name if self.device else self.wanted
        if self._stream is None:
            self.fault = self.fault or "the microphone is not open; the keys go on"
        elif self._stream_ended or not self._stream.active:
            self._stream_ended = True
            self.fault = (
                f"the microphone {name!r} is gone: plug it in again, it is looked for between "
                "steps; the keys go on"
            )
        elif self._still >= STILL_SECONDS:
            self.fault = f"no sound arrives from the microphone {name!r}; the keys go on"

    @property
    def lost(self) -> bool:
        """Whether it must be opened again before anything more is heard."""
        return self._stream is None or self._stream_ended or self._still >= STILL_SECONDS

    def reopen(self) -> bool:
        """Looks for devices anew and opens; False leaves the reason in `fault`."""
        self.close()
        try:
            self._library = portaudio() if self._library is None else self._library
            rescan(self._library)
            self.connect()
        except NoMicrophone as fault:
            self.fault = str(fault)
            return False
        return True

    def close(self) -> None:
        """Hears no more. What was not read is lost; places go on where they were."""
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.close(ignore_errors=True)
        self._blocks = queue.SimpleQueue()
        self._before, self._captured, self._on_the_way = self._delivered, 0, 0
        self._broken = self._delivered > 0


def _first_line(fault: Exception) -> str:
    return str(fault).splitlines()[0].strip() if str(fault) else type(fault).__name__
