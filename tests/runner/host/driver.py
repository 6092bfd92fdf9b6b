"""A run as at a terminal, in a process of its own, worked by a crew that never tires.

Started by tests as a script: `driver.py start|resume|finish FOLDER NUMBER [BYTES]`. It says what is
asked, and every third time a snag with a number of its own; before a line it writes `S text`, when
the line is durable `A seq head`, so that whoever kills it knows what was acknowledged. `finish`
works the day to its end and closes the log; BYTES is the size at which files stop to grow.
"""

from __future__ import annotations

import os
import sys
import time
from itertools import count
from pathlib import Path

from audit.folder import LogFolder
from audit.people import load_signer, new_key
from audit.stamps import Stamp
from runner.engine.effects import Effect, Prompt, Say
from runner.host.clock import SystemClock
from runner.host.opening import Setup, resume, start
from runner.host.run import Run
from tests.runner.host.support import CREW, right_answer, tiny

FAST = 500
"""Seconds of the run in one second: the two-minute wait must not hold up a test."""


class FastClock:
    """The machine's clock, running fast, so that processes agree on it."""

    def __init__(self) -> None:
        self._clock = SystemClock()

    def stamp(self) -> Stamp:
        wall, mono, boot = self._clock.stamp()
        return Stamp(wall + mono * (FAST - 1), mono * FAST, boot)


def out(text: str) -> None:
    os.write(1, f"{text}\n".encode())


def heard(effects: tuple[Effect, ...]) -> None:
    for effect in effects:
        if isinstance(effect, Say) and "RECORDING LOST" in effect.text:
            out(f"L {effect.text}")


def work(run: Run, number: int, *, finish: bool) -> None:
    for turn in count(number):
        if finish and run.state.question.prompt is Prompt.CLOSED:
            return
        text = f"snag note {turn}" if turn % 3 == 0 else right_answer(run)
        out(f"S {text}")
        run.say_line(text)
        if run.recorder.lost:
            out("K")
        else:
            out(f"A {run.recorder.writer.seq} {run.recorder.head}")
        if run.state.question.prompt is Prompt.WAITING:
            time.sleep(0.002)


def main(mode: str, folder: Path, number: int, limit: int = 0) -> None:
    keys = folder.parent / "keys"
    if mode == "start":
        signers = [load_signer(new_key(name, None, keys), None, name) for _, name in CREW]
    else:
        signers = [load_signer(path, None) for path in sorted(keys.glob("*[!b]"))]
    with LogFolder.open(folder) as logs:
        if limit:
            import resource

            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
        clock = FastClock()
        if mode == "start":
            crew = tuple((role, signer) for (role, _), signer in zip(CREW, signers, strict=True))
            run = start(Setup(tiny(), logs, "TV-T1", ("crew",), crew, ("hook",)), clock)
        else:
            run = resume(logs, logs.open_run() or "", clock, "TV-T1")
        run.subscribe(heard)
        run.start_bell()
        out(f"R {run.recorder.writer.seq}")
        work(run, number, finish=mode == "finish")
        out(f"C {run.close(list(signers))}")
        run.stop()


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]), *map(int, sys.argv[4:]))
