"""What the parts of the measurements share: a figure, its rank, and where a child runs."""

from __future__ import annotations

import os
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
