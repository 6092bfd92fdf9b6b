"""Sleep and a blank screen are held off while a run is worked, where the system lets us.

Rules: nothing here may delay or fail a run, so that all of it happens on a thread of its own, after
the first screen has had `AFTER_S` to stand; what holds the system awake ends with this process,
also where that is killed (its input ends, or it watches for our end); it hears no signal of our
terminal, draws on no screen and asks for no password; what could not be held is not said in flight:
`latchword doctor` says it before.

Sources: systemd-inhibit(1), and elogind-inhibit(1) where there is no systemd; caffeinate(8) and
gnome-session-inhibit(1) from memory; SetThreadExecutionState of the Win32 documentation, whose
state is that of the thread that asked, and ends with it.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import subprocess

AFTER_S = 1.0
"""No system is set to sleep within a second, and the first screen stands by then."""
PATIENCE_S = 1.0
"""How long a child that was told to end may take before it is ended."""
PROBE_S = 3.0
_WHY = "a checklist is being worked"
_LOGIND = ("--what=idle:sleep", "--who=latchword", f"--why={_WHY}", "--mode=block")
_GNOME = ("--app-id", "latchword", "--reason", _WHY, "--inhibit", "idle:suspend")
_CONTINUOUS, _SYSTEM, _DISPLAY = 0x8000_0000, 0x1, 0x2


def ways(environment: Mapping[str, str], system: str = sys.platform) -> tuple[tuple[str, ...], ...]:
    """The commands that hold this system awake for as long as a command behind them runs, those
    alone that are there; on macOS and Windows without one."""
    # Late: what it draws in with it is a tenth of what comes before the first screen.
    import shutil

    found: list[tuple[str, ...]] = []
    if system == "darwin":
        found = [("caffeinate", "-dis")]
    elif system == "linux":
        login = "systemd-inhibit" if shutil.which("systemd-inhibit") else "elogind-inhibit"
        found = [(login, *_LOGIND)]
        # This desktop blanks the screen by its own clock, whatever the login manager is told.
        if "GNOME" in environment.get("XDG_CURRENT_DESKTOP", "").upper().split(":"):
            found.append(("gnome-session-inhibit", *_GNOME))
    return tuple((path, *rest) for name, *rest in found if (path := shutil.which(name)) is not None)


class Wakefulness:
    """Holds sleep off while used as a context. `environment` is that of the run."""

    def __init__(
        self, environment: Mapping[str, str], system: str = sys.platform, after_s: float = AFTER_S
    ) -> None:
        self._environment, self._system, self._after_s = environment, system, after_s
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, name="wakefulness", daemon=True)

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join(timeout=4 * PATIENCE_S)

    def _work(self) -> None:
        if self._stop.wait(self._after_s):
            return
        if self._system == "win32":
            with contextlib.suppress(Exception):
                _ask_windows(_CONTINUOUS | _SYSTEM | _DISPLAY)
            self._stop.wait()
            with contextlib.suppress(Exception):
                _ask_windows(_CONTINUOUS)
            return
        children = [
            child
            for way in ways(self._environment, self._system)
            if (child := _start(way, self._environment, self._system)) is not None
        ]
        self._stop.wait()
        for child in children:
            _end(child)


def can(environment: Mapping[str, str], system: str = sys.platform) -> str:
    """What holds this system awake, tried for a moment; empty where nothing does."""
    import subprocess

    if system == "win32":
        try:
            asked = _ask_windows(_CONTINUOUS)
        except Exception:
            return ""
        return "the system" if asked else ""
    held = []
    for way in ways(environment, system):
        with contextlib.suppress(OSError, subprocess.SubprocessError):
            done = subprocess.run(
                [*way, "true"], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL, timeout=PROBE_S, check=False, start_new_session=True,
                env=dict(environment),
            )  # fmt: skip
            if done.returncode == 0:
                held.append(os.path.basename(way[0]))
    return ", ".join(held)


def _start(
    way: tuple[str, ...], environment: Mapping[str, str], system: str
) -> subprocess.Popen[bytes] | None:
    import subprocess

    # `cat` reads until our end of the pipe is shut, which the system does for us if we are killed.
    last = ("-w", str(os.getpid())) if system == "darwin" else ("cat",)
    try:
        return subprocess.Popen(
            [*way, *last], stdin=subprocess.PIPE, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL, start_new_session=True, env=dict(environment),
        )  # fmt: skip
    except OSError:
        return None


def _end(child: subprocess.Popen[bytes]) -> None:
    """Ends a child and all it started: by the end of its input, by asking, by force."""
    import subprocess

    if child.stdin is not None:
        with contextlib.suppress(OSError):
            child.stdin.close()
    for force in (False, True):
        _signal(child, force=force)
        with contextlib.suppress(subprocess.TimeoutExpired):
            child.wait(PATIENCE_S)
            return


def _signal(child: subprocess.Popen[bytes], *, force: bool) -> None:
    with contextlib.suppress(OSError):
        if sys.platform == "win32":
            child.kill()
        else:
            import signal

            # It leads a group of its own.
            os.killpg(child.pid, signal.SIGKILL if force else signal.SIGTERM)


def _ask_windows(state: int) -> int:
    import ctypes

    library = getattr(ctypes, "windll").kernel32  # noqa: B009 - there is one on Windows alone
    library.SetThreadExecutionState.restype = ctypes.c_uint32
    return int(library.SetThreadExecutionState(ctypes.c_uint32(state)))
