"""Killed at any moment: no acknowledged answer is lost, none stands twice, the run goes on."""

from __future__ import annotations

import os
import random
import select
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from audit.trust import Trust, trust_key
from audit.verdict import Verdict
from audit.verify import verify
from runner.host.replay import replayed
from tests.runner.host.support import lines_of

ROOT = Path(__file__).resolve().parents[3]
DRIVER = Path(__file__).with_name("driver.py")


class Life:
    """One process that works the run, and what it said."""

    def __init__(self, mode: str, folder: Path, number: int, *more: int) -> None:
        self.said = b""
        self._process = subprocess.Popen(
            [sys.executable, str(DRIVER), mode, str(folder), str(number), *map(str, more)],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip

    def listen(self, until: int, seconds: float | None) -> None:
        """Hears it until it has said so many lines, or for so long."""
        stream = self._process.stdout
        if stream is None:
            raise AssertionError("no pipe")
        while self.said.count(b"\n") < until:
            ready, _, _ = select.select([stream], [], [], seconds)
            if not ready:
                return
            got = os.read(stream.fileno(), 4096)
            if not got:
                return
            self.said += got

    def kill(self) -> None:
        self._process.kill()
        self.end()

    def end(self) -> tuple[int, str]:
        rest, errors = self._process.communicate(timeout=120)
        self.said += rest
        return self._process.returncode, errors.decode()

    @property
    def lines(self) -> list[str]:
        return self.said.decode().split("\n")[:-1]


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
        number += _take(life, told, acknowledged)
        _check(folder, told, acknowledged)
    life = Life("finish", folder, number)
    code, errors = life.end()
    assert (code, errors) == (0, "")
    _take(life, told, acknowledged)
    assert life.lines[-1] == "C "
    log = _check(folder, told, acknowledged)
    trusted = folder.parent / "allowed"
    for public in (folder.parent / "keys").glob("*.pub"):
        text = public.read_text("utf-8").strip()
        trust_key(trusted, text.split(" ", 2)[2], text)
    verdict = verify(log, level="replayed", trust=Trust.read(trusted), replay=replayed())
    assert (verdict.result, verdict.level) == ("closed", "replayed"), verdict.text(str(log))
    assert verdict.counts(frozenset())


def _take(life: Life, told: list[tuple[str, bool]], acknowledged: dict[int, str]) -> int:
    said = 0
    for line in life.lines:
        kind, _, rest = line.partition(" ")
        if kind == "S":
            told.append((rest, False))
            said += 1
        elif kind == "A":
            seq, head = rest.split(" ")
            acknowledged[int(seq)] = head
            told[-1] = (told[-1][0], True)
    return said


def _check(folder: Path, told: list[tuple[str, bool]], acknowledged: dict[int, str]) -> Path:
    (log,) = folder.glob("*.jsonl")
    whole = log.read_bytes()
    whole = whole[: whole.rfind(b"\n") + 1]
    (folder.parent / "whole.jsonl").write_bytes(whole)
    lines = list(lines_of(folder.parent / "whole.jsonl"))
    for seq, head in acknowledged.items():
        assert lines[seq].head == head
    heard = [line.data["heard"] for line in lines if "heard" in line.data]
    # In the order in which they were said; what was not acknowledged stands once, or not. The same
    # words may have been said again after a kill, so every way to read the log is followed.
    places = {0}
    for text, sure in told:
        taken = {at + 1 for at in places if at < len(heard) and heard[at] == text}
        places = taken if sure else places | taken
        assert places, text
    assert len(heard) in places
    notes = [text for text in heard if text.startswith("snag note")]
    assert len(notes) == len(set(notes))
    return log


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
    _take(life, told, acknowledged)
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
    _take(life, told, acknowledged)
    (log,) = folder.glob("*.jsonl")
    verdict = verify(log, level="replayed", trust=None, replay=replayed())
    assert (verdict.result, verdict.level) == ("unclosed", "replayed"), verdict
    _ends_with_what_was_said(log, verdict, acknowledged)
