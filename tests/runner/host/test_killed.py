"""Killed at any moment: no acknowledged answer is lost, none stands twice, the run goes on."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from audit.verdict import Verdict
from audit.verify import verify
from runner.host.replay import replayed
from tests.runner.host.lives import Life, must_hold, take, to_the_end
from tests.runner.host.support import lines_of


def killed(folder: Path, seed: int, times: int) -> None:
    """A run killed so many times, then brought to its end; every claim is checked on the way."""
    chance = random.Random(seed)
    told: list[tuple[str, bool]] = []
    acknowledged: dict[int, str] = {}
    number, done = 0, 0
    mode = "start"
    while done < times:
        life = Life(mode, folder, number)
        early = mode == "resume" and chance.random() < 0.3
        if early:
            # In the midst of reading the log, or of writing the first line after it.
            life.listen(1, chance.uniform(0.2, 0.9))
        else:
            life.listen(chance.randint(4, 120), 60)
        life.kill()
        done += 1
        mode = "resume"
        number += take(life, told, acknowledged)
        must_hold(folder, told, acknowledged)
    to_the_end(folder, number, told, acknowledged)


@pytest.mark.skipif(os.name == "nt", reason="a pipe cannot be waited for there")
@pytest.mark.parametrize("seed", [1, 2])
def test_killed_at_random_moments(seed: int, tmp_path: Path) -> None:
    killed(tmp_path / "logs", seed, 10)


@pytest.mark.long
@pytest.mark.skipif(os.name == "nt", reason="a pipe cannot be waited for there")
@pytest.mark.parametrize("seed", range(100, 110))
def test_killed_at_two_hundred_random_moments(
    seed: int, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    killed(tmp_path / "logs", seed, 20)
    record_property("kills of the program", 20)


def _ends_with_what_was_said(log: Path, verdict: Verdict, acknowledged: dict[int, str]) -> None:
    """The last line acknowledged is there, and behind it only wakes, which nobody says."""
    lines = list(lines_of(log))
    last = max(acknowledged)
    assert lines[last].head == acknowledged[last]
    assert verdict.lines == len(lines)
    assert {line.data["event"]["kind"] for line in lines[last + 1 :]} <= {"wake"}


@pytest.mark.skipif(os.name == "nt", reason="files have no largest size there")
@pytest.mark.parametrize("room", [20_000, 20_321])
def test_a_file_that_may_not_grow_any_more(room: int, tmp_path: Path) -> None:
    folder = tmp_path / "logs"
    life = Life("start", folder, 0, room)
    life.listen(400, 60)
    life.kill()
    assert "L RECORDING LOST, LIST CONTINUES" in life.lines
    assert life.lines.count("K") > 10
    told: list[tuple[str, bool]] = []
    acknowledged: dict[int, str] = {}
    take(life, told, acknowledged)
    (log,) = folder.glob("*.jsonl")
    assert log.stat().st_size <= room
    verdict = verify(log, level="replayed", trust=None, replay=replayed())
    assert (verdict.result, verdict.level) == ("unclosed", "replayed")
    _ends_with_what_was_said(log, verdict, acknowledged)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 400 KiB of its own; only root can make one."""
    mount = shutil.which("mount")
    if sys.platform != "linux" or mount is None or os.geteuid() != 0:
        pytest.skip("a file system cannot be mounted here")
    place = tmp_path / "disk"
    place.mkdir()
    made = subprocess.run(
        [mount, "-t", "tmpfs", "-o", "size=400k", "tmpfs", str(place)], capture_output=True
    )
    if made.returncode:
        pytest.skip(f"a file system cannot be mounted here: {made.stderr.decode()}")
    yield place
    subprocess.run([shutil.which("umount") or "umount", str(place)], check=True)


def test_a_disk_that_is_full(small_disk: Path) -> None:
    folder = small_disk / "logs"
    life = Life("start", folder, 0)
    life.listen(900, 60)
    life.kill()
    assert "L RECORDING LOST, LIST CONTINUES" in life.lines
    told: list[tuple[str, bool]] = []
    acknowledged: dict[int, str] = {}
    take(life, told, acknowledged)
    (log,) = folder.glob("*.jsonl")
    verdict = verify(log, level="replayed", trust=None, replay=replayed())
    assert (verdict.result, verdict.level) == ("unclosed", "replayed"), verdict
    _ends_with_what_was_said(log, verdict, acknowledged)
