"""Run time to what people read: UTC of the day, remaining and elapsed time.

Rules: run time is integer milliseconds since the run began; UTC comes from the moment of zero that
the host noted; remaining time is rounded up and elapsed time down, so that no time is shown as over
before it is.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import NamedTuple

from runner.engine.effects import Figure

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Clock(NamedTuple):
    """`utc_at_zero_ms`: UTC of run time zero, ms since 1970-01-01; `now`: run time, ms."""

    utc_at_zero_ms: int
    now: int

    def utc(self, moment: int | None = None, seconds: bool = False) -> str:
        """ "07:40 UTC" of a run time in ms (now when absent)."""
        at = self.now if moment is None else moment
        when = _EPOCH + timedelta(milliseconds=self.utc_at_zero_ms + at)
        return when.strftime("%H:%M:%S UTC" if seconds else "%H:%M UTC")

    def figure(self, one: Figure) -> Figure:
        """A figure of the copy page with its time of day as its value, where it is one."""
        if one.at is None:
            return one
        return one._replace(value=self.utc(one.at).removesuffix(f" {one.unit}"))

    def left(self, end: int) -> str:
        """Time until `end`, "1:23"; "0:00" when it has come."""
        return minutes(max(0, -(-(end - self.now) // 1000)))

    def since(self, begin: int) -> str:
        """Time since `begin`, "1:23"."""
        return minutes(max(0, (self.now - begin) // 1000))


def minutes(seconds: int) -> str:
    """Whole seconds as "1:23", from one hour on "1:02:03"."""
    hours, rest = divmod(seconds, 3600)
    if hours:
        return f"{hours}:{rest // 60:02}:{rest % 60:02}"
    return f"{rest // 60}:{rest % 60:02}"
