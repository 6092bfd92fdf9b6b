"""How long the proof of both types takes: `python tests/bench/proving.py`.

Rules: as in `run.py`: every figure is printed, the exit code is 1 if a target is missed, nothing of
it is part of the tests. Each type is proven as a command with two processes: at most 120 s and,
with its processes, 1 GB; beside it the processor's time, which hangs less on what else is done.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
MOST_SECONDS, MOST_BYTES, PROCESSES = 120, 10**9, 2


def proven(name: str) -> tuple[int, float, float, int]:
    """Exit code, seconds by the clock and by the processor, bytes of all its processes at most."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.perf_counter()
    words = ("prove", str(PROJECT / "flows" / name), "--processes", str(PROCESSES))
    code = "import sys; from runner.cli import main; sys.argv[0] = 'latchword'; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, *words], cwd=PROJECT, stdout=subprocess.DEVNULL, check=False
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    # The largest of them stands for each: more than they can hold together.
    return (
        done.returncode,
        time.perf_counter() - begun,
        spent,
        after.ru_maxrss * 1024 * (PROCESSES + 1),
    )


def measured() -> int:
    """Prints each figure beside its target; 1 if one is missed."""
    missed = 0
    for name in ("corvane_c4", "tern_t2"):
        code, seconds, spent, size = proven(name)
        missed |= code != 0 or seconds > MOST_SECONDS or size > MOST_BYTES
        print(f"{name}: exit {code}, {seconds:.0f} s of at most {MOST_SECONDS}, processor "
              f"{spent:.0f} s, {size / 1e6:.0f} MB of at most {MOST_BYTES / 1e6:.0f}")  # fmt: skip
    return missed


if __name__ == "__main__":
    sys.exit(measured())
