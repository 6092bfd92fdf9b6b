"""How a terminal may end, and what must not end: signals while a shell works.

Rules: Ctrl-C ends nothing; a terminal that hangs up and an order to end are told apart from it and
end the shell, never the run; the handlers that stood before stand again afterwards; only the main
thread may hold them, elsewhere nothing is changed.
"""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Callable, Iterator
from typing import Any

GONE = "the terminal has gone; the run stays open and can be resumed"


@contextlib.contextmanager
def signals(heard: Callable[[bool], None]) -> Iterator[None]:
    """`heard(True)` for a terminal that goes or an order to end, `heard(False)` for Ctrl-C."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before: dict[int, Any] = {}
    for name, gone in (("SIGHUP", True), ("SIGTERM", True), ("SIGINT", False), ("SIGQUIT", False)):
        number = getattr(signal, name, None)
        if number is not None:
            before[number] = signal.signal(number, lambda *_, gone=gone: heard(gone))
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler if handler is not None else signal.SIG_DFL)
