"""The one-time key after the next, made while the disk is at work.

Rules: `begin` asks for one key, `take` hands it out, once; nobody who asked for none gets one.
A sync leaves the processor idle for longer than a key takes to make, so a thread of its own makes
it then, and no answer waits for it. One line ahead tells a thief of the memory nothing new: with
the key of the next line, which must lie there anyway, every line after it could be written with
keys of the thief's own. No key is exported; what was not taken goes with `stop`.
"""

import threading
import weakref
from queue import SimpleQueue

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

_Made = Ed25519PrivateKey | Exception  # what the thread puts down


class Ahead:
    """Makes one-time keys for one writer. Its thread starts with the first key asked for."""

    def __init__(self) -> None:
        self._wanted: SimpleQueue[bool] = SimpleQueue()
        self._made: SimpleQueue[_Made] = SimpleQueue()
        self._asked = False
        self._thread: threading.Thread | None = None

    def begin(self) -> None:
        """Have a key made from now on; call it right before the processor falls idle."""
        if self._thread is None:
            self._thread = threading.Thread(
                target=_work, args=(self._wanted, self._made), name="next-key", daemon=True
            )
            self._thread.start()
            # a writer that nobody stopped must not leave its thread behind
            weakref.finalize(self, self._wanted.put, False)
        if not self._asked:
            self._asked = True
            self._wanted.put(True)

    def take(self) -> Ed25519PrivateKey:
        """A key that nobody had before: the one begun, else one made now."""
        if not self._asked:
            return Ed25519PrivateKey.generate()
        self._asked = False
        made = self._made.get()
        if isinstance(made, Exception):
            raise made
        return made

    def stop(self) -> None:
        """Forget the key begun, if there is one, and let the thread end."""
        if self._asked:
            self._asked = False
            self._made.get()
        if self._thread is not None:
            self._wanted.put(False)
            self._thread = None


def _work(wanted: SimpleQueue[bool], made: SimpleQueue[_Made]) -> None:
    key: _Made
    while wanted.get():
        try:
            key = Ed25519PrivateKey.generate()
        except Exception as error:  # told to whoever takes it: a thread has nobody to tell
            key = error
        made.put(key)
        del key  # the next wait may be long, and the key is dropped with its line
