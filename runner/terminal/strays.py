"""What libraries write past the screen: kept away from it, and printed once it is gone.

Rules: the whole standard error of the process, that of C libraries too (a sound library writes
there when a device is lost), goes to a file of its own for as long as the screen stands; nothing of
it is lost; where it cannot be turned aside the screen stands all the same.
"""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from collections.abc import Iterator


@contextlib.contextmanager
def errors_aside() -> Iterator[None]:
    """Standard error to a file while the screen stands, printed once it is gone."""
    with tempfile.TemporaryFile() as kept:
        try:
            real = os.dup(2)
        except OSError:
            yield
            return
        sys.stderr.flush()
        os.dup2(kept.fileno(), 2)
        try:
            yield
        finally:
            with contextlib.suppress(OSError, ValueError):
                sys.stderr.flush()
            os.dup2(real, 2)
            kept.seek(0)
            said = kept.read()
            with contextlib.suppress(OSError):
                if said:
                    os.write(real, said)
            os.close(real)
