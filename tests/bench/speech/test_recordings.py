"""Speakers and groups are what the names of the files say."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

pytest.importorskip("numpy")

from tests.bench.speech import recordings
from tests.bench.speech.recordings import Recording

DATA = recordings.folder()
needs_data = pytest.mark.skipif(bool(recordings.missing()), reason=recordings.missing())


def made(place: Path, *names: str) -> None:
    for name in names:
        path = place / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")


def test_a_file_says_its_speaker_and_its_word(tmp_path: Path) -> None:
    made(tmp_path, "speech_commands/on/0a0b0c0d_nohash_1.wav",
         "speech_commands/unknown/bird_0a0b0c0d_nohash_0.wav",
         "speech_commands/nine/11112222_nohash_0.wav", "spoken_digits/7_george_3.wav")  # fmt: skip
    assert [(one.word, one.speaker) for one in recordings.words(tmp_path)] == [("on", "0a0b0c0d")]
    assert [one.word for one in recordings.others(tmp_path)] == ["bird"]
    found = [(one.word, one.speaker) for one in recordings.digits(tmp_path)]
    assert found == [("nine", "11112222"), ("seven", "george")]


@pytest.mark.parametrize(
    "name", ["speech_commands/on/somebody.wav", "speech_commands/unknown/bird_xyz_nohash_0.wav"]
)
def test_a_name_without_speaker_is_refused(tmp_path: Path, name: str) -> None:
    made(tmp_path, name)
    with pytest.raises(ValueError, match="speaker"):
        _ = recordings.words(tmp_path) + recordings.others(tmp_path)


def test_groups_hold_whole_speakers_and_are_of_one_size() -> None:
    spoken = [
        Recording(Path(f"{speaker}{n}"), "on", f"{speaker:02d}")
        for speaker in range(23)
        for n in range(1 + speaker % 5)
    ]
    found = recordings.grouped(spoken, 5)
    sizes = [sum(found[one.speaker] == group for one in spoken) for group in range(5)]
    assert sum(sizes) == len(spoken)
    assert max(sizes) - min(sizes) <= 1
    assert recordings.grouped(reversed(spoken), 5) == found


def test_the_folder_is_named_by_the_variable_and_absence_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(recordings.VARIABLE, str(tmp_path))
    assert recordings.folder() == tmp_path
    assert str(tmp_path) in recordings.missing()
    assert recordings.VARIABLE in recordings.missing()
    made(tmp_path, "speech_commands/x", "helicopter_noise/x")
    assert recordings.missing() == ""
    monkeypatch.delenv(recordings.VARIABLE)
    assert recordings.folder().parts[-2:] == ("shared", "data")
    shutil.rmtree(tmp_path / "speech_commands")


@needs_data
def test_the_recordings_are_those_of_their_description() -> None:
    spoken = recordings.words(DATA)
    assert len(spoken) == 70 * len(recordings.WORDS)
    assert len(recordings.others(DATA)) == 151
    assert {one.word for one in recordings.others(DATA)}.isdisjoint(recordings.WORDS)
    groups = recordings.grouped(spoken)
    assert set(groups.values()) == set(range(5))
    for word in recordings.WORDS:
        assert {groups[one.speaker] for one in spoken if one.word == word} == set(range(5))
