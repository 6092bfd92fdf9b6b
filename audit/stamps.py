"""The time of a line, given by the caller.

Rules: this package never reads a clock; wall time is UTC in whole milliseconds since 1970 and is
spelled one way only, `2026-11-24T21:50:03.412Z`; boot time is milliseconds since the machine's
start and is compared only inside one `boot`.
"""

import re
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import NamedTuple

from audit.errors import Fault

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MILLISECOND = timedelta(milliseconds=1)
_WALL = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{3}Z")
_BOOT = re.compile(r"[A-Za-z0-9-]{1,64}")
LAST_WALL_MS = 253_402_300_799_999
LARGEST_INTEGER = 2**53 - 1


class Stamp(NamedTuple):
    """When something was written.

    wall_ms: UTC, milliseconds since 1970-01-01, 0 to the end of the year 9999.
    mono_ms: milliseconds on a clock that never goes back inside one `boot`, 0 to 2^53 - 1.
    boot: names the machine's start, 1 to 64 of letters, digits and hyphens.
    """

    wall_ms: int
    mono_ms: int
    boot: str


def check_stamp(stamp: Stamp) -> None:
    """Raise `Fault("stamp")` unless every field is inside its range."""
    if type(stamp.wall_ms) is not int or not 0 <= stamp.wall_ms <= LAST_WALL_MS:
        raise Fault("stamp", f"wall time {stamp.wall_ms!r} is not milliseconds from 1970 to 9999")
    if type(stamp.mono_ms) is not int or not 0 <= stamp.mono_ms <= LARGEST_INTEGER:
        raise Fault("stamp", f"boot time {stamp.mono_ms!r} is not whole milliseconds below 2^53")
    if type(stamp.boot) is not str or not _BOOT.fullmatch(stamp.boot):
        raise Fault("stamp", f"boot {stamp.boot!r} is not 1 to 64 letters, digits or hyphens")


def wall_text(wall_ms: int) -> str:
    """`2026-11-24T21:50:03.412Z` for milliseconds since 1970 (UTC)."""
    seconds, milliseconds = divmod(wall_ms, 1000)
    return f"{_second_text(seconds)}.{milliseconds:03d}Z"


@lru_cache(maxsize=64)  # the lines of one event, and of a busy second, share it
def _second_text(seconds: int) -> str:
    return (_EPOCH + timedelta(seconds=seconds)).replace(tzinfo=None).isoformat()


def parse_wall(text: str) -> int:
    """Milliseconds since 1970 of the one spelling of a wall time.

    Raises `Fault("stamp")` for any other spelling and for dates that do not exist.
    """
    if len(text) != 24 or not _WALL.fullmatch(text):
        raise Fault("stamp", "wall time is not spelled YYYY-MM-DDThh:mm:ss.mmmZ")
    second = int(text[17:19])
    try:
        if second > 59:
            raise ValueError
        minute_ms = _minute_ms(text[:16])
    except ValueError:
        raise Fault("stamp", f"wall time {text} does not exist") from None
    if minute_ms < 0:
        raise Fault("stamp", f"wall time {text} is before 1970")
    return minute_ms + second * 1000 + int(text[20:23])


@lru_cache(maxsize=64)  # the lines of a busy minute share it
def _minute_ms(text: str) -> int:
    return (datetime.fromisoformat(text + "Z") - _EPOCH) // _MILLISECOND
