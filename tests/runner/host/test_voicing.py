"""The settings of the voice and the persons' files: read whole or not at all, written the same."""

from __future__ import annotations

import json
import sys
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.flow.faults import FlowErrors
from runner.host import places, voicing
from runner.host.places import PlaceFault
from runner.host.voicing import VoiceSettings, may_be_kept, read_settings, write_settings
from runner.speech.thresholds import MOST_SHIFT, Person


def written(text: str | bytes) -> Path:
    path = voicing.settings_file()
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_no_file_is_no_fault() -> None:
    assert read_settings() == VoiceSettings()
    assert voicing.enrolled() == ([], [])


def test_what_was_written_is_read(tmp_path: Path) -> None:
    settings = VoiceSettings(tmp_path / "a model", "Röhre: #2", '"quoted"', 1.25, "espeak-ng")
    assert write_settings(settings) == voicing.settings_file()
    assert read_settings() == settings
    write_settings(VoiceSettings())
    assert read_settings() == VoiceSettings()
    assert [path.name for path in places.config().iterdir()] == ["voice.yaml"]


_TEXTS = st.text(st.characters(min_codepoint=32, max_codepoint=0x2FFF, categories=["L", "N", "P"]))


@given(_TEXTS, _TEXTS, st.floats(0.5, 2.0))
def test_any_name_of_a_device_comes_back_or_is_not_written(
    microphone: str, loudspeaker: str, speed: float
) -> None:
    settings = VoiceSettings(None, microphone, loudspeaker, speed)
    write_settings(VoiceSettings(speed=0.75))
    if all(unicodedata.is_normalized("NFC", name) for name in (microphone, loudspeaker)):
        write_settings(settings)
        assert read_settings() == settings
    else:
        with pytest.raises(PlaceFault, match="nothing is changed"):
            write_settings(settings)
        assert read_settings() == VoiceSettings(speed=0.75)
    assert may_be_kept(microphone) == unicodedata.is_normalized("NFC", microphone)


@pytest.mark.parametrize("name", ["head\tset", "head\u200bset", "he\u0301adset", "a\nb"])
def test_a_name_that_could_not_be_read_again_is_not_kept(name: str) -> None:
    assert not may_be_kept(name)
    with pytest.raises(PlaceFault, match="cannot hold such a name"):
        write_settings(VoiceSettings(loudspeaker=name))
    assert not voicing.settings_file().exists()


FAULTS = [
    ("sped: 1\n", "1:1", "an unknown key, found 'sped'", "did you mean speed?"),
    ("speed: 3\n", "1:8", "a speed that is not spoken, found '3'", "allowed: 0.5 to 2.0"),
    ("speed: fast\n", "1:8", "a speed that is not spoken, found 'fast'", "0.5 to 2.0"),
    ("speed: true\n", "1:8", "a speed that is not spoken", "0.5 to 2.0"),
    ("speed: [1]\n", "1:8", "found no number", "0.5 to 2.0"),
    ("engine: pipr\n", "1:9", "an unknown voice, found 'pipr'", "did you mean piper?"),
    ("model: models/en\n", "1:8", "found 'models/en'", "allowed: the whole path"),
    ("microphone: {a: b}\n", "1:13", "microphone is no text", "at most 4096 characters"),
    ("speed: 1\nspeed: 1\n", "2:1", "'speed' stands twice", "keep one of them"),
    (b"speed: \xff\n", "1:8", "UTF-8", ""),
]


@pytest.mark.parametrize(("text", "at", "what", "more"), FAULTS, ids=[str(f[0]) for f in FAULTS])
def test_a_file_with_a_fault_is_not_used_at_all(
    text: str | bytes, at: str, what: str, more: str
) -> None:
    good = b"loudspeaker: hall\n"
    bad = text if isinstance(text, bytes) else text.encode()
    path = written(bad + good)
    with pytest.raises(FlowErrors) as told:
        voicing.read_file(path)
    assert f"voice.yaml:{at}" in str(told.value)
    assert what in str(told.value)
    assert more in str(told.value)
    settings = read_settings()
    assert settings == VoiceSettings(fault=settings.fault)
    assert str(path) in settings.fault
    assert "is not used" in settings.fault
    assert "\n" not in settings.fault


def test_a_number_is_a_device_too() -> None:
    written("microphone: 3\nloudspeaker: ~\n")
    assert read_settings() == VoiceSettings(microphone="3")


def test_a_file_that_holds_nothing_or_is_none() -> None:
    path = written("")
    assert "not used" in read_settings().fault
    path.unlink()
    path.mkdir()
    assert "cannot be read" in read_settings().fault
    with pytest.raises(PlaceFault, match="cannot be written"):
        write_settings(VoiceSettings(speed=1.5))


@pytest.mark.skipif(sys.platform == "win32", reason="names of files are text there")
def test_a_name_that_is_no_text_is_told() -> None:
    with pytest.raises(PlaceFault, match="is no text"):
        write_settings(VoiceSettings(Path("/models/\udcff")))


def test_a_person_comes_back_with_what_was_measured() -> None:
    person = Person("Åsa Holt", 3.5, {"closed-set": -0.5}, 1.5, {"nine": ("niner",)})
    path = voicing.write_person(person, {"sentences": 30})
    assert path == voicing.person_file("Åsa Holt")
    assert path.name == "asa-holt.json"
    assert json.loads(path.read_text("utf-8"))["measured"] == {"sentences": 30}
    voicing.write_person(Person("Tom Aske"), {})
    assert voicing.persons() == [Person("Tom Aske"), person]
    assert voicing.forget_person("Åsa Holt")
    assert not voicing.forget_person("Åsa Holt")
    assert voicing.persons() == [Person("Tom Aske")]


@pytest.mark.parametrize(
    ("content", "why"),
    [
        ("{", "no JSON"),
        ('{"name": "Tom Aske", "shifts": {"closed-set": -9}}', f"from -{MOST_SHIFT}"),
        ('{"name": "Tom Aske", "raised": 0.5}', "from 1.0"),
        ('{"name": "Ines Marlow"}', "ines-marlow.json"),
    ],
)
def test_a_persons_file_with_a_fault_is_left_out(content: str, why: str) -> None:
    voicing.write_person(Person("Per Lund"), {})
    path = voicing.person_file("Tom Aske")
    path.write_text(content, "utf-8")
    assert voicing.persons() == [Person("Per Lund")]
    told = voicing.enrolled().faults
    assert len(told) == 1
    assert str(path) in told[0]
    assert why in told[0]
    assert "latchword voice enrol" in told[0]


def test_a_name_written_like_anothers_replaces_and_removes_nothing() -> None:
    voicing.write_person(Person("A Holt"), {})
    assert voicing.person_file("A-Holt") == voicing.person_file("A Holt")
    for change in (
        lambda: voicing.write_person(Person("A-Holt"), {}),
        lambda: voicing.forget_person("A-Holt"),
    ):
        with pytest.raises(PlaceFault, match="is of 'A Holt' already"):
            change()
    assert voicing.persons() == [Person("A Holt")]
    # What cannot be read is nobody's: it may be replaced.
    voicing.person_file("A Holt").write_text("{", "utf-8")
    voicing.write_person(Person("A-Holt"), {})
    assert voicing.persons() == [Person("A-Holt")]


def test_what_cannot_be_a_name() -> None:
    with pytest.raises(PlaceFault, match="NAME"):
        voicing.person_file("")
