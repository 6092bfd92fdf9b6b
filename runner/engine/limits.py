"""Limits on readings, compared exactly.

One job: say whether a value meets a limit, and by how much it does not. Rules: everything is
`Decimal` compared with `Decimal`, which is exact whatever the decimal context; differences are
taken in a context of our own; a value is compared in the unit of its limit and nothing is
converted here. A value that is not finite meets nothing and is refused by every measure.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal, InvalidOperation
from typing import Final, Literal

from runner.engine import units

# Wide enough that no difference of two numbers with at most 34 digits each is ever rounded.
_CONTEXT: Final = Context(prec=120, rounding=ROUND_HALF_EVEN, traps=[InvalidOperation])
_ZERO: Final = Decimal(0)


@dataclass(frozen=True, slots=True)
class Limit:
    """What a reading must satisfy: a lower bound, an upper bound, or both, in `unit`.

    A bound that is None does not exist; an open bound excludes its own value. Raises `ValueError`
    where there is no bound, a bound is not finite, or nothing could lie between them, and
    `UnitFault` for an unknown unit.
    """

    low: Decimal | None
    high: Decimal | None
    unit: str
    low_open: bool = False
    high_open: bool = False

    def __post_init__(self) -> None:
        units.kind_of(self.unit)
        bounds = [bound for bound in (self.low, self.high) if bound is not None]
        if not bounds:
            raise ValueError("a limit needs a lower or an upper bound")
        if not all(bound.is_finite() for bound in bounds):
            raise ValueError("the bounds of a limit are finite numbers")
        if self.low is not None and self.high is not None:
            if self.low > self.high:
                raise ValueError(
                    f"from {units.plain(self.low)} to {units.plain(self.high)}: "
                    "the lower bound comes first"
                )
            if self.low == self.high and (self.low_open or self.high_open):
                raise ValueError(f"nothing lies between {units.plain(self.low)} and itself")

    @classmethod
    def below(cls, value: Decimal, unit: str) -> Limit:
        """Less than `value`."""
        return cls(None, value, unit, high_open=True)

    @classmethod
    def above(cls, value: Decimal, unit: str) -> Limit:
        """More than `value`."""
        return cls(value, None, unit, low_open=True)

    @classmethod
    def at_most(cls, value: Decimal, unit: str) -> Limit:
        """`value` or less."""
        return cls(None, value, unit)

    @classmethod
    def at_least(cls, value: Decimal, unit: str) -> Limit:
        """`value` or more."""
        return cls(value, None, unit)

    @classmethod
    def between(cls, low: Decimal, high: Decimal, unit: str) -> Limit:
        """From `low` to `high`, both included."""
        return cls(low, high, unit)

    def meets(self, value: Decimal) -> bool:
        """Whether `value` (in the limit's unit) satisfies the limit; never for NaN or infinity."""
        if not value.is_finite():
            return False
        low, high = self.low, self.high
        if low is not None and (value < low or (self.low_open and value == low)):
            return False
        return high is None or value < high or (value == high and not self.high_open)

    def distance(self, value: Decimal) -> Decimal:
        """How far outside the bounds `value` lies, in the limit's unit; 0 if inside.

        It is 0 as well on an open bound, which is not met: ask `meets`, not this. `ValueError` for
        a value that is not finite.
        """
        _finite(value)
        if self.low is not None and value < self.low:
            return _CONTEXT.subtract(self.low, value)
        if self.high is not None and value > self.high:
            return _CONTEXT.subtract(value, self.high)
        return _ZERO

    def near(self, value: Decimal, margin: Decimal) -> bool:
        """Whether `value` lies within `margin` of a bound, on either side of it, ends included.

        `ValueError` for a value or margin that is not finite, or a negative margin.
        """
        _finite(value)
        _finite(margin)
        if margin < _ZERO:
            raise ValueError("a margin is not negative")
        return any(
            bound is not None and _CONTEXT.subtract(value, bound).copy_abs() <= margin
            for bound in (self.low, self.high)
        )

    def better(self, a: Decimal, b: Decimal) -> Decimal:
        """Which of two values lies closer to being met; `a` where they are equal in that.

        A value that meets the limit is better than any that does not; two that meet it are equal.
        `ValueError` for a value that is not finite.
        """
        return b if self._lack(b) < self._lack(a) else a

    def _lack(self, value: Decimal) -> tuple[bool, Decimal]:
        return (not self.meets(value), self.distance(value))

    def text(self) -> str:
        """The limit as the screen writes it: "BELOW 150 °C", "1550 TO 1650 RPM"."""
        unit = units.shown(self.unit)
        low = None if self.low is None else units.plain(self.low)
        high = None if self.high is None else units.plain(self.high)
        if low is None:
            return f"{'BELOW' if self.high_open else 'AT MOST'} {high} {unit}"
        if high is None:
            return f"{'ABOVE' if self.low_open else 'AT LEAST'} {low} {unit}"
        if not self.low_open and not self.high_open:
            return f"{low} TO {high} {unit}"
        lower = "ABOVE" if self.low_open else "AT LEAST"
        upper = "BELOW" if self.high_open else "AT MOST"
        return f"{lower} {low} AND {upper} {high} {unit}"


@dataclass(frozen=True, slots=True)
class Threshold:
    """A call that tells only on which side of a value a reading lies ("BELOW EIGHTY").

    The value itself is on neither side. Raises `ValueError` for another side or a value that is not
    finite.
    """

    side: Literal["below", "above"]
    value: Decimal

    def __post_init__(self) -> None:
        if self.side not in ("below", "above"):
            raise ValueError(f"the side {self.side!r}; allowed: below, above")
        _finite(self.value)


def implies(threshold: Threshold, limit: Limit) -> bool:
    """Whether every value on the threshold's side meets the limit.

    "Below 80" meets `below: 80` and `at most: 80`, not `below: 70`, and never a limit that has a
    lower bound too, since a call of one side says nothing of the other.
    """
    if threshold.side == "below":
        return limit.low is None and limit.high is not None and threshold.value <= limit.high
    return limit.high is None and limit.low is not None and threshold.value >= limit.low


def _finite(value: Decimal) -> None:
    if not value.is_finite():
        raise ValueError(f"{value} is not a finite number")
