"""The command, called in this process or as one of its own, and an aircraft enrolled for it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from audit.people import load_signer, new_key
from audit.trust import trust_key
from runner import cli
from runner.host import places

ROOT = Path(__file__).resolve().parents[3]
DATA = ROOT / "tests" / "data"


@dataclass(frozen=True, slots=True)
class Said:
    """What a command said, and its exit code."""

    code: int
    out: str
    err: str

    @property
    def lines(self) -> list[str]:
        return self.out.splitlines()


Command = Callable[..., Said]


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """Calls the command in this process; no traceback may ever be among what it says."""

    def call(*words: object) -> Said:
        capsys.readouterr()
        monkeypatch.setattr(sys, "argv", ["latchword", *map(str, words)])
        code = cli._main()
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        assert code in (0, 1, 2, 3, 4, 75, 130)
        assert "a fault of the program" not in err
        return Said(code, out, err)

    return call


@pytest.fixture
def process() -> Command:
    """Calls the command in a process of its own."""

    def call(*words: object) -> Said:
        done = subprocess.run(
            [sys.executable, "-m", "runner.cli", *map(str, words)], stdin=subprocess.DEVNULL,
            capture_output=True, env={**os.environ, "PYTHONPATH": str(ROOT)}, check=False,
        )  # fmt: skip
        out, err = done.stdout.decode(), done.stderr.decode()
        assert "Traceback" not in out + err
        assert "Exception ignored" not in err
        return Said(done.returncode, out, err)

    return call


APPROVER = "Nora Vale"


@pytest.fixture
def approver(tmp_path: Path) -> Path:
    """The key file of a standards pilot whom this machine trusts to approve documents."""
    key = new_key(APPROVER, None, tmp_path / "desk")
    trust_key(places.trust_file(), APPROVER, load_signer(key, None).public_line)
    return key


@pytest.fixture
def approved(command: Command, approver: Path, tmp_path: Path) -> Callable[[str], Path]:
    """Copies an aircraft of the test data and has it approved, as a real run wants it."""

    def copy(name: str) -> Path:
        folder = shutil.copytree(DATA / name, tmp_path / "aircraft" / name)
        assert command("approve", folder, "--key", approver).code == 0
        return folder

    return copy


@pytest.fixture
def tiny(command: Command, approved: Callable[[str], Path]) -> str:
    """The registration of the tiny aircraft, approved and enrolled."""
    folder = approved("tiny")
    assert command("enrol", folder, "--registration", "tv-t1", "--fit", "hook").code == 0
    return "TV-T1"


@pytest.fixture
def short(command: Command, approved: Callable[[str], Path]) -> str:
    """The registration of the aircraft with the shortest day, approved and enrolled."""
    assert command("enrol", approved("short"), "--registration", "TV-T2").code == 0
    return "TV-T2"


@pytest.fixture
def script(tmp_path: Path) -> Callable[..., Path]:
    """Writes a script."""

    def write(*lines: str, name: str = "answers.txt") -> Path:
        path = tmp_path / name
        path.write_text("\n".join(lines) + "\n", "utf-8")
        return path

    return write


def logs(registration: str) -> Path:
    """The log folder of an enrolled aircraft."""
    return places.state() / "logs" / registration
