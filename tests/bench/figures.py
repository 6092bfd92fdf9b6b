"""What the measurements share: a figure, its rank, where a child runs, a command of parts."""

from __future__ import annotations

import argparse
import json
import os
import tempfile
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import NamedTuple

PROJECT = Path(__file__).resolve().parents[2]


class Figure(NamedTuple):
    """One line of the result; `target` is empty for a yardstick."""

    name: str
    value: float
    unit: str
    target: str = ""
    holds: bool = True


Part = Callable[[Path, int], Iterable[Figure]]
"""Measures in a folder of its own, with a count of rounds or of things."""


def least(
    work: Callable[[], None], rounds: int, clock: Callable[[], float] = time.perf_counter
) -> float:
    """The time of the least disturbed round, in seconds, as `timeit` counts: work without waits
    can only be slowed down by its neighbours, never sped up."""
    took = []
    for _ in range(rounds):
        began = clock()
        work()
        took.append(clock() - began)
    return min(took)


def at(values: list[float], share: float) -> float:
    """The value below which `share` of the values lie (nearest rank)."""
    ordered: list[float] = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def environment(home: Path) -> dict[str, str]:
    """The environment of a child: folders of its own, the tree, and compiled modules kept.

    An installed program finds its modules compiled; here the first start of a part compiles them.
    """
    kept = {name: text for name, text in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return {
        **kept,
        "HOME": str(home),
        "XDG_STATE_HOME": str(home / "state"),
        "XDG_CONFIG_HOME": str(home / "config"),
        "PYTHONPATH": str(PROJECT),
        "PYTHONPYCACHEPREFIX": str(home / "compiled"),
    }


def measure(parts: Mapping[str, tuple[Part, int]], text: str, terminals: Iterable[str] = ()) -> int:
    """The command: measures the parts asked for, prints a line a figure, or JSON; 1 if a target is
    missed. `text` says what is measured, `terminals` which parts need a pseudo-terminal."""
    parser = argparse.ArgumentParser(description=text.splitlines()[0])
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"of {', '.join(parts)}; all")
    parser.add_argument("--dir", type=Path, help="folder on the file system to measure on")
    parser.add_argument("--json", action="store_true", help="one JSON object a figure")
    asked = parser.parse_args()
    unknown = [name for name in asked.parts if name not in parts]
    if unknown:
        parser.error(f"no part {', '.join(unknown)}; there are {', '.join(parts)}")
    if os.name == "nt" and set(terminals) & set(asked.parts or parts):
        parser.error(f"{', '.join(terminals)} need a pseudo-terminal, which this system lacks")
    good = True
    for name in asked.parts or parts:
        part, count = parts[name]
        with tempfile.TemporaryDirectory(prefix="latchword-bench-", dir=asked.dir) as folder:
            for figure in part(Path(folder), count):
                good = good and figure.holds
                if asked.json:
                    print(json.dumps(figure._asdict()), flush=True)
                    continue
                verdict = f"{figure.target}: {'holds' if figure.holds else 'MISSED'}"
                print(
                    f"{figure.name:<42} {figure.value:>12,.2f} {figure.unit:<9}"
                    f"{verdict if figure.target else ''}".rstrip(),
                    flush=True,
                )
    return 0 if good else 1
