"""The power fails while the program runs: every acknowledged answer is kept, and the day goes on.

The disk is that of `tests/audit/power_cut.py`; the control beside it shows that such cuts can tell.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.audit.power_cut import Disk, after_power_returned, missing
from tests.runner.host.lives import Life, take, to_the_end

pytestmark = pytest.mark.skipif(bool(missing()), reason=f"the power cannot be cut: {missing()}")


def cut(place: Path, seed: int, times: int) -> None:
    """One life in which the power fails so many times; from each, the day is worked to its end."""
    chance = random.Random(seed)
    image = place / "copy.img"
    with Disk.made(place) as disk:
        life = Life("start", disk.path / "logs", 0)
        try:
            for number in range(times):
                life.listen(life.said.count(b"\n") + chance.randint(4, 120), 60)
                told: list[tuple[str, bool]] = []
                acknowledged: dict[int, str] = {}
                take(life, told, acknowledged)
                disk.cut(image)
                assert life.is_at_work()
                # what was said by then may be on the disk; whether it was acknowledged in time,
                # nobody knows
                life.listen(1_000_000, 0)
                later: list[tuple[str, bool]] = []
                said = take(life, later, {})
                told += [(text, False) for text, _ in later[len(told) :]]
                with after_power_returned(image, place / f"after-{number}") as found:
                    to_the_end(found / "logs", said, told, acknowledged)
                image.unlink()
        finally:
            life.kill()


def test_the_power_fails_while_the_program_runs(tmp_path: Path) -> None:
    cut(tmp_path, 1, 1)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(300, 304))
def test_the_power_fails_many_times_while_the_program_runs(
    seed: int, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    cut(tmp_path, seed, 5)
    record_property("power cuts of the program", 5)
