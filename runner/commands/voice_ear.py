"""One phrase at a time, from the microphone or from recordings in its place, with its levels.

Rules: a phrase is cut by the same detector and gate as in a run, with an open microphone, because
here nothing is passed by it; what is in no file is not made up: where a recording has too little
without speech in it, its noise is unknown; the meter is drawn on a terminal alone and leaves
nothing behind; a recording of a folder is one phrase, one file alone is all its phrases in a row.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Final, NamedTuple, Protocol

import numpy as np

from runner.commands.voice import plain
from runner.host.places import PlaceFault
from runner.speech.ears.capture import Microphone
from runner.speech.ears.detector import Detector, NoDetector
from runner.speech.ears.devices import NoSound
from runner.speech.ears.files import SoundFileFault, read_sound, recordings
from runner.speech.ears.gate import Asked, Dropped, Mode, Why
from runner.speech.ears.hearing import Clip, Hearing
from runner.speech.ears.levels import FRAME, Noise, level
from runner.speech.heard import RATE

if TYPE_CHECKING:
    from runner.speech.heard import Audio

PHRASE_SECONDS: Final = 8.0
"""How long a phrase is waited for."""
NOISE_SECONDS: Final = 3.0
_AROUND: Final = RATE
_LEAST_FRAMES: Final = 8
"""Frames without speech by which a recording's noise is known (a quarter of a second)."""
_CLIPPED: Final = 0.99
_READ_SECONDS: Final = 0.25
_EARLY: Final = "it began before the line stood there"
_MISSED: Final = {Why.NO_QUESTION: _EARLY, Why.BEGAN_BEFORE: _EARLY}
_METER: Final = (-60.0, 24)


class Taken(NamedTuple):
    """One phrase: its sound, its place in the file or stream in seconds, how far it stands above
    the noise (None: not known); level of the speech and highest sample in dB under full scale, the
    share of samples at full scale."""

    samples: Audio
    began: float
    ended: float
    ratio: float | None
    level_db: float
    peak_db: float
    clipped: float


class Ear(Protocol):
    """Where phrases come from. `trouble` is a sentence on what is wrong with the sound, `missed`
    why the last phrase was not taken, where something was said."""

    trouble: str
    missed: str

    @property
    def name(self) -> str:
        """What hears."""
        ...

    def noise(self) -> float | None:
        """The noise of the room in dB, listened to for some seconds; None: not known."""
        ...

    def phrase(self, ask: int) -> Taken | None:
        """The next phrase; None where nothing was said. PlaceFault where there is no sound."""
        ...

    def close(self) -> None:
        """Hears no more."""
        ...


def ear(hear: Path | None, microphone: str) -> Ear:
    """The microphone, open, or the recordings of a path. PlaceFault where it cannot be heard."""
    return Recorded(hear) if hear is not None else Live(microphone)


class Live:
    """The microphone."""

    def __init__(self, device: str) -> None:
        self.trouble = ""
        self.missed = ""
        try:
            self._hearing = Hearing(Mode.OPEN)
            self._microphone = Microphone(device)
            self._microphone.connect()
        except (NoSound, NoDetector) as fault:
            raise PlaceFault(plain(fault)) from None

    @property
    def name(self) -> str:
        """What hears."""
        device = self._microphone.device
        return device.name if device is not None else ""

    def noise(self) -> float | None:
        """Listens without a question."""
        end = self._hearing.position + round(NOISE_SECONDS * RATE)
        while self._hearing.position < end:
            self._heard()
        _erase()
        return self._hearing.detector.noise.db()

    def phrase(self, ask: int) -> Taken | None:
        """Waits for one."""
        self.missed = ""
        self._hearing.tell(Asked(self._microphone.position, ask))
        end = self._hearing.position + round(PHRASE_SECONDS * RATE)
        found = None
        while found is None and (self._hearing.position < end or self._hearing.occupied):
            found = next((one for one in self._heard() if one.utterance.ask == ask), None)
        self._hearing.tell(Asked(self._microphone.position, None))
        _erase()
        return _taken(found) if found is not None else None

    def _heard(self) -> list[Clip]:
        """What became of the next piece of sound."""
        piece = self._microphone.read(_READ_SECONDS)
        self.trouble = plain(self._microphone.fault)
        if piece is None:
            if self._microphone.lost:
                raise PlaceFault(self.trouble)
            return []
        out = self._hearing.feed(piece.samples, broken=piece.broken)
        if self._hearing.level is not None:
            _draw(self._hearing.level.whole, self._hearing.detector.noise.db())
        for one in out:
            if isinstance(one, Dropped):
                self.missed = _MISSED.get(one.why, one.why.value)
        return [one for one in out if isinstance(one, Clip)]

    def close(self) -> None:
        """Closes the device."""
        _erase()
        self._microphone.close()


class Recorded:
    """Recordings."""

    def __init__(self, path: Path) -> None:
        self.trouble = ""
        self.missed = ""
        try:
            self._files = recordings(path)
        except (SoundFileFault, OSError) as fault:
            raise PlaceFault(plain(fault)) from None
        self._path = path
        self._phrases = self._all()

    @property
    def name(self) -> str:
        """What is heard."""
        return str(self._path)

    def noise(self) -> float | None:
        """That of the first recording."""
        quiet = _quiet(self._read(self._files[0]))
        return _noise_of(quiet).db()

    def phrase(self, ask: int) -> Taken | None:
        """The next recording, or the next utterance of the one there is."""
        try:
            return next(self._phrases)
        except StopIteration:
            raise PlaceFault(
                f"{self._path}: phrase {ask} is wanted, and there is no more sound; a folder holds "
                "a file for each phrase, in the order of their names"
            ) from None

    def close(self) -> None:
        """Nothing to be closed."""

    def _read(self, path: Path) -> Audio:
        try:
            sound = read_sound(path)
        except SoundFileFault as fault:
            raise PlaceFault(plain(fault)) from None
        if not sound.any():
            self.trouble = f"{path}: exact silence; no microphone is that silent"
        return sound

    def _all(self) -> Iterator[Taken | None]:
        if not self._path.is_dir():
            yield from utterances(self._read(self._files[0]))
            return
        for path in self._files:
            yield longest(utterances(self._read(path)))


def longest(found: Sequence[Taken]) -> Taken | None:
    """The utterance that lasts longest, if there is one."""
    return max(found, key=lambda one: one.ended - one.began, default=None)


def utterances(sound: Audio) -> list[Taken]:
    """The utterances of a sound. PlaceFault where the detector is not installed."""
    quiet = _quiet(sound)
    known = len(quiet) >= _LEAST_FRAMES
    # As if the room went on: speech at either end of a file is speech too.
    room = np.concatenate(quiet) if known else np.zeros(FRAME, np.float32)
    around = np.resize(room, _AROUND)
    hearing = Hearing(Mode.OPEN)
    hearing.tell(Asked(0, 1))
    out = hearing.feed(np.concatenate([around, sound, around]))
    clips = [_taken(one, -_AROUND) for one in out if isinstance(one, Clip)]
    return clips if known else [one._replace(ratio=None) for one in clips]


def _quiet(sound: Audio) -> list[Audio]:
    """The frames that are surely no speech."""
    try:
        detector = Detector()
    except NoDetector as fault:
        raise PlaceFault(plain(fault)) from None
    return [one.samples for one in detector.feed(sound) if not one.faint]


def _noise_of(frames: Sequence[Audio]) -> Noise:
    noise = Noise()
    for frame in frames:
        noise.hear(frame, speech=False)
    return noise


def _taken(clip: Clip, by: int = 0) -> Taken:
    one = clip.utterance
    speech = clip.samples[one.began - one.first : one.ended - one.first]
    frames = [level(speech[at : at + FRAME]) for at in range(0, len(speech) - FRAME + 1, FRAME)]
    return Taken(
        clip.samples, (one.began + by) / RATE, (one.ended + by) / RATE, clip.ratio,
        # Half of the frames are louder: a word has quiet ends, and they say nothing of its level.
        median(frame.whole for frame in frames), max(frame.peak for frame in frames),
        float(np.mean(np.abs(speech) >= _CLIPPED)),
    )  # fmt: skip


def meter(db: float, noise: float | None) -> str:
    """The level as a line: a bar from −60 dB to full scale, and the noise.

    >>> meter(-30, -52.4)
    'LEVEL  -30 dB [############            ]  noise -52 dB'
    """
    lowest, width = _METER
    filled = round(width * min(max(1 - db / lowest, 0.0), 1.0))
    known = f"{noise:.0f} dB" if noise is not None else "?"
    return f"LEVEL {db:4.0f} dB [{'#' * filled:<{width}}]  noise {known}"


def _draw(db: float, noise: float | None) -> None:
    if sys.stderr.isatty():
        print(f"\r{meter(db, noise):<78}", end="", file=sys.stderr, flush=True)


def _erase() -> None:
    if sys.stderr.isatty():
        print(f"\r{'':<78}\r", end="", file=sys.stderr, flush=True)
