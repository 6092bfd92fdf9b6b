"""The real program in a terminal of the tests, by a clock that goes where it is told.

Rules: nothing of the program stands in but its clock; orders come over an inherited socket, a line
each (`pass 1000`: so many milliseconds go by, and what is due happens; `fail MODULE NAME`: that
function fails from now on; answered `ok`), so that no test waits for real time to pass; the time
already gone at the start is in the environment, for a run that is taken up again.
"""

from __future__ import annotations

import importlib
import os
import socket
import sys
import threading

from audit.stamps import Stamp

ORDERS = "LATCHWORD_TEST_ORDERS"
GONE_BEFORE = "LATCHWORD_TEST_GONE_MS"
UNBOUND = "LATCHWORD_TEST_UNBOUND"
STARTED_MS = 1_795_557_003_412  # 2026-11-24T21:50:03.412Z


class ToldClock:
    """Wall and boot time, moved by `go` alone."""

    def __init__(self, gone_ms: int) -> None:
        self._gone = gone_ms

    def go(self, ms: int) -> None:
        """Lets time pass."""
        self._gone += ms

    def stamp(self) -> Stamp:
        """The moment that was told."""
        return Stamp(STARTED_MS + self._gone, 5_000 + self._gone, "terminal-tests")


def own_terminal() -> None:
    """Makes standard input the terminal that this process is bound to, as a login would."""
    if sys.platform != "win32":
        import fcntl
        import termios

        fcntl.ioctl(0, termios.TIOCSCTTY, 0)


def fail(module: str, name: str) -> None:
    """Puts a fault in the place of a function, or of a method (`Class.name`)."""

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("broken for a test")

    *of, last = name.split(".")
    place: object = importlib.import_module(module)
    for part in of:
        place = getattr(place, part)
    setattr(place, last, broken)


def obey(orders: socket.socket, clock: ToldClock) -> None:
    """Gives the program the clock, and does what the test orders while it runs."""
    from runner.commands import running
    from runner.host.run import Run

    runs: list[Run] = []
    begin = Run.start_bell

    def noted(run: Run) -> None:
        runs.append(run)
        begin(run)

    def work() -> None:
        with orders.makefile("rw", encoding="ascii") as lines:
            for line in lines:
                order, *rest = line.split()
                if order == "fail":
                    fail(*rest)
                else:
                    clock.go(int(rest[0]))
                for run in runs:
                    run.run_due(run.now())
                lines.write("ok\n")
                lines.flush()

    setattr(Run, "start_bell", noted)  # noqa: B010
    setattr(running, "SystemClock", lambda: clock)  # noqa: B010
    threading.Thread(target=work, daemon=True).start()


if __name__ == "__main__":
    if UNBOUND not in os.environ:
        own_terminal()
    if ORDERS in os.environ:
        inherited = socket.socket(fileno=int(os.environ[ORDERS]))
        obey(inherited, ToldClock(int(os.environ.get(GONE_BEFORE, "0"))))
    from runner.cli import main

    main()
