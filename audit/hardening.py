"""Nothing of this process's memory onto a disk by way of a crash.

Rules: portable; what a system does not have is left out silently, because it is a second defence:
the first is that keys are never exported and are dropped at once.
"""

import ctypes
import sys

if sys.platform != "win32":
    import resource

_PR_SET_DUMPABLE = 4


def no_core_dumps() -> None:
    """Forbid core dumps of this process and, by inheritance of the limit, of its children."""
    if sys.platform != "win32":
        try:
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        except (OSError, ValueError):
            pass
    if sys.platform == "linux":
        # the limit does not bind a collector that the kernel pipes dumps to; this does
        try:
            ctypes.CDLL(None).prctl(_PR_SET_DUMPABLE, 0, 0, 0, 0)
        except (OSError, AttributeError):
            pass
