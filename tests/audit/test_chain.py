"""The runs of a device, taken together: missing, doubled, forked, spliced, of another device."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from audit.chain import Finding, distinct, findings
from audit.errors import FolderError
from audit.folder import DEVICE_FILE, LogFolder
from audit.recovery import recover
from audit.writer import LogWriter
from tests.audit.helpers import Clock, Forge, Person, check, event, opening, simple_log

Runs = list[Path]


def codes(found: list[Finding]) -> list[tuple[str, int]]:
    return [(one.code, one.run_seq) for one in found]


@pytest.fixture
def runs(folder: LogFolder, crew: list[Person], clock: Clock) -> Runs:
    return [simple_log(folder, crew, clock, events=1) for _ in range(4)]


def test_runs_that_are_all_there(folder: LogFolder, runs: Runs) -> None:
    assert findings([folder.path]) == []
    assert findings(runs) == []
    assert findings([folder.path, *runs]) == []


def test_a_middle_run_is_deleted(folder: LogFolder, runs: Runs) -> None:
    runs[1].unlink()
    (found,) = findings([folder.path])
    assert codes([found]) == [("missing", 2)]
    assert found.text().startswith(f"missing: run 2 of device {folder.device[:12]}")
    assert f"{runs[2].stem} begins where {runs[1].stem} ended" in found.why


def test_the_first_runs_are_deleted(folder: LogFolder, runs: Runs) -> None:
    for path in runs[:2]:
        path.unlink()
    (found,) = findings([folder.path])
    assert codes([found]) == [("missing", 1)]
    assert "runs 1 to 2 of" in found.why


def test_the_newest_run_is_deleted_and_nothing_here_can_tell(folder: LogFolder, runs: Runs) -> None:
    runs[3].unlink()
    assert findings([folder.path]) == []


def test_logs_named_one_by_one_miss_no_others(runs: Runs) -> None:
    assert findings([runs[1], runs[3]]) == []
    assert findings([runs[2]]) == []


def test_a_run_is_doubled(folder: LogFolder, runs: Runs) -> None:
    shutil.copy(runs[1], folder.path / "copy.jsonl")
    (found,) = findings([folder.path])
    assert codes([found]) == [("doubled", 2)]
    assert "are the same run 2" in found.why


def test_an_earlier_state_of_a_run_is_doubled(folder: LogFolder, runs: Runs) -> None:
    rows = runs[3].read_bytes().splitlines(keepends=True)
    (folder.path / "before.jsonl").write_bytes(b"".join(rows[:4]))
    (found,) = findings([folder.path])
    assert codes([found]) == [("doubled", 4)]
    assert "before.jsonl is an earlier state of" in found.why


def test_a_folder_is_rolled_back_and_another_run_is_written(
    tmp_path: Path, folder: LogFolder, runs: Runs, crew: list[Person], clock: Clock
) -> None:
    kept = tmp_path / "kept"
    shutil.copytree(folder.path, kept)
    runs[3].unlink()
    simple_log(folder, crew, clock, events=2)
    assert findings([folder.path]) == []
    (found,) = findings([folder.path, kept / runs[3].name])
    assert codes([found]) == [("forked", 4)]
    assert "with different lines" in found.why
    # with the whole copy the three runs before are there twice as well
    assert codes(findings([folder.path, kept])) == [
        ("doubled", 1), ("doubled", 2), ("doubled", 3), ("forked", 4),
    ]  # fmt: skip


def test_both_branches_of_a_fork_are_followed(
    tmp_path: Path, folder: LogFolder, runs: Runs, crew: list[Person], clock: Clock
) -> None:
    """A run behind a fork continues one of the two, and that is no second finding."""
    kept = tmp_path / "kept.jsonl"
    shutil.move(runs[3], kept)
    simple_log(folder, crew, clock)
    simple_log(folder, crew, clock)
    assert codes(findings([folder.path, kept])) == [("forked", 4)]


def test_the_tail_of_a_run_with_a_successor_is_cut(folder: LogFolder, runs: Runs) -> None:
    rows = runs[1].read_bytes().splitlines(keepends=True)
    runs[1].write_bytes(b"".join(rows[:-1]))
    (found,) = findings([folder.path])
    assert codes([found]) == [("unchained", 3)]
    assert f"{runs[2].stem} does not begin where {runs[1].stem}" in found.why


def test_a_run_is_replaced_by_another_of_the_same_name(
    folder: LogFolder, runs: Runs, tmp_path: Path, crew: list[Person], clock: Clock
) -> None:
    with LogFolder.open(tmp_path / "other") as elsewhere:
        writer = LogWriter.create(elsewhere, opening(crew), crew, clock(), run=runs[0].stem)
        writer.close([], crew, clock())
    shutil.copy(elsewhere.path / runs[0].name, runs[0])
    assert codes(findings([folder.path])) == [("device", 1), ("missing", 1)]


@pytest.mark.parametrize("wrong", ["prev_run", "prev"])
def test_a_run_names_another_one_before_it(
    folder: LogFolder, crew: list[Person], clock: Clock, wrong: str
) -> None:
    """Forged by somebody with every key: either of the two names of the run before must fit."""
    first = simple_log(folder, crew, clock)
    head = folder.last_head()
    forge = Forge(crew, head=head if wrong == "prev_run" else "e" * 64)
    named = "another-run" if wrong == "prev_run" else first.stem
    forge.open(run="second-run", run_seq=2, prev_run=named, device=folder.device).close()
    second = folder.path_of("second-run")
    second.write_bytes(forge.log)
    assert check(second, crew).result == "closed"
    assert codes(findings([folder.path])) == [("unchained", 2)]
    good = Forge(crew, head=head)
    good.open(run="second-run", run_seq=2, prev_run=first.stem, device=folder.device).close()
    second.write_bytes(good.log)
    assert findings([folder.path]) == []


def test_a_run_of_another_device_is_spliced_in(
    tmp_path: Path, folder: LogFolder, runs: Runs, crew: list[Person], clock: Clock
) -> None:
    with LogFolder.open(tmp_path / "other") as elsewhere:
        stranger = simple_log(elsewhere, crew, clock)
    shutil.copy(stranger, folder.path)
    (found,) = findings([folder.path])
    assert codes([found]) == [("device", 1)]
    assert f"{stranger.name} is a run of another device than {DEVICE_FILE}" in found.why
    # the same two devices at a desk that is neither's own: nothing is wrong
    (folder.path / DEVICE_FILE).unlink()
    assert findings([folder.path]) == []


def test_several_devices_are_told_apart(
    tmp_path: Path, folder: LogFolder, runs: Runs, crew: list[Person], clock: Clock
) -> None:
    desk = tmp_path / "desk"
    desk.mkdir()
    with LogFolder.open(tmp_path / "other") as elsewhere:
        others = [simple_log(elsewhere, crew, clock) for _ in range(3)]
    for path in (*runs, *others):
        shutil.copy(path, desk)
    assert findings([desk]) == []
    (desk / runs[2].name).unlink()
    (desk / others[0].name).unlink()
    found = findings([desk])
    assert sorted(codes(found)) == [("missing", 1), ("missing", 3)]
    assert {one.device for one in found} == {folder.device, elsewhere.device}


def test_a_run_left_open_is_followed_as_it_stood(
    folder: LogFolder, crew: list[Person], clock: Clock
) -> None:
    writer = LogWriter.create(folder, opening(crew), crew, clock())
    writer.event(event(1), clock())
    writer.stop()
    left = folder.path_of(writer.run)
    simple_log(folder, crew, clock)
    assert findings([folder.path]) == []
    # going on with it behind the back of its successor
    successor = next(path for path in folder.path.glob("*.jsonl") if path != left)
    kept = successor.read_bytes()
    successor.unlink()
    writer = LogWriter.resume(recover(folder, left.stem), clock(), None)
    writer.stop()
    successor.write_bytes(kept)
    assert codes(findings([folder.path])) == [("unchained", 2)]


def test_lines_of_another_run_do_not_hold_before_the_chain_is_asked(runs: Runs) -> None:
    rows, others = (path.read_bytes().splitlines(keepends=True) for path in runs[:2])
    runs[0].write_bytes(b"".join([*rows[:3], *others[3:]]))
    assert check(runs[0]).result == "rejected"


def test_what_is_no_log_is_said_once_for_each(folder: LogFolder, runs: Runs) -> None:
    (folder.path / "notes.jsonl").write_text("{}\n", "utf-8")
    (found,) = findings([folder.path])
    assert (found.code, found.run_seq) == ("foreign", 0)
    assert "notes.jsonl does not begin as a log" in found.why


def test_each_log_counts_once_however_often_it_is_named(folder: LogFolder, runs: Runs) -> None:
    assert distinct([folder.path, runs[0], folder.path / "." / runs[1].name]) == sorted(runs)


def test_what_cannot_be_read_is_said(folder: LogFolder, runs: Runs) -> None:
    with pytest.raises(FolderError, match="cannot be read"):
        findings([folder.path / "nowhere.jsonl"])
