"""A writer whose memory is looked through from outside, in a process of its own.

Started by tests as a script: `memory_child.py FOLDER SEEDS MODE`. It writes a run, stops after some
lines, says `STOP text` and waits for a line on standard input. MODE is `as it is`, `keeps one` (a
control that holds on to the key of a line) or `makes its own` (nothing is replaced).

Seeds come through the descriptor SEEDS straight into a buffer that is wiped at once: so no copy of
a seed is here but those that the library makes, and the test that looks for them knows them all.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from audit import ahead, writer
from audit.folder import LogFolder
from audit.recovery import recover
from audit.writer import LogWriter
from tests.audit.helpers import Clock, Person, event, opening

LINES = 20


class Seeded:
    """In the place of the class of keys: makes them from seeds that somebody else knows."""

    source = -1
    keep_the = -1
    made = 0
    kept: list[Ed25519PrivateKey] = []  # noqa: RUF012

    @classmethod
    def generate(cls) -> Ed25519PrivateKey:
        buffer = bytearray(32)
        if os.readv(cls.source, [buffer]) != 32:
            raise RuntimeError("there are no seeds left")
        key = Ed25519PrivateKey.from_private_bytes(buffer)
        buffer[:] = bytes(32)
        if cls.made == cls.keep_the:
            cls.kept.append(key)
        cls.made += 1
        return key


def stop(text: str) -> None:
    os.write(1, f"STOP {text}\n".encode())
    os.read(0, 1)


def main(path: Path, source: int, mode: str) -> None:
    people = [Person("Maren Holt"), Person("Åsa Lind")]
    if mode != "makes its own":
        Seeded.source = source
        Seeded.keep_the = 5 if mode == "keeps one" else -1
        for module in (ahead, writer):
            vars(module)["Ed25519PrivateKey"] = Seeded
    clock = Clock()
    stop("ready")
    with LogFolder.open(path) as folder:
        log = LogWriter.create(folder, opening(people), people, clock())
        stop("opened")
        for number in range(LINES):
            log.event(event(number), clock())
            if number % 10 == 9:
                stop(f"event {number}")
        log.stop()
        stop("left")
        clock.reboot()
        log = LogWriter.resume(recover(folder, log.run), clock(), None)
        log.event(event(LINES), clock())
        stop("resumed")
        for person in people:
            log.sign_resume(person, clock())
        log.close([], people[:1], clock())
        stop("closing")
        log.sign_close(people[1], clock())
        stop("closed")


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3])
