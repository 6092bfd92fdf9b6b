"""The writer killed at any moment: nothing acknowledged is lost or doubled, and the run goes on.

Each life resumes what the one before left open, so that it is killed in reading, in moving a torn
piece aside, in `resume`, `close` and the signatures too.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.audit.acknowledged import Acknowledged, Life, lost, must_hold

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL on this system")


def killed(logs: Path, seed: int, times: int) -> int:
    """One folder whose writer is killed so many times; how many lines were acknowledged."""
    chance = random.Random(seed)
    acknowledged: Acknowledged = {}
    for number in range(times):
        life = Life(logs, 1_000 * seed + number, "kept")
        if chance.random() < 0.3:
            # in the midst of reading what is there, or of the first line after it
            life.listen(1, chance.uniform(0.1, 0.5))
        else:
            life.listen(chance.randint(1, 60))
        told = life.kill()
        assert not told.keys() & acknowledged.keys(), "one number was given to two lines"
        acknowledged |= told
        assert lost(logs, acknowledged) == []
    must_hold(logs, acknowledged)
    return len(acknowledged)


@pytest.mark.parametrize("seed", [1, 2])
def test_no_acknowledged_line_is_lost_by_a_kill(seed: int, tmp_path: Path) -> None:
    assert killed(tmp_path / "logs", seed, 5) > 20


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 115))
def test_three_hundred_kills_of_the_writer(
    seed: int, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    acknowledged = killed(tmp_path / "logs", seed, 20)
    assert acknowledged > 200
    record_property("kills of the writer", 20)
    record_property("lines acknowledged before kills", acknowledged)
