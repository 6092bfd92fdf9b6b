"""Runs written one after the other, without end, for somebody who kills the process or the power.

Started by tests as a script: `tireless_child.py FOLDER SEED kept|unkept [neighbour]`. A run that
was left open is resumed first. When a line is durable it writes `A run seq head`. `unkept` omits
the sync of the lines, and nothing else: the control. Lines are of all lengths, up to many blocks of
the disk, so that an end can fall into one. With `neighbour`, somebody else keeps syncing a file on
the same disk: each time the file system puts down what it knows of every file, in mid-line too.
"""

from __future__ import annotations

import os
import random
import sys
import time
from pathlib import Path
from threading import Thread

from audit import durable
from audit.errors import RecoveryError
from audit.folder import LogFolder
from audit.recovery import recover
from audit.stamps import Stamp
from audit.writer import Entry, LogWriter
from tests.audit.faulty_child import crew
from tests.audit.helpers import event, opening

LENGTHS = (0, 0, 0, 0, 0, 300, 5_000, 300_000)


def now() -> Stamp:
    """The machine's clocks: the same for every process that works on a run."""
    return Stamp(time.time_ns() // 1_000_000, time.monotonic_ns() // 1_000_000, "boot")


def out(run: str, seq: int, head: str) -> None:
    os.write(1, f"A {run} {seq} {head}\n".encode())


def begun(folder: LogFolder) -> LogWriter:
    """The writer of the run that was left open, else of a new one; what it wrote is told."""
    run = folder.open_run()
    try:
        if run is not None:
            writer = LogWriter.resume(recover(folder, run), now(), None)
            out(run, writer.seq, writer.head)
            return writer
    except RecoveryError:
        pass  # killed before its opening was signed: left for good
    folder.keep_room()
    run = f"run-{len(folder.runs()) + 1}"
    writer = LogWriter.create(folder, opening(crew()), crew(), now(), run=run)
    out(run, writer.seq, writer.head)
    return writer


def to_its_end(writer: LogWriter, chance: random.Random) -> None:
    people = crew()

    def told(entry: Entry) -> None:
        out(writer.run, entry.seq, entry.head)

    if writer.phase == "running":
        for number in range(chance.choice((2, 10, 30))):
            data = event(number)
            data["event"]["note"] = "x" * chance.choice(LENGTHS)
            told(writer.event(data, now()))
        for person in people:
            if person.name in writer.owed():
                told(writer.sign_resume(person, now())[-1])
        told(writer.close([], [], now()))
    for person in people:
        if person.name in writer.owed():
            told(writer.sign_close(person, now()))


def neighbour(path: Path) -> None:
    """Make the file system put down what it knows, again and again; ends with the process."""
    with path.open("wb", buffering=0) as stream:
        while True:
            stream.truncate(0)
            stream.write(b"x")
            os.fsync(stream.fileno())


def main(path: Path, seed: int, way: str, *more: str) -> None:
    if "neighbour" in more:
        Thread(target=neighbour, args=(path.with_name("other"),), daemon=True).start()
    chance = random.Random(seed)
    with LogFolder.open(path) as folder:
        if way == "unkept":
            durable.sync = lambda fd: None
        while True:
            to_its_end(begun(folder), chance)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), *sys.argv[3:])
