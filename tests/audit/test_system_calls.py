"""A run whose system calls fail, or that is killed in them, at each occurrence in turn.

`strace` makes the fault: an error, a count of bytes that is too small (it can only claim that; real
short writes are tried where files may not grow), or SIGKILL on the way into the call. Afterwards no
acknowledged line is lost or stands twice, the log verifies as what it is, and the run goes on to
its end. A sample of the occurrences each time, all of them in the long tier.
"""

from __future__ import annotations

import functools
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from audit.errors import RecoveryError
from audit.folder import LogFolder
from audit.line import head_of
from audit.recovery import recover
from audit.writer import LogWriter
from tests.audit.faulty_child import LINES, RUN, crew
from tests.audit.helpers import Clock, check, event, simple_log

ROOT = Path(__file__).resolve().parents[2]
CHILD = Path(__file__).with_name("faulty_child.py")
SAMPLE = 5
CALLS = "write,fdatasync,fsync,rename,ftruncate"


@functools.cache
def missing() -> str:
    """Why `strace` cannot be used here; empty if it can."""
    if not sys.platform.startswith("linux") or shutil.which("strace") is None:
        return "strace is not installed"
    tried = subprocess.run(
        [str(shutil.which("strace")), "-f", "-o", os.devnull, "-e", "trace=getpid", "true"],
        capture_output=True, check=False,
    )  # fmt: skip
    return "" if tried.returncode == 0 else f"strace may not trace: {tried.stderr.decode()[:200]}"


class Life:
    """One child under `strace`; `fault` is what is injected, only into calls on the log's files."""

    def __init__(self, folder: Path, fault: str = "") -> None:
        folder.parent.mkdir(parents=True, exist_ok=True)
        self.trace = folder.parent / "trace"
        paths = [folder, folder / f"{RUN}.jsonl", folder / f".{RUN}.jsonl.partial"]
        words = [str(shutil.which("strace")), "-f", "-qq", "-o", str(self.trace)]
        for path in paths:
            words += ["-P", str(path)]
        words += ["-e", f"trace={CALLS}", *(["-e", f"inject={fault}"] if fault else [])]
        done = subprocess.run(
            [*words, sys.executable, str(CHILD), str(folder)], capture_output=True, check=False,
            cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, timeout=120,
        )  # fmt: skip
        self.code = done.returncode
        self.said = done.stdout.decode().splitlines()
        # strace says of a path that is not there yet that it takes it as it stands
        self.errors = [
            row for row in done.stderr.decode().splitlines() if not row.startswith("strace: ")
        ]
        self.acknowledged = {
            int(seq): head
            for seq, head in (row[2:].split(" ") for row in self.said if row[0] == "A")
        }

    @property
    def killed(self) -> bool:
        return self.code in (-signal.SIGKILL, 128 + signal.SIGKILL)


@pytest.fixture(scope="session")
def occurrences(tmp_path_factory: pytest.TempPathFactory) -> dict[str, int]:
    """How often each call is made on the log's files in a run that nothing happens to."""
    if missing():
        pytest.skip(missing())
    folder = tmp_path_factory.mktemp("whole") / "logs"
    life = Life(folder)
    assert (life.code, life.errors, life.said[-1]) == (0, [], "E")
    assert max(life.acknowledged) == LINES - 1
    assert check(folder / f"{RUN}.jsonl", crew()).counts()
    calls = re.findall(r"^[0-9]+ +([a-z0-9]+)\(", life.trace.read_text(), re.MULTILINE)
    counts = {name: calls.count(name) for name in CALLS.split(",")}
    assert counts["write"] == counts["fdatasync"] == LINES
    assert counts["fsync"] >= 1
    assert counts["rename"] >= 1
    return counts


def rows_of(log: Path) -> list[bytes]:
    return log.read_bytes().splitlines(keepends=True) if log.exists() else []


def must_hold(folder: Path, life: Life) -> None:
    """Nothing acknowledged is lost or doubled; what is there verifies; the run comes to its end."""
    assert life.errors == [], life.errors
    log = folder / f"{RUN}.jsonl"
    rows = rows_of(log)
    heads = [head_of(row) for row in rows]
    for seq, head in life.acknowledged.items():
        assert heads[seq] == head
    assert len(set(heads)) == len(heads)
    before = max(life.acknowledged, default=-1)
    if not life.acknowledged:
        # at most the opening and its signatures, which are told of together
        assert len(rows) <= 3
        _start_again(folder, rows)
        return
    assert len(rows) - 1 - before in (0, 1), "one line at most is there and not told of"
    verdict = check(log, crew())
    if len(rows) == LINES:
        assert verdict.counts(), verdict
        return
    assert verdict.result == "unclosed", verdict
    assert verdict.lines == len(rows)
    _go_on(folder, len(rows))
    now = [head_of(row) for row in rows_of(log)]
    assert now[: len(heads)] == heads
    assert check(log, crew()).counts()


def _start_again(folder: Path, rows: Sequence[bytes]) -> None:
    people, clock = crew(), Clock()
    clock.reboot()
    with LogFolder.open(folder) as logs:
        if len(rows) in (1, 2):
            with pytest.raises(RecoveryError, match="before its opening was signed"):
                recover(logs, RUN)
        assert check(simple_log(logs, people, clock), people).counts()


def _go_on(folder: Path, lines: int) -> None:
    people, clock = crew(), Clock()
    clock.reboot()
    with LogFolder.open(folder) as logs:
        recovered = recover(logs, RUN)
        assert (recovered.last_seq, recovered.residue) == (lines - 1, b"")
        writer = LogWriter.resume(recovered, clock(), None)
        if writer.phase == "running":
            writer.event(event(99), clock())
            for person in people:
                writer.sign_resume(person, clock())
            writer.close([], [], clock())
        for person in people:
            if person.name in writer.owed():
                writer.sign_close(person, clock())
        assert writer.phase == "closed"


FAULTS = {
    "fdatasync fails": ("fdatasync", "error=EIO"),
    "the folder's sync fails": ("fsync", "error=EIO"),
    "no space": ("write", "error=ENOSPC"),
    "a write that fails": ("write", "error=EIO"),
    "a short write": ("write", "retval=10"),
    "nothing written": ("write", "retval=0"),
    "the name is not given": ("rename", "error=EIO"),
    "killed in write": ("write", "signal=KILL"),
    "killed in fdatasync": ("fdatasync", "signal=KILL"),
    "killed in the folder's sync": ("fsync", "signal=KILL"),
    "killed while the name is given": ("rename", "signal=KILL"),
}


def tried(folder: Path, call: str, fault: str, number: int) -> None:
    life = Life(folder, f"{call}:{fault}:when={number}")
    assert "(INJECTED)" in life.trace.read_text() or "KILL" in fault, "no fault was made"
    if "KILL" in fault:
        assert life.killed, (life.code, life.said)
    else:
        # told in plain words, once, and nothing is appended after it
        assert life.code == 0
        assert life.said[-1] == "E"
        told = [row[0] for row in life.said if row[0] in "FLN"]
        assert told in (["F"], ["L", "N"]), life.said
    must_hold(folder, life)


def chosen(count: int) -> list[int]:
    """A few of the occurrences: the first, the last, and some between."""
    if count <= SAMPLE:
        return list(range(1, count + 1))
    return sorted({1 + round(n * (count - 1) / (SAMPLE - 1)) for n in range(SAMPLE)})


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_in_a_system_call(name: str, tmp_path: Path, occurrences: dict[str, int]) -> None:
    call, fault = FAULTS[name]
    for number in chosen(occurrences[call]):
        tried(tmp_path / str(number) / "logs", call, fault, number)


@pytest.mark.long
@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_in_every_system_call(
    name: str,
    tmp_path: Path,
    occurrences: dict[str, int],
    record_property: Callable[[str, object], None],
) -> None:
    call, fault = FAULTS[name]
    for number in range(1, occurrences[call] + 1):
        tried(tmp_path / str(number) / "logs", call, fault, number)
    record_property("faults in system calls", occurrences[call])
