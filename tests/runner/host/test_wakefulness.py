"""Sleep held off by real child processes, and none of them left behind.

The programs on the path are stand-ins that do as systemd-inhibit(1) says: they run the command
behind their options and end when it ends. Every wait is for the end of a pipe that the stand-in
holds open for as long as it or a child of it lives, or for a line in it.
"""

from __future__ import annotations

import ctypes
import os
import select
import signal
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from runner.host import wakefulness
from runner.host.wakefulness import Wakefulness, can, ways

ROOT = Path(__file__).resolve().parents[3]
PATIENCE_S = 30
unix = pytest.mark.skipif(sys.platform == "win32", reason="no scripts with a first line there")

LOGIND = """\
while case "$1" in --*) true;; *) false;; esac; do shift; done
"$@"
"""
GNOME = """\
while case "$1" in --*) true;; *) false;; esac; do shift; shift; done
"$@"
"""
MAC = """\
[ "$1 $2" = "-dis -w" ] || exit 1
while kill -0 "$3" 2>/dev/null; do sleep 0.05; done
"""


class Programs:
    """Stand-ins on a path of their own; each writes its line to a pipe that it then holds open."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._pipe = folder / "lives"
        os.mkfifo(self._pipe)
        self._read = os.open(self._pipe, os.O_RDONLY | os.O_NONBLOCK)
        self.environment = {"PATH": f"{folder}{os.pathsep}{os.environ['PATH']}"}

    def add(self, name: str, does: str) -> None:
        path = self.folder / name
        path.write_text(
            f'#!/bin/sh\nexec 3>"{self._pipe}"\necho "{name} $*" >&3\n{does}', encoding="utf-8"
        )
        path.chmod(0o700)

    def line(self) -> str:
        """The next line that a program wrote; empty once all have ended."""
        found = b""
        while not found.endswith(b"\n"):
            ready, _, _ = select.select([self._read], [], [], PATIENCE_S)
            assert ready, "no program said anything, and none ended"
            got = os.read(self._read, 1)
            if not got:
                return ""
            found += got
        return found.decode().rstrip()

    def close(self) -> None:
        os.close(self._read)


@pytest.fixture
def programs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):  # type: ignore[no-untyped-def]
    folder = tmp_path / "bin"
    folder.mkdir()
    made = Programs(folder)
    monkeypatch.setenv("PATH", made.environment["PATH"])
    yield made
    made.close()


@unix
def test_the_login_manager_is_told_for_as_long_as_the_run_lasts(programs: Programs) -> None:
    programs.add("systemd-inhibit", LOGIND)
    with Wakefulness(programs.environment, "linux", after_s=0):
        assert programs.line() == (
            "systemd-inhibit --what=idle:sleep --who=latchword --why=a checklist is being worked "
            "--mode=block cat"
        )
    assert programs.line() == ""


@unix
def test_the_desktop_that_blanks_by_itself_is_told_too(programs: Programs) -> None:
    programs.add("systemd-inhibit", LOGIND)
    programs.add("gnome-session-inhibit", GNOME)
    environment = {**programs.environment, "XDG_CURRENT_DESKTOP": "ubuntu:GNOME"}
    with Wakefulness(environment, "linux", after_s=0):
        told = sorted([programs.line(), programs.line()])
        assert [line.split()[0] for line in told] == ["gnome-session-inhibit", "systemd-inhibit"]
        assert told[0].endswith("--inhibit idle:suspend cat")
    assert programs.line() == ""


@unix
def test_macos(programs: Programs) -> None:
    programs.add("caffeinate", MAC)
    with Wakefulness(programs.environment, "darwin", after_s=0):
        assert programs.line() == f"caffeinate -dis -w {os.getpid()}"
    assert programs.line() == ""


@unix
def test_what_does_not_end_by_itself_is_ended(
    programs: Programs, monkeypatch: pytest.MonkeyPatch
) -> None:
    programs.add("systemd-inhibit", "trap '' TERM\nwhile true; do sleep 1000 <&-; done\n")
    monkeypatch.setattr(wakefulness, "PATIENCE_S", 0.1)
    with Wakefulness(programs.environment, "linux", after_s=0):
        assert programs.line().startswith("systemd-inhibit")
    assert programs.line() == ""


@unix
@pytest.mark.parametrize("does", ["exit 1\n", "exec /nowhere\n", "kill -9 $$\n"])
def test_a_program_that_fails_fails_nothing(programs: Programs, does: str) -> None:
    programs.add("systemd-inhibit", does)
    with Wakefulness(programs.environment, "linux", after_s=0):
        assert programs.line().startswith("systemd-inhibit")
        assert programs.line() == ""
    assert can(programs.environment, "linux") == ""


@unix
def test_without_the_program_nothing_is_started(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    (tmp_path / "systemd-inhibit").write_text("not one that can be run", "utf-8")
    for system in ("linux", "darwin", "win32", "plan9"):
        assert ways({}, system) == ()
        assert can({}, system) == ""
        with Wakefulness({}, system, after_s=0):
            pass


@unix
def test_a_run_that_ends_before_the_screen_stood_starts_nothing(programs: Programs) -> None:
    programs.add("systemd-inhibit", LOGIND)
    with Wakefulness(programs.environment, "linux", after_s=1e6):
        pass
    programs.add("first", "")
    subprocess.run([str(programs.folder / "first")], check=True)
    assert programs.line().split() == ["first"]


@unix
@pytest.mark.parametrize(("system", "program", "does"), [
    ("linux", "systemd-inhibit", LOGIND), ("darwin", "caffeinate", MAC),
])  # fmt: skip
def test_no_child_is_left_by_a_run_that_was_killed(
    programs: Programs, system: str, program: str, does: str
) -> None:
    programs.add(program, does)
    code = (
        "import os, threading; from runner.host.wakefulness import Wakefulness\n"
        f"with Wakefulness(dict(os.environ), {system!r}, after_s=0): threading.Event().wait()"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", code], env={**os.environ, "PYTHONPATH": str(ROOT)}
    )
    assert programs.line().startswith(program)
    child.send_signal(signal.SIGKILL)
    child.wait()
    assert programs.line() == ""


@unix
def test_the_doctor_tries_it_for_a_moment(programs: Programs) -> None:
    programs.add("systemd-inhibit", LOGIND)
    assert can(programs.environment, "linux") == "systemd-inhibit"
    assert programs.line().endswith("--mode=block true")
    assert programs.line() == ""


@unix
def test_another_login_manager_does_as_well(
    programs: Programs, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(programs.folder))
    programs.add("elogind-inhibit", LOGIND)
    (way,) = ways({}, "linux")
    assert way[0] == str(programs.folder / "elogind-inhibit")
    programs.add("systemd-inhibit", LOGIND)
    (way,) = ways({}, "linux")
    assert way[0] == str(programs.folder / "systemd-inhibit")


def test_windows_is_asked_and_let_go_by_the_same_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    import threading

    asked: list[tuple[int, int]] = []
    came = threading.Event()

    class Ask:
        restype: object = None

        def __call__(self, state: ctypes.c_uint32) -> int:
            asked.append((state.value, threading.get_ident()))
            came.set()
            return 1

    kernel = SimpleNamespace(SetThreadExecutionState=Ask())
    monkeypatch.setattr(ctypes, "windll", SimpleNamespace(kernel32=kernel), raising=False)
    with Wakefulness({}, "win32", after_s=0):
        assert came.wait(PATIENCE_S)
    # ES_CONTINUOUS, ES_SYSTEM_REQUIRED, ES_DISPLAY_REQUIRED of the Win32 documentation.
    assert [state for state, _ in asked] == [0x80000003, 0x80000000]
    assert len({thread for _, thread in asked}) == 1
    assert asked[0][1] != threading.get_ident()
    assert can({}, "win32") == "the system"
