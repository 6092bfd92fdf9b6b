"""A real device, captured through PortAudio: what is played is heard, its loss and return told."""

from __future__ import annotations

import wave
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

np = pytest.importorskip("numpy")

from runner.speech.ears.capture import Microphone, Piece  # noqa: E402
from runner.speech.ears.devices import NoMicrophone, devices, portaudio, rescan  # noqa: E402
from runner.speech.ears.gate import Asked, Mode, TalkKey  # noqa: E402
from runner.speech.ears.hearing import Clip, Hearing  # noqa: E402
from runner.speech.heard import RATE  # noqa: E402
from tests.bench.speech import recordings  # noqa: E402
from tests.bench.speech.sound import read  # noqa: E402
from tests.runner.speech.sound import (  # noqa: E402
    VirtualMicrophone,
    missing,
    until,
    virtual_microphone,
)

if TYPE_CHECKING:
    from runner.speech.heard import Audio

pytestmark = pytest.mark.skipif(bool(missing()), reason=missing())


@pytest.fixture(scope="module")
def server() -> Iterator[VirtualMicrophone]:
    with virtual_microphone() as device:
        yield device


@pytest.fixture
def device(server: VirtualMicrophone, monkeypatch: pytest.MonkeyPatch) -> VirtualMicrophone:
    server.here(monkeypatch)
    server.plug_in()
    rescan(portaudio())
    return server


@pytest.fixture
def microphone(device: VirtualMicrophone) -> Iterator[Microphone]:
    found = Microphone("pulse")
    found.connect()
    yield found
    found.close()


def write(path: Path, samples: Audio, rate: int) -> Path:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes((np.clip(samples, -1, 1) * 32767).round().astype("<i2").tobytes())
    return path


class Reader:
    """Reads a microphone piece by piece until enough was heard."""

    def __init__(self, microphone: Microphone) -> None:
        self.microphone = microphone
        self.heard: list[Audio] = []

    def __call__(self) -> Audio:
        piece = self.microphone.read(0.1)
        if piece is not None:
            self.heard.append(piece.samples)
        every: Audio = np.concatenate([np.zeros(0, np.float32), *self.heard])
        return every


def strength(samples: Audio, hertz: float) -> float:
    """How strong one tone is in the last second."""
    if len(samples) < RATE:
        return 0.0
    spectrum = np.abs(np.fft.rfft(samples[-RATE:] * np.hanning(RATE)))
    return float(spectrum[round(hertz)] * 4 / RATE)


def tone(hertz: float, seconds: float, rate: int = 48_000) -> Audio:
    made: Audio = 0.4 * np.sin(2 * np.pi * hertz * np.arange(int(seconds * rate)) / rate)
    return made.astype(np.float32)


def test_the_device_is_listed_and_what_is_played_is_heard(
    device: VirtualMicrophone, microphone: Microphone, tmp_path: Path
) -> None:
    assert "pulse" in [one.name for one in devices(portaudio())]
    reader = Reader(microphone)
    with device.playing(write(tmp_path / "tone.wav", tone(1000, 20), 48_000)):
        until(lambda: strength(reader(), 1000) > 0.3, "a tone of 1000 Hz")
    assert strength(reader(), 3000) < 0.01
    assert not microphone.fault
    assert not microphone.lost
    assert abs(microphone.position - sum(map(len, reader.heard))) < RATE


def test_a_device_that_gives_nothing_but_zeros_says_so_and_takes_it_back(
    device: VirtualMicrophone, microphone: Microphone, tmp_path: Path
) -> None:
    reader = Reader(microphone)
    until(lambda: len(reader()) and microphone.fault, "two seconds of zeros")
    assert "exact silence" in microphone.fault
    assert not microphone.lost
    with device.playing(write(tmp_path / "tone.wav", tone(500, 20), 48_000)):
        until(lambda: len(reader()) and not microphone.fault, "a sound")


def test_a_device_that_vanishes_is_told_and_heard_again_when_it_is_back(
    device: VirtualMicrophone, microphone: Microphone, tmp_path: Path
) -> None:
    reader = Reader(microphone)
    until(lambda: len(reader()), "any sound")
    place = microphone.position
    device.unplug()
    until(lambda: (reader(), microphone.lost)[1], "the loss of the device")
    assert "is gone" in microphone.fault
    assert "the keys go on" in microphone.fault
    assert not microphone.reopen()
    assert "cannot be opened" in microphone.fault
    with pytest.raises(NoMicrophone, match="cannot be opened"):
        Microphone("pulse").connect()
    device.plug_in()
    until(microphone.reopen, "the device")
    assert not microphone.fault
    again = Reader(microphone)
    pieces: list[Piece | None] = [None]

    def first() -> bool:
        pieces[0] = microphone.read(0.1)
        return pieces[0] is not None

    until(first, "the first sound")
    assert pieces[0] is not None
    assert pieces[0].broken
    with device.playing(write(tmp_path / "tone.wav", tone(700, 20), 48_000)):
        until(lambda: strength(again(), 700) > 0.3, "a tone of 700 Hz")
    assert microphone.position > place - RATE


@pytest.mark.skipif(bool(recordings.missing()), reason=recordings.missing())
def test_a_word_that_was_played_is_taken_with_the_key_and_not_without(
    device: VirtualMicrophone, microphone: Microphone, tmp_path: Path
) -> None:
    """Noise around it, as a cockpit has: a sound server's own silence is exact."""
    word = read(sorted((recordings.folder() / "speech_commands" / "stop").glob("*.wav"))[1])
    hiss = np.random.default_rng(1).normal(0, 0.003, 3 * RATE).astype(np.float32)
    hiss[RATE : RATE + len(word)] += word
    played = write(tmp_path / "word.wav", np.tile(hiss, 12), RATE)
    hearing = Hearing(Mode.HELD)
    hearing.tell(Asked(0, 7))
    taken: list[Clip] = []

    def hear() -> list[Clip]:
        piece = microphone.read(0.1)
        if piece is not None:
            out = hearing.feed(piece.samples, broken=piece.broken)
            taken.extend(one for one in out if isinstance(one, Clip))
        return taken

    speaking = [False]

    def spoken_of() -> bool:
        """A word has gone by: speech was found, and is over."""
        hear()
        level = hearing.level
        now = level is not None and level.band > -35
        over = speaking[0] and not now
        speaking[0] = now
        return over

    with device.playing(played):
        until(spoken_of, "a word with the key up")
        assert not taken
        assert not hearing.listening
        hearing.tell(TalkKey(microphone.position, down=True))
        until(hear, "a word with the key held")
    clip = taken[0]
    assert clip.utterance.ask == 7
    assert 0.2 * RATE < len(clip.samples) < 1.5 * RATE
    assert clip.ratio is not None
    assert clip.ratio > 15
    assert float(np.abs(clip.samples).max()) > 0.5 * float(np.abs(word).max())
