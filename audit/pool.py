"""Many logs verified at once, by processes of their own; what comes out is what one would say.

Rules: a log is judged by one process, whole, by `verify` and nothing else; verdicts come in the
order of the logs named, each as soon as those before it are there; a process that dies is an error
that names its log, never a verdict. Processes are started anew (`spawn`, the same on every system),
each with one pipe, and end when it closes, however the parent has ended; few or small logs are
judged without any. Ctrl-C stops at once: what was judged by then is still given, then `Stopped`
says that the rest was not.
"""

import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Generator, Sequence
from contextlib import suppress
from functools import partial
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import NamedTuple

from audit.errors import FolderError, ProcessLost, Stopped
from audit.interrupts import Interrupts, deaf
from audit.progress import PACE, size_of
from audit.trust import Trust
from audit.verdict import Verdict
from audit.verify import Replay, verify

MOST_PROCESSES = 256

Told = Callable[[int, int], None]
"""Told how many logs are judged, and how many bytes read in all."""


Judged = Generator[tuple[Path, Verdict], None, None]


class Job(NamedTuple):
    """What to do with each log. `hook` makes, in each process, what `verify` takes as `replay`: a
    function of a module, which another process can import."""

    level: str
    trust: Trust
    hook: Callable[[], Replay] | None = None


def processes_for(sizes: Sequence[int], level: str) -> int:
    """How many processes are worth starting for logs of these sizes, in bytes: 1 is none.

    Each has about a second of work: its start takes some 0.2 s, 0.5 s with the lists to replay.
    """
    return max(1, min(cores(), len(sizes), sum(sizes) // PACE[level]))


def cores() -> int:
    """How many cores this process may use."""
    if sys.platform == "linux":
        found = len(os.sched_getaffinity(0))
    else:
        found = os.cpu_count() or 1
    return found


def verify_all(
    logs: Sequence[Path],
    job: Job,
    *,
    processes: int | None = None,
    told: Told | None = None,
    method: str = "spawn",
) -> Judged:
    """Each log and its verdict, in the order of `logs`.

    processes: how many judge; `None` for as many as are worth it. told: hears how it goes. method:
    how multiprocessing starts a process. Raises as `verify`, in the place of that log's verdict;
    `ProcessLost`; `Stopped` after Ctrl-C. Close it (`contextlib.closing`) to stop before the end.
    """
    sizes = [size_of(log) for log in logs]
    count = processes_for(sizes, job.level) if processes is None else min(processes, len(logs))
    tally = _Tally(logs, sizes, told or (lambda judged, read: None))
    try:
        with Interrupts() as interrupts:
            if count < 2:
                yield from _alone(tally, job, interrupts)
            else:
                yield from _shared(tally, job, interrupts, count, method)
    except KeyboardInterrupt:
        # one that came when every log was judged already is taken at the end
        raise tally.stopped() from None


class _Tally:
    """How far the whole has come."""

    def __init__(self, logs: Sequence[Path], sizes: Sequence[int], told: Told) -> None:
        self.logs = logs
        self.judged = 0
        self._sizes = sizes
        self._told = told
        self._done = 0
        self._reading: dict[int, int] = {}

    def reads(self, number: int, at: int) -> None:
        """Log `number` has been read up to byte `at`."""
        self._reading[number] = at
        self._told(self.judged, self._done + sum(self._reading.values()))

    def has(self, number: int) -> None:
        """Log `number` is judged."""
        self.judged += 1
        self._reading.pop(number, None)
        self._done += self._sizes[number]
        self._told(self.judged, self._done + sum(self._reading.values()))

    def stopped(self) -> Stopped:
        """What is to be raised after Ctrl-C."""
        return Stopped(self.judged, len(self.logs))


def _alone(tally: _Tally, job: Job, interrupts: Interrupts) -> Judged:
    hook = job.hook() if job.hook else None
    for number, log in enumerate(tally.logs):

        def beat(at: int, number: int = number) -> None:
            tally.reads(number, at)

        try:
            with interrupts.heard():
                verdict = verify(log, level=job.level, trust=job.trust, replay=hook, beat=beat)
        except KeyboardInterrupt:
            raise tally.stopped() from None
        tally.has(number)
        yield log, verdict


class _Worker:
    """A process that judges logs, and the end of its pipe that is ours."""

    def __init__(self, method: str, job: Job) -> None:
        context = multiprocessing.get_context(method)
        self.pipe, theirs = context.Pipe()
        # what a process is started with is its own class in each way of starting one
        make: Callable[..., BaseProcess] = context.Process  # type: ignore[attr-defined]
        self.process = make(target=_work, args=(theirs, job), daemon=True)
        self.process.start()
        theirs.close()
        self.number = -1

    def give(self, number: int, log: Path) -> None:
        """Have it judge a log."""
        self.number = number
        with suppress(OSError):  # that it is gone shows when its answer is waited for
            self.pipe.send((number, log))

    def lost(self, log: Path) -> ProcessLost:
        """What is to be raised when its pipe has closed."""
        self.process.join(5)
        return _lost(log, f"it ended with {self.process.exitcode}")

    def end(self) -> None:
        """End it, whatever it does."""
        self.pipe.close()
        self.process.terminate()
        self.process.join(5)
        if self.process.exitcode is None:
            self.process.kill()
            self.process.join()


def _shared(tally: _Tally, job: Job, interrupts: Interrupts, count: int, method: str) -> Judged:
    logs = tally.logs
    answers: dict[int, Verdict | Exception] = {}
    left = iter(enumerate(logs))
    workers: list[_Worker] = []
    given = 0
    try:
        with deaf():
            for _ in range(count):
                workers.append(_Worker(method, job))
        busy = {worker.pipe: worker for worker in workers}
        for worker in workers:
            worker.give(*next(left))
        while given < len(logs):
            with interrupts.heard():
                ready = wait(list(busy))
            for pipe in ready:
                worker = busy[pipe]  # type: ignore[index]
                try:
                    answer = worker.pipe.recv()
                except (EOFError, OSError):
                    answer = worker.lost(logs[worker.number])
                if isinstance(answer, int):
                    tally.reads(worker.number, answer)
                    continue
                answers[worker.number] = answer
                if isinstance(answer, Verdict):
                    tally.has(worker.number)
                following = None if isinstance(answer, ProcessLost) else next(left, None)
                if following is None:
                    del busy[worker.pipe]
                else:
                    worker.give(*following)
            while given in answers:
                yield logs[given], _verdict(answers.pop(given))
                given += 1
    except KeyboardInterrupt:
        for worker in workers:
            worker.end()
        for number in sorted(answers):
            if isinstance(answers[number], Verdict):
                yield logs[number], _verdict(answers[number])
        raise tally.stopped() from None
    finally:
        for worker in workers:
            worker.end()


def _lost(log: Path, why: str) -> ProcessLost:
    return ProcessLost(f"{log}: the process that judged it failed ({why}); nothing is said of it")


def _verdict(answer: Verdict | Exception) -> Verdict:
    if isinstance(answer, Exception):
        raise answer
    return answer


def _work(pipe: "Connection", job: Job) -> None:
    """The life of a process: a log, its verdict, the next; until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    hook = job.hook() if job.hook else None
    with suppress(_Gone):
        while True:
            try:
                _, log = pipe.recv()
            except (EOFError, OSError):
                # it was closed, or whoever asks was killed with an answer still unread
                return
            answer: Verdict | Exception
            try:
                answer = verify(
                    log, level=job.level, trust=job.trust, replay=hook, beat=partial(_send, pipe)
                )
            except FolderError as error:
                answer = FolderError(str(error))
            except _Gone:
                return
            except Exception as error:
                answer = _lost(log, f"{type(error).__name__}: {error}")
            _send(pipe, answer)


class _Gone(Exception):
    """Nobody is there to hear the answer."""


def _send(pipe: "Connection", what: object) -> None:
    try:
        pipe.send(what)
    except OSError:
        raise _Gone from None
