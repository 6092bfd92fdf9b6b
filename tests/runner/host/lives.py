"""Lives of the whole program in processes of their own, what they said, and what the log must then
hold: every acknowledged answer once, in the order in which it was said."""

from __future__ import annotations

import os
import select
import subprocess
import sys
from pathlib import Path

from audit.trust import Trust, trust_key
from audit.verify import verify
from runner.host.replay import replayed
from tests.runner.host.support import lines_of

ROOT = Path(__file__).resolve().parents[3]
DRIVER = Path(__file__).with_name("driver.py")


class Life:
    """One process that works the run, and what it said."""

    def __init__(self, mode: str, folder: Path, number: int, *more: int) -> None:
        self.said = b""
        self._process = subprocess.Popen(
            [sys.executable, str(DRIVER), mode, str(folder), str(number), *map(str, more)],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip

    def listen(self, until: int, seconds: float | None) -> None:
        """Hears it until it has said so many lines, or for so long."""
        stream = self._process.stdout
        if stream is None:
            raise AssertionError("no pipe")
        while self.said.count(b"\n") < until:
            ready, _, _ = select.select([stream], [], [], seconds)
            if not ready:
                return
            got = os.read(stream.fileno(), 4096)
            if not got:
                return
            self.said += got

    def is_at_work(self) -> bool:
        return self._process.poll() is None

    def kill(self) -> None:
        """End it without a warning."""
        self._process.kill()
        self.end()

    def end(self) -> tuple[int, str]:
        rest, errors = self._process.communicate(timeout=120)
        self.said += rest
        return self._process.returncode, errors.decode()

    @property
    def lines(self) -> list[str]:
        return self.said.decode().split("\n")[:-1]


def take(life: Life, told: list[tuple[str, bool]], acknowledged: dict[int, str]) -> int:
    """Add what a life said, each with whether it was acknowledged, and the heads of the lines that
    were; how many things it said."""
    said = 0
    for line in life.lines:
        kind, _, rest = line.partition(" ")
        if kind == "S":
            told.append((rest, False))
            said += 1
        elif kind == "A":
            seq, head = rest.split(" ")
            acknowledged[int(seq)] = head
            told[-1] = (told[-1][0], True)
    return said


def must_hold(folder: Path, told: list[tuple[str, bool]], acknowledged: dict[int, str]) -> Path:
    """Nothing acknowledged is lost, nothing stands twice; the log in which this was seen."""
    (log,) = folder.glob("*.jsonl")
    whole = log.read_bytes()
    whole = whole[: whole.rfind(b"\n") + 1]
    (folder.parent / "whole.jsonl").write_bytes(whole)
    lines = list(lines_of(folder.parent / "whole.jsonl"))
    for seq, head in acknowledged.items():
        assert lines[seq].head == head
    heard = [line.data["heard"] for line in lines if "heard" in line.data]
    # In the order in which they were said; what was not acknowledged stands once, or not. The same
    # words may have been said again after a kill, so every way to read the log is followed.
    places = {0}
    for text, sure in told:
        taken = {at + 1 for at in places if at < len(heard) and heard[at] == text}
        places = taken if sure else places | taken
        assert places, text
    assert len(heard) in places
    notes = [text for text in heard if text.startswith("snag note")]
    assert len(notes) == len(set(notes))
    return log


def to_the_end(
    folder: Path, number: int, told: list[tuple[str, bool]], acknowledged: dict[int, str]
) -> None:
    """A last life brings the day to its end; the log is then closed, and replays as it says."""
    life = Life("finish", folder, number)
    code, errors = life.end()
    assert (code, errors) == (0, ""), errors
    take(life, told, acknowledged)
    assert life.lines[-1] == "C "
    log = must_hold(folder, told, acknowledged)
    trusted = folder.parent / "allowed"
    for public in (folder.parent / "keys").glob("*.pub"):
        text = public.read_text("utf-8").strip()
        trust_key(trusted, text.split(" ", 2)[2], text)
    verdict = verify(log, level="replayed", trust=Trust.read(trusted), replay=replayed())
    assert (verdict.result, verdict.level) == ("closed", "replayed"), verdict.text(str(log))
    assert verdict.counts(frozenset())
