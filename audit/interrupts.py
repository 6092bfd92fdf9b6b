"""Ctrl-C while logs are verified: when it is taken, and by which process.

Rules: it is taken where nothing is half done, and by the process that a person speaks to alone; one
that comes elsewhere is remembered until such a place, or the end; the second is never made to wait.
"""

import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any, Self

_Handler = Callable[[int, FrameType | None], Any] | int | None


class Interrupts:
    """Ctrl-C, taken inside `with interrupts.heard():` only.

    Where it is ignored, or in a thread, where none arrives, nothing is changed.
    """

    def __init__(self) -> None:
        self._asked = False
        self._listening = False
        self._before: _Handler = None

    def __enter__(self) -> Self:
        if threading.current_thread() is threading.main_thread():
            before = signal.getsignal(signal.SIGINT)
            if callable(before):
                self._before = signal.signal(signal.SIGINT, self._arrives)
        return self

    def __exit__(self, kind: object, *_: object) -> None:
        if callable(self._before):
            signal.signal(signal.SIGINT, self._before)
        if self._asked and kind is None:
            raise KeyboardInterrupt

    def _arrives(self, number: int, frame: FrameType | None) -> None:
        twice, self._asked = self._asked, True
        if twice or self._listening:
            raise KeyboardInterrupt

    @contextmanager
    def heard(self) -> Iterator[None]:
        """A place where Ctrl-C, now or since the last such place, raises `KeyboardInterrupt`."""
        self._listening = True
        try:
            if self._asked:
                raise KeyboardInterrupt
            yield
        finally:
            self._listening = False


@contextmanager
def deaf() -> Iterator[None]:
    """While processes are started: what they inherit is that Ctrl-C, which a terminal sends to all
    of them, is none of their business. One that comes meanwhile comes here afterwards."""
    if sys.platform == "win32":
        yield
    else:
        from multiprocessing import resource_tracker

        # it is started with the first process, and would let the signal through again
        resource_tracker.ensure_running()
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            yield
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
