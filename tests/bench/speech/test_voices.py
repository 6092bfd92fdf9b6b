"""The synthesised crew is a crew, speakers are whole in their group, renderings are kept."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("soundfile")

from runner.speech.heard import RATE  # noqa: E402
from tests.bench.speech import noise, sound, voices  # noqa: E402
from tests.bench.speech.voices import VOICES, Voice  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import Audio

PRESENT = voices.present()


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(voices.VARIABLE, str(tmp_path / "cache"))
    return tmp_path / "cache"


def test_the_crew_is_large_and_no_speaker_is_in_two_groups() -> None:
    assert len(VOICES) == len({voice.label for voice in VOICES})
    people: dict[str, int] = {}
    for voice in VOICES:
        assert people.setdefault(voice.person, voice.group) == voice.group
    assert len(people) >= voices.LEAST
    assert set(people.values()) == set(range(noise.GROUPS))
    assert {v.group for v in VOICES if v.engine == "espeak-ng"} == set(range(noise.GROUPS))


@pytest.mark.parametrize("voice", PRESENT, ids=[voice.label for voice in PRESENT])
def test_every_voice_speaks(voice: Voice) -> None:
    found = sound.read(voices.rendered(voice, "brake released"))
    assert 0.4 * RATE < len(found) < 4 * RATE
    assert np.abs(found).max() == pytest.approx(0.5, abs=0.01)
    assert sound.speech_power(found) > 1e-4


@pytest.mark.skipif(not PRESENT, reason="no engine of speech is installed")
def test_a_text_is_rendered_once(monkeypatch: pytest.MonkeyPatch, own_cache: Path) -> None:
    first = voices.rendered(PRESENT[0], "two niner")
    assert own_cache in first.parents
    monkeypatch.setattr(subprocess, "run", None)
    assert voices.rendered(PRESENT[0], "two niner") == first
    assert voices.render_all(PRESENT[0], ["two niner", "two niner"]) == 0
    assert list(first.parent.iterdir()) == [first]


@pytest.mark.skipif(len(PRESENT) < 2, reason="no two voices are installed")
def test_text_and_voice_make_the_place() -> None:
    one, other = PRESENT[:2]
    places = {voices.place_of(one, "on"), voices.place_of(one, "off"), voices.place_of(other, "on")}
    assert len(places) == 3


@pytest.mark.parametrize("text", ["", "29.92", "ON", "-v other", "a\nb"])
def test_what_is_no_words_is_not_given_to_an_engine(text: str) -> None:
    with pytest.raises(ValueError, match="words"):
        voices.place_of(VOICES[0], text)


def test_silence_is_no_rendering(monkeypatch: pytest.MonkeyPatch) -> None:
    def silent(path: Path) -> Audio:
        found: Audio = np.zeros(RATE, np.float32)
        return found

    monkeypatch.setattr(voices, "read", silent)
    monkeypatch.setattr(voices, "_run", lambda command, text: None)
    with pytest.raises(RuntimeError, match="silence"):
        voices.rendered(VOICES[0], "on")


def test_a_failing_engine_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voices, "_command", lambda voice, text, path: ["false"])
    with pytest.raises(RuntimeError, match="failed at 'on'"):
        voices.rendered(VOICES[0], "on")
