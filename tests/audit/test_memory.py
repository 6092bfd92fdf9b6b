"""The memory of a process that writes a log: where its one-time keys are, and where not.

A key's 32 bytes (the seed of RFC 8032, section 5.1.5) are in it for as long as a line of that key
may come, and one line ahead; before and after they are nowhere, at no byte of what can be written.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from audit.canonical import base64_bytes
from audit.line import Line, parse

ROOT = Path(__file__).resolve().parents[2]
CHILD = Path(__file__).with_name("memory_child.py")
SEEDS = [os.urandom(32) for _ in range(40)]

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="a process's memory is not read like that there"
)


class Memory:
    """What a process could write to, read from outside. Opened while that is still allowed: a
    writer forbids it afterwards to everybody but root."""

    def __init__(self, pid: int) -> None:
        try:
            self._maps = Path(f"/proc/{pid}/maps").open("rb")  # noqa: SIM115
            self._mem = Path(f"/proc/{pid}/mem").open("rb", buffering=0)  # noqa: SIM115
        except OSError as error:
            pytest.skip(f"the memory of another process cannot be read here: {error}")

    def close(self) -> None:
        self._maps.close()
        self._mem.close()

    def regions(self) -> Iterator[bytes]:
        """The content of every region that can be written."""
        for row in self._rows():
            place, rights, *_ = row.split()
            if not rights.startswith("rw"):
                continue
            start, end = (int(part, 16) for part in place.split("-"))
            try:
                self._mem.seek(start)
                yield self._read(end - start)
            except OSError:
                # given back meanwhile, as the stack of a thread that ended; else it is unreadable
                assert row not in self._rows(), row

    def _rows(self) -> list[str]:
        self._maps.seek(0)
        return self._maps.read().decode().splitlines()

    def _read(self, length: int) -> bytes:
        parts = []
        while length:
            part = self._mem.read(min(length, 1 << 24))
            if not part:
                break
            parts.append(part)
            length -= len(part)
        return b"".join(parts)


Look = Callable[[str, Memory, list[Line]], None]


def walk(folder: Path, mode: str, look: Look) -> list[str]:
    """Runs the child, and looks at each of its stops; their names."""
    ours, theirs = os.pipe()
    os.write(theirs, b"".join(SEEDS))
    os.close(theirs)
    process = subprocess.Popen(
        [sys.executable, str(CHILD), str(folder), str(ours), mode],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)}, pass_fds=(ours,), bufsize=0,
    )  # fmt: skip
    os.close(ours)
    stops: list[str] = []
    memory: Memory | None = None
    with process:
        try:
            assert process.stdin is not None
            assert process.stdout is not None
            while said := process.stdout.readline():
                stops.append(said.decode().removeprefix("STOP ").rstrip("\n"))
                if memory is None:
                    memory = Memory(process.pid)
                look(stops[-1], memory, lines_in(folder))
                process.stdin.write(b".")
            assert process.stderr is not None
            assert (process.wait(), process.stderr.read()) == (0, b"")
        finally:
            process.kill()
            if memory is not None:
                memory.close()
    return stops


def lines_in(folder: Path) -> list[Line]:
    return [
        parse(row) for log in folder.glob("*.jsonl") for row in log.read_bytes().splitlines(True)
    ]


def public(seed: bytes) -> bytes:
    return Ed25519PrivateKey.from_private_bytes(seed).public_key().public_bytes_raw()


PUBLIC = [public(seed) for seed in SEEDS]
STOPS = ["ready", "opened", "event 9", "event 19", "left", "resumed", "closing", "closed"]


def found_in(memory: Memory, seeds: list[bytes]) -> set[int]:
    """The numbers of the seeds of which the middle half is somewhere."""
    return {
        number
        for region in memory.regions()
        for number, seed in enumerate(seeds)
        if seed[8:24] in region
    }


def settled(memory: Memory, allowed: set[int]) -> set[int]:
    """What is found when the thread that makes keys has come to rest: a copy that stays is found
    each time, a key that it is about to let go of is not."""
    for _ in range(20):
        found = found_in(memory, SEEDS)
        if found <= allowed:
            break
    return found


def following(lines: list[Line]) -> int | None:
    """The number of the key that must sign the next line; `None` where there is none."""
    if not lines or not lines[-1].next:
        return None
    return PUBLIC.index(base64_bytes(lines[-1].next))


def test_a_key_is_in_memory_until_its_line_and_one_line_ahead(tmp_path: Path) -> None:
    seen: list[tuple[str, list[int]]] = []

    def look(stop: str, memory: Memory, lines: list[Line]) -> None:
        due = following(lines)
        # nothing: before the run, while no writer holds it, and after its last line
        none = due is None or stop == "left"
        allowed = set() if none or due is None else {due, due + 1}
        found = settled(memory, allowed)
        seen.append((stop, sorted(found)))
        assert found <= allowed, seen
        # the key that is due must be found, or this looks in the wrong place
        assert none or due in found, seen

    assert walk(tmp_path / "logs", "as it is", look) == STOPS
    # the key made ahead was there at one stop at least: what may be there is no more than is there
    assert any(len(found) == 2 for _, found in seen), seen


def test_a_key_that_somebody_keeps_is_found(tmp_path: Path) -> None:
    """The control: the sixth key is kept alive, and must be seen at every stop after its line."""
    seen: list[tuple[str, bool]] = []

    def look(stop: str, memory: Memory, lines: list[Line]) -> None:
        seen.append((stop, bool(found_in(memory, [SEEDS[5]]))))

    walk(tmp_path / "logs", "keeps one", look)
    assert seen == [(stop, stop not in ("ready", "opened")) for stop in STOPS], seen


def candidates(memory: Memory) -> Iterator[bytes]:
    """Every 32 bytes, at each eighth byte, that could be a random number."""
    seen: set[bytes] = set()
    for region in memory.regions():
        for at in range(0, len(region) - 31, 8):
            # 32 random bytes have 30 different ones; fewer than 20 come once in 10^12
            piece = region[at : at + 32]
            if piece not in seen and len(set(piece)) >= 20:
                seen.add(piece)
                yield piece


@pytest.mark.long
def test_keys_that_the_library_makes_itself_are_nowhere_either(tmp_path: Path) -> None:
    """Nothing is replaced: whatever in memory could be a key is tried against the log's keys."""
    left: list[str] = []

    def look(stop: str, memory: Memory, lines: list[Line]) -> None:
        if stop not in ("event 19", "closed"):
            return
        numbers = {base64_bytes(line.next): line.seq + 1 for line in lines if line.next}
        found = {numbers[key] for key in map(public, candidates(memory)) if key in numbers}
        left.append(f"{stop}: {sorted(found)}")
        assert found == ({len(lines)} if stop == "event 19" else set()), left

    assert walk(tmp_path / "logs", "makes its own", look) == STOPS
    assert len(left) == 2
