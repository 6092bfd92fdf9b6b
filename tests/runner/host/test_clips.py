"""Spoken answers beside the log: each named by its line once it is durable, none costs a run."""

from __future__ import annotations

import errno
import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from audit import durable
from audit.folder import LogFolder
from audit.line import Line
from audit.verify import verify
from runner.engine.effects import Say, Voice
from runner.host import clips
from runner.host.opening import resume
from runner.host.replay import Cache, replayed
from runner.host.run import LOST, Run
from tests.audit.helpers import trust_in
from tests.runner.host.support import Ear, FakeClock, begin, lines_of, people, say, work_day

READ = ("commander: page read", "copilot: page read")


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[LogFolder]:
    with LogFolder.open(tmp_path / "logs") as opened:
        yield opened


def begun(folder: LogFolder, clock: FakeClock) -> Run:
    run = begin(folder, clock, people())
    say(run, clock, *READ)
    return run


def path_of(folder: LogFolder, run: Run) -> Path:
    return folder.path_of(run.recorder.writer.run)


def attached(folder: LogFolder, run: Run) -> list[Line]:
    return [line for line in lines_of(path_of(folder, run)) if line.type == "attach"]


def kept(folder: LogFolder) -> list[str]:
    return sorted(path.name for path in folder.path.glob("*attached-voice-*"))


def full(monkeypatch: pytest.MonkeyPatch, *, log: bool) -> None:
    """From now on nothing more fits: into the log itself, or into any new file."""
    name = "audit.writer.durable.write_all" if log else "audit.durable.write_all"

    def nothing_fits(fd: int, data: bytes) -> None:
        target = os.readlink(f"/proc/self/fd/{fd}") if os.path.isdir("/proc/self/fd") else ""
        if target.endswith(".partial") is log:
            real(fd, data)
            return
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    real = durable.write_all
    monkeypatch.setattr(name, nothing_fits)


def test_a_clip_is_named_with_the_hash_of_its_bytes_behind_the_file(folder: LogFolder) -> None:
    clock = FakeClock()
    run = begun(folder, clock)
    seen: list[bool] = []
    attach = run.recorder.writer.attach

    def stands(name: str, *more: object) -> object:
        seen.append((folder.path / name).read_bytes() == b"first")
        return attach(name, *more)  # type: ignore[arg-type]

    run.recorder.writer.attach = stands  # type: ignore[method-assign,assignment]
    assert run.keep_clip(b"first") == ""
    run.stop()
    (line,) = attached(folder, run)
    name = f"{run.recorder.writer.run}.attached-voice-00001.flac"
    assert line.data == {
        "length": 5, "name": name, "sha256": hashlib.sha256(b"first").hexdigest(),
    }  # fmt: skip
    assert seen == [True]
    assert (folder.path / name).read_bytes() == b"first"
    assert not list(folder.path.glob(".*partial"))


def test_clips_are_counted_up_and_nothing_is_written_over(folder: LogFolder) -> None:
    clock = FakeClock()
    run = begun(folder, clock)
    stranger = folder.path / f"{run.recorder.writer.run}.attached-voice-00002.flac"
    stranger.write_bytes(b"somebody's")
    for content in (b"one", b"two", b"three"):
        assert run.keep_clip(content) == ""
    run.stop()
    assert stranger.read_bytes() == b"somebody's"
    numbers = [line.data["name"].rpartition("-")[2] for line in attached(folder, run)]
    assert numbers == ["00001.flac", "00003.flac", "00004.flac"]


def test_counting_goes_on_when_the_run_is_taken_up_again(folder: LogFolder) -> None:
    clock = FakeClock()
    run = begun(folder, clock)
    assert run.keep_clip(b"before") == ""
    run.stop()
    again = resume(folder, run.recorder.writer.run, clock, "TV-T1", patient=True)
    assert again.keep_clip(b"after") == ""
    again.stop()
    lines = attached(folder, again)
    assert [(folder.path / line.data["name"]).read_bytes() for line in lines] == [
        b"before",
        b"after",
    ]
    assert [line.data["name"][-7:] for line in lines] == ["01.flac", "02.flac"]


def test_a_log_with_clips_closes_and_replays(folder: LogFolder) -> None:
    crew, clock = people(), FakeClock()
    run = begin(folder, clock, crew)
    say(run, clock, *READ)
    assert run.keep_clip(b"one") == ""
    work_day(run, clock)
    assert run.keep_clip(b"two") == ""
    signers = [person for _, person in crew]
    assert run.close([*signers]) == ""
    run.stop()
    verdict = verify(
        path_of(folder, run), level="replayed", trust=trust_in(signers), replay=replayed(Cache())
    )
    assert (verdict.result, verdict.code) == ("closed", "")


def test_a_clip_after_the_closing_is_a_sentence(folder: LogFolder) -> None:
    crew, clock = people(), FakeClock()
    run = begin(folder, clock, crew)
    say(run, clock, *READ)
    work_day(run, clock)
    assert run.close([person for _, person in crew]) == ""
    before = path_of(folder, run).read_bytes()
    assert run.keep_clip(b"too late") == "the log is closed"
    assert (run.recorder.lost, kept(folder)) == ("", [])
    run.stop()
    assert path_of(folder, run).read_bytes() == before


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="descriptors have no names here")
def test_where_no_file_fits_the_answers_go_on_and_it_is_told(
    folder: LogFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = FakeClock()
    run = begun(folder, clock)
    with monkeypatch.context() as patch:
        full(patch, log=False)
        trouble = run.keep_clip(b"one")
        assert trouble.endswith(
            f"attached-voice-00001.flac: [Errno 28] {os.strerror(errno.ENOSPC)}"
        )
    assert (kept(folder), list(folder.path.glob(".*partial"))) == ([], [])
    assert not run.recorder.lost
    assert say(run, clock, "tick hook")[0][0][0] == "met"
    assert run.keep_clip(b"two") == ""
    run.stop()
    assert len(attached(folder, run)) == 1


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="descriptors have no names here")
def test_a_line_that_does_not_fit_loses_the_recording_and_that_is_said(
    folder: LogFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = FakeClock()
    run = begun(folder, clock)
    ear = Ear(run)
    with monkeypatch.context() as patch:
        full(patch, log=True)
        assert run.keep_clip(b"one") == clips.LOST
    assert ear.said == [Say(LOST, Voice.STATUS)]
    assert run.bands() == (LOST,)
    assert run.keep_clip(b"two") == clips.LOST
    say(run, clock, "tick hook")
    assert ear.texts.count(LOST) == 1
    run.stop()
    assert (attached(folder, run), len(kept(folder))) == ([], 1)


def test_once_the_recording_is_lost_no_clip_is_written(folder: LogFolder) -> None:
    run = begun(folder, FakeClock())
    run.recorder.lose("the disk is gone")
    assert run.keep_clip(b"one") == "the recording was lost"
    run.stop()
    assert kept(folder) == []


def test_a_sentence_for_the_crew_is_heard_and_in_no_log(folder: LogFolder) -> None:
    run = begun(folder, FakeClock())
    ear = Ear(run)
    before = path_of(folder, run).read_bytes()
    run.announce("NOTHING HEARD", Voice.STATUS)
    assert ear.said == [Say("NOTHING HEARD", Voice.STATUS)]
    assert path_of(folder, run).read_bytes() == before
    run.stop()


def test_a_question_is_called_again_with_what_was_heard(folder: LogFolder) -> None:
    clock = FakeClock()
    run = begun(folder, clock)
    ear = Ear(run)
    shown = run.view().ask
    clock.go(1000)
    assert run.ask_again(shown, "released (say again, not clear)")[1] == (("said",),)
    run.stop()
    assert (ear.texts, run.view().ask) == (["NOSE COWL LATCHES?"], shown)
    last = list(lines_of(path_of(folder, run)))[-1].data
    assert (last["heard"], last["event"]["source"]) == ("released (say again, not clear)", "host")
