"""The power fails in mid-run: every acknowledged line is on the disk, and the run goes on.

Each cut is the disk as it was at one moment while the writer went on (`power_cut.py`). The control
is the same writer without its sync: it must lose acknowledged lines, or these tests could not tell
a log that is kept from one that is not. A few cuts each time, many in the long tier.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from audit.errors import AuditError
from audit.folder import LogFolder
from tests.audit.acknowledged import Acknowledged, Life, finish, lost, must_hold
from tests.audit.power_cut import Disk, after_power_returned, missing


def cuts(
    place: Path, seed: int, times: int, options: str, *ways: str
) -> Iterator[tuple[Path, Acknowledged]]:
    """The power cut so many times in one life: the logs found then, and what was acknowledged."""
    chance = random.Random(seed)
    image = place / "copy.img"
    with Disk.made(place, options) as disk:
        life = Life(disk.path / "logs", seed, *ways)
        try:
            for number in range(times):
                life.listen(chance.randint(1, 40))
                acknowledged = life.acknowledged()
                disk.cut(image)
                assert life.is_at_work()
                with after_power_returned(image, place / f"after-{number}") as found:
                    yield found / "logs", acknowledged
                image.unlink()
        finally:
            life.kill()


def kept(place: Path, seed: int, times: int, options: str, *ways: str) -> Counter[str]:
    """Cuts of the writer as it is; how often which state was found."""
    place.mkdir()
    states: Counter[str] = Counter()
    for logs, acknowledged in cuts(place, seed, times, options, "kept", *ways):
        states[must_hold(logs, acknowledged)] += 1
    assert states.total() == times
    return states


def unkept(place: Path, seed: int, times: int, options: str, *ways: str) -> int:
    """Cuts of the control; how many acknowledged lines are gone.

    What such a disk holds is resumed or refused, by an error of ours and no other.
    """
    place.mkdir()
    gone = 0
    for logs, acknowledged in cuts(place, seed, times, options, "unkept", *ways):
        gone += len(lost(logs, acknowledged))
        with suppress(AuditError), LogFolder.open(logs) as folder:
            finish(folder)
    return gone


needs_power = pytest.mark.skipif(bool(missing()), reason=f"the power cannot be cut: {missing()}")

CASES = {
    "as machines mount it": ("data=ordered",),
    "while somebody else syncs": ("data=ordered", "neighbour"),
    "while lengths go before contents": ("data=ordered,nodelalloc", "neighbour"),
    "while names go before contents": ("data=writeback,nodelalloc", "neighbour"),
}
UNABLE = "the control lost nothing: these cuts cannot tell a kept log from another"


@needs_power
def test_no_acknowledged_line_is_lost_when_the_power_fails(tmp_path: Path) -> None:
    kept(tmp_path / "kept", 1, 3, *CASES["while somebody else syncs"])


@needs_power
def test_without_its_sync_the_writer_loses_lines_when_the_power_fails(tmp_path: Path) -> None:
    assert unkept(tmp_path / "unkept", 1, 2, *CASES["as machines mount it"]) > 0, UNABLE


@pytest.mark.long
@needs_power
@pytest.mark.parametrize("case", CASES)
def test_many_cuts_and_their_control(
    case: str, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    states = kept(tmp_path / "kept", 21, 10, *CASES[case])
    gone = unkept(tmp_path / "unkept", 21, 5, *CASES[case])
    assert gone > 0, UNABLE
    record_property("power cuts", states.total())
    record_property("power cuts of the control", 5)
    record_property("acknowledged lines lost by the control", gone)
