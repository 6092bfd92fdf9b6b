"""A run of twenty-one lines whose system calls are made to fail by somebody outside.

Started by tests as a script: `faulty_child.py FOLDER`. When lines are durable it writes
`A seq head` of the last; `F why` where no run could be started, `L why` where recording was lost,
and then `N` if a further line is refused, as it must be; `E` at the end.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from audit.errors import AuditError, LogLost
from audit.folder import LogFolder
from audit.writer import LogWriter
from tests.audit.helpers import Clock, Person, event, opening

RUN = "faulty"
EVENTS = 15
LINES = 1 + 2 + EVENTS + 1 + 2


def crew() -> list[Person]:
    """The same two people in every process."""
    people = [Person("Maren Holt"), Person("Åsa Lind")]
    for number, person in enumerate(people, 1):
        person.private = Ed25519PrivateKey.from_private_bytes(bytes([number]) * 32)
        person.key = person.private.public_key().public_bytes_raw()
    return people


def out(text: str) -> None:
    os.write(1, f"{text}\n".encode())


def work(folder: LogFolder, clock: Clock) -> None:
    people = crew()
    writer = LogWriter.create(folder, opening(people), people, clock(), run=RUN)
    out(f"A {writer.seq} {writer.head}")
    try:
        for number in range(EVENTS):
            entry = writer.event(event(number), clock())
            out(f"A {entry.seq} {entry.head}")
        entry = writer.close([], [], clock())
        out(f"A {entry.seq} {entry.head}")
        for person in people:
            entry = writer.sign_close(person, clock())
            out(f"A {entry.seq} {entry.head}")
    except LogLost as fault:
        out(f"L {fault}")
        try:
            writer.event(event(), clock())
        except AuditError:
            out("N")


def main(path: Path) -> None:
    try:
        with LogFolder.open(path) as folder:
            work(folder, Clock())
    except AuditError as fault:
        out(f"F {fault}")
    out("E")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
