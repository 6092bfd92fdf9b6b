"""Recordings instead of a microphone, and the clips that are kept."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

np = pytest.importorskip("numpy")
soundfile = pytest.importorskip("soundfile")

from runner.speech.ears import files  # noqa: E402
from runner.speech.ears.files import (  # noqa: E402
    Recording,
    SoundFileFault,
    keep_clip,
    read_sound,
    recordings,
)
from runner.speech.heard import RATE  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import Audio


def tone(rate: int = RATE, seconds: float = 0.5, hertz: float = 600) -> Audio:
    made: Audio = 0.5 * np.sin(2 * np.pi * hertz * np.arange(int(seconds * rate)) / rate)
    return made.astype(np.float32)


@pytest.mark.parametrize("kind", ["wav", "flac", "ogg"])
@pytest.mark.parametrize("rate", [8_000, 16_000, 44_100, 48_000])
@pytest.mark.parametrize("channels", [1, 2])
def test_any_format_rate_and_channels(kind: str, rate: int, channels: int, tmp_path: Path) -> None:
    path = tmp_path / f"a.{kind}"
    soundfile.write(path, np.tile(tone(rate)[:, None], channels), rate)
    found = read_sound(path)
    assert found.dtype == np.float32
    assert len(found) == pytest.approx(RATE / 2, abs=80)
    # Ogg loses a bit of it.
    error = found[800:7200] - tone()[800:7200]
    assert np.abs(error).max() < (0.05 if kind == "ogg" else 1e-3)


def test_a_folder_is_in_the_order_of_its_numbers(tmp_path: Path) -> None:
    for name in ("10_b.wav", "2_a.WAV", "1.flac", "notes.txt", "b.ogg", "a.wav"):
        (tmp_path / name).touch()
    (tmp_path / "3.wav").mkdir()
    assert [one.name for one in recordings(tmp_path)] == [
        "1.flac", "2_a.WAV", "10_b.wav", "a.wav", "b.ogg"
    ]  # fmt: skip
    assert recordings(tmp_path / "a.wav") == [tmp_path / "a.wav"]


def test_a_folder_without_sound_and_a_missing_file_say_so(tmp_path: Path) -> None:
    with pytest.raises(SoundFileFault, match=r"no sound file in it; allowed: \.wav, \.flac, \.ogg"):
        recordings(tmp_path)
    with pytest.raises(SoundFileFault, match="there is no such file"):
        recordings(tmp_path / "a.wav")


def test_what_is_no_sound_says_so(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_text("not a sound", encoding="utf-8")
    with pytest.raises(SoundFileFault, match=r"a\.wav: no sound that can be read"):
        read_sound(path)


def test_what_is_too_long_or_of_another_rate_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files, "LONGEST_SECONDS", 60)
    soundfile.write(tmp_path / "a.wav", np.zeros(61 * RATE, np.float32), RATE)
    with pytest.raises(SoundFileFault, match="1 minutes long; allowed: 1 minutes"):
        read_sound(tmp_path / "a.wav")
    soundfile.write(tmp_path / "b.wav", np.zeros(100, np.float32), 2_000)
    with pytest.raises(SoundFileFault, match="a rate of 2000 a second; allowed: 4000"):
        read_sound(tmp_path / "b.wav")


def test_samples_that_are_no_numbers_are_refused(tmp_path: Path) -> None:
    samples = tone()
    samples[7] = np.nan
    soundfile.write(tmp_path / "a.wav", samples, RATE, subtype="FLOAT")
    with pytest.raises(SoundFileFault, match="samples that are no numbers"):
        read_sound(tmp_path / "a.wav")


def test_files_are_read_like_a_microphone(tmp_path: Path) -> None:
    for name in ("a.wav", "b.wav"):
        soundfile.write(tmp_path / name, tone(seconds=0.25), RATE)
    source = Recording(recordings(tmp_path))
    pieces = []
    while (piece := source.read(1.0)) is not None:
        pieces.append(piece)
    assert [len(one.samples) for one in pieces] == [1600, 1600, 800] * 2
    assert source.position == RATE // 2
    assert source.read(1.0) is None


def test_a_kept_clip_is_whole_and_its_hash_is_that_of_the_file(tmp_path: Path) -> None:
    kept = keep_clip(tmp_path, "answer-0012.flac", tone())
    content = (tmp_path / kept.name).read_bytes()
    assert kept == ("answer-0012.flac", len(content), hashlib.sha256(content).hexdigest())
    assert np.abs(read_sound(tmp_path / kept.name) - tone()).max() < 1 / 32_000
    assert soundfile.info(tmp_path / kept.name).subtype == "PCM_16"
    assert os.listdir(tmp_path) == [kept.name]


def test_the_same_clip_has_the_same_hash(tmp_path: Path) -> None:
    first = keep_clip(tmp_path, "a.flac", tone())
    assert keep_clip(tmp_path, "b.flac", tone()).sha256 == first.sha256
    assert keep_clip(tmp_path, "c.flac", tone(hertz=601)).sha256 != first.sha256


def test_a_clip_louder_than_full_scale_is_cut_to_it(tmp_path: Path) -> None:
    keep_clip(tmp_path, "a.flac", 4 * tone())
    assert float(np.abs(read_sound(tmp_path / "a.flac")).max()) == pytest.approx(1, abs=1e-3)


def test_a_clip_is_never_replaced(tmp_path: Path) -> None:
    keep_clip(tmp_path, "a.flac", tone())
    before = (tmp_path / "a.flac").read_bytes()
    with pytest.raises(SoundFileFault, match="is there already"):
        keep_clip(tmp_path, "a.flac", tone(hertz=100))
    assert (tmp_path / "a.flac").read_bytes() == before


@pytest.mark.parametrize("name", ["", "a.wav", "../a.flac", ".a.flac", "a b.flac", "x" * 130])
def test_a_name_that_the_log_would_not_take_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="allowed: letters"):
        keep_clip(tmp_path, name, tone())
    assert not list(tmp_path.iterdir())


def test_a_folder_that_cannot_be_written_says_so(tmp_path: Path) -> None:
    with pytest.raises(SoundFileFault, match="cannot be written"):
        keep_clip(tmp_path / "gone", "a.flac", tone())
