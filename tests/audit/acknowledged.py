"""What a tireless writer acknowledged before its end, against what is found afterwards.

Shared by the tests that kill the process and those that cut the power: nothing acknowledged may be
lost or stand twice, closed runs verify, and the run that was open goes on to its end.
"""

from __future__ import annotations

import hashlib
import os
import select
import subprocess
import sys
from pathlib import Path

from audit.errors import RecoveryError
from audit.folder import LogFolder
from audit.line import head_of
from audit.recovery import recover
from audit.writer import LogWriter
from tests.audit.faulty_child import crew
from tests.audit.helpers import check, event, opening
from tests.audit.tireless_child import now

ROOT = Path(__file__).resolve().parents[2]
CHILD = Path(__file__).with_name("tireless_child.py")

Acknowledged = dict[tuple[str, int], str]


class Life:
    """One process that writes runs, and what it said so far."""

    def __init__(self, folder: Path, seed: int, *ways: str) -> None:
        self._said = b""
        self._process = subprocess.Popen(
            [sys.executable, str(CHILD), str(folder), str(seed), *ways], stdout=subprocess.PIPE,
            cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip

    def listen(self, rows: int, seconds: float = 60) -> None:
        """Hears it until it said so many lines more, or nothing for so long."""
        stream = self._process.stdout
        assert stream is not None
        until = self._said.count(b"\n") + rows
        while self._said.count(b"\n") < until and select.select([stream], [], [], seconds)[0]:
            got = os.read(stream.fileno(), 65_536)
            assert got, "the writer ended of itself"
            self._said += got

    def acknowledged(self) -> Acknowledged:
        """Everything that it has said by now."""
        stream = self._process.stdout
        assert stream is not None
        while not stream.closed and select.select([stream], [], [], 0)[0]:
            got = os.read(stream.fileno(), 65_536)
            assert got, "the writer ended of itself"
            self._said += got
        told = (row.split(" ") for row in self._said.decode().split("\n")[:-1])
        return {(run, int(seq)): head for _, run, seq, head in told}

    def is_at_work(self) -> bool:
        return self._process.poll() is None

    def kill(self) -> Acknowledged:
        """End it without a warning; everything that it ever said."""
        self._process.kill()
        rest, _ = self._process.communicate()
        self._said += rest
        return self.acknowledged()


def rows_of(logs: Path, run: str) -> list[bytes]:
    log = logs / f"{run}.jsonl"
    return log.read_bytes().splitlines(keepends=True) if log.exists() else []


def lost(logs: Path, acknowledged: Acknowledged) -> list[tuple[str, int]]:
    """Which acknowledged lines are not where they were said to be."""
    runs = {run for run, _ in acknowledged}
    heads = {run: [head_of(row) for row in rows_of(logs, run)] for run in runs}
    return [
        (run, seq)
        for (run, seq), head in acknowledged.items()
        if head not in heads[run][seq : seq + 1]
    ]


def must_hold(logs: Path, acknowledged: Acknowledged) -> str:
    """Nothing is lost or doubled, and the logs go on; in what state the last run was found.

    Said as `finish` says it.
    """
    assert lost(logs, acknowledged) == []
    with LogFolder.open(logs) as folder:
        runs = [info.run for info in folder.runs()]
        rows = [row for run in runs for row in rows_of(logs, run)]
        assert len(rows) == len(set(rows)), "a line stands twice"
        state = finish(folder)
        people = crew()
        writer = LogWriter.create(folder, opening(people), people, now(), run="one-more")
        writer.close([], people, now())
        now_there = folder.runs()
        assert [info.run for info in now_there] == [*runs, "one-more"]
        for info in now_there:
            if info.closed:
                verdict = check(folder.path_of(info.run), people)
                assert verdict.counts(), verdict
    return state


def finish(folder: LogFolder) -> str:
    """Bring the run that is open to its end; how the last run was found.

    `closed`, `whole` (open, its last line whole), `torn` (a piece of a line behind it, which is
    then found aside), or `opening` (not signed by everybody: left for good).
    """
    run = folder.open_run()
    if run is None:
        return "closed"
    people = crew()
    log = folder.path_of(run)
    try:
        recovered = recover(folder, run)
    except RecoveryError as error:
        if "before its opening was signed" not in str(error):
            raise
        return "opening"
    whole = log.read_bytes()[: recovered.length]
    writer = LogWriter.resume(recovered, now(), None)
    resumed = rows_of(folder.path, run)[recovered.last_seq + 1]
    if writer.phase == "running":
        writer.event(event(99), now())
        for person in people:
            writer.sign_resume(person, now())
        writer.close([], [], now())
    for person in people:
        if person.name in writer.owed():
            writer.sign_close(person, now())
    assert log.read_bytes().startswith(whole), "what was there has been changed"
    verdict = check(log, people)
    assert verdict.counts(), verdict
    # one more where a resume before this one was itself cut short
    stem = f"{run}.residue-{recovered.last_seq + 1}-"
    aside = [path.read_bytes() for path in folder.path.glob(f"{stem}*")]
    assert (recovered.residue in aside) == bool(recovered.residue)
    for content in aside:
        assert hashlib.sha256(content).hexdigest().encode() in resumed
    return "torn" if recovered.residue else "whole"
