"""A real sound device for tests: a sound server of our own with a virtual microphone.

Rules: PulseAudio runs for the tests alone, with its own runtime folder and configuration, and ends
with them; whatever is played into its null sink is what the microphone (its monitor) hears, and
PortAudio sees it as device `pulse`; nothing sleeps: what must have happened is asked for until it
has, and a wait that would never end fails and says for what. Without the Debian packages
`pulseaudio`, `pulseaudio-utils` and `libasound2-plugins` such tests are skipped and say so.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

WITHIN = 30.0
"""Seconds after which a condition that has not come never will."""
SINK = "ear"


def missing() -> str:
    """What a machine lacks for this; empty where all is there."""
    lacking = [name for name in ("pulseaudio", "pactl", "paplay") if shutil.which(name) is None]
    if lacking:
        return f"{', '.join(lacking)} missing: apt-get install pulseaudio pulseaudio-utils"
    if not any(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        return "ALSA does not know PulseAudio: apt-get install libasound2-plugins"
    try:
        import sounddevice  # noqa: F401
    except (ImportError, OSError) as fault:
        return f"no PortAudio ({fault}): apt-get install libportaudio2"
    return ""


def until(condition: Callable[[], object], what: str) -> None:
    """Waits for a condition, asking it often; fails after a time in which it must have come."""
    end = time.monotonic() + WITHIN
    pause = 0.002
    while not condition():
        if time.monotonic() > end:
            raise AssertionError(f"waited in vain for {what}")
        time.sleep(pause)
        pause = min(pause * 2, 0.05)


class VirtualMicrophone:
    """The sound server, and the device in it that may be there or not."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.environment = {
            **os.environ,
            "HOME": str(folder),
            "XDG_RUNTIME_DIR": str(folder),
            "XDG_CONFIG_HOME": str(folder / "config"),
            "PULSE_RUNTIME_PATH": str(folder / "pulse"),
            "PULSE_STATE_PATH": str(folder / "state"),
            "PULSE_SERVER": f"unix:{folder}/pulse/native",
        }
        self._server: subprocess.Popen[bytes] | None = None
        self._module = ""

    def start(self) -> None:
        """Runs the server and plugs the device in."""
        (self.folder / "pulse").mkdir(mode=0o700)
        command = [
            "pulseaudio", "-n", "-F", "/dev/null", "--daemonize=no", "--exit-idle-time=-1",
            "--use-pid-file=no", "--disable-shm=yes", "-L",
            f"module-native-protocol-unix auth-anonymous=1 socket={self.folder}/pulse/native",
        ]  # fmt: skip
        self._server = subprocess.Popen(
            command, env=self.environment, stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        until(lambda: self._control("info", check=False).returncode == 0, "the sound server")
        self.plug_in()

    def plug_in(self) -> None:
        """The device appears, if it is not there."""
        if self._module:
            return
        made = self._control(
            "load-module", "module-null-sink", f"sink_name={SINK}", "rate=48000", "channels=1"
        )
        self._module = made.stdout.strip()
        self._control("set-default-sink", SINK)
        self._control("set-default-source", f"{SINK}.monitor")

    def unplug(self) -> None:
        """The device vanishes, whoever uses it."""
        self._control("unload-module", self._module)
        self._module = ""

    def here(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """The sound of this process and of those that it starts goes to this server."""
        for name in ("XDG_RUNTIME_DIR", "PULSE_RUNTIME_PATH", "PULSE_STATE_PATH", "PULSE_SERVER"):
            monkeypatch.setenv(name, self.environment[name])

    @contextmanager
    def playing(self, path: Path) -> Iterator[subprocess.Popen[bytes]]:
        """A sound file is played into the device, and stops when the block ends."""
        player = subprocess.Popen(
            ["paplay", "--latency-msec=50", f"--device={SINK}", str(path)], env=self.environment,
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            yield player
        finally:
            player.kill()
            player.wait()

    def sounds(self) -> int:
        """How many sounds are being played into the device now, by whomever."""
        return len(self._control("list", "short", "sink-inputs").stdout.splitlines())

    def end(self) -> None:
        """The server ends."""
        if self._server is not None:
            self._server.terminate()
            self._server.wait(WITHIN)

    def _control(self, *words: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["pactl", *words], env=self.environment, capture_output=True, text=True,
            encoding="utf-8", check=check, timeout=WITHIN,
        )  # fmt: skip


@contextmanager
def virtual_microphone() -> Iterator[VirtualMicrophone]:
    """A server with its device; `here` makes this process's PortAudio find it."""
    # Short: the path of a socket holds a hundred characters only.
    with tempfile.TemporaryDirectory(prefix="lw-") as name:
        folder = Path(name)
        folder.chmod(0o700)
        device = VirtualMicrophone(folder)
        try:
            device.start()
            yield device
        finally:
            device.end()
