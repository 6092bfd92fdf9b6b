"""Nothing of this process's memory onto a disk by way of a crash.

Rules: portable; what a system does not have is left out silently, because it is a second defence:
the first is that keys are never exported and are dropped at once.
"""

import contextlib
import ctypes
import sys

if sys.platform != "win32":
    import resource

_PR_SET_DUMPABLE = 4


def no_core_dumps() -> None:
    """Forbid core dumps of this process and, by inheritance of the limit, of its children."""
    if sys.platform != "win32":
        with contextlib.suppress(OSError, ValueError):
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if sys.platform == "linux":
        # the limit does not bind a collector that the kernel pipes dumps to; this does
        with contextlib.suppress(OSError, AttributeError):
            ctypes.CDLL(None).prctl(_PR_SET_DUMPABLE, 0, 0, 0, 0)
