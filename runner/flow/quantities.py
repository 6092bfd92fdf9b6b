"""Limits, ranges and differences in the unit of the reading they belong to.

Rules: a quantity is converted exactly, into the unit that the reading declares; what measures
something else is refused. A difference of temperatures is not a temperature: it is written in the
reading's own unit. A limit that no plausible value meets, or that every one meets, is refused.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Literal

from runner.engine import units
from runner.engine.limits import Limit
from runner.engine.units import Quantity, UnitFault
from runner.flow.faults import Faults, Place
from runner.flow.parts import LimitDoc

Where = Callable[[str], Place]
"""The place of a key's value within the mapping that holds the quantities."""


def value_in(quantity: Quantity, unit: str, place: Place, faults: Faults) -> Decimal | None:
    """A quantity as a number of `unit`; None, with its fault noted, if it is of another kind."""
    try:
        return quantity.to(unit).value
    except UnitFault:
        _wrong_unit(quantity, unit, place, faults)
        return None


def difference_in(quantity: Quantity, unit: str, place: Place, faults: Faults) -> Decimal | None:
    """A difference, not negative, as a number of `unit`."""
    if quantity.unit != unit and units.kind_of(unit) == "temperature":
        faults.add(
            place, "a difference in another unit", found=shown(quantity), allowed=unit, rule="units"
        )
        return None
    value = value_in(quantity, unit, place, faults)
    if value is not None and value < 0:
        faults.add(place, "a negative difference", found=shown(quantity), rule="limit-form")
        return None
    return value


def limit_in(doc: LimitDoc, unit: str, where: Where, faults: Faults) -> Limit | None:
    """A limit in `unit`; None, with its faults noted, if it is none."""
    if doc.from_ is not None and doc.to is not None:
        low = value_in(doc.from_, unit, where("from"), faults)
        high = value_in(doc.to, unit, where("to"), faults)
        if low is None or high is None:
            return None
        if low > high:
            faults.add(
                where("from"),
                "the limit is upside down",
                found=f"from {shown(doc.from_)} to {shown(doc.to)}",
                todo="the lower bound comes first",
                rule="limit-form",
            )
            return None
        return Limit.between(low, high, unit)
    for key, quantity, make in (
        ("below", doc.below, Limit.below),
        ("above", doc.above, Limit.above),
        ("at most", doc.at_most, Limit.at_most),
        ("at least", doc.at_least, Limit.at_least),
    ):
        if quantity is not None:
            value = value_in(quantity, unit, where(key), faults)
            return None if value is None else make(value, unit)
    return None


def reach(limit: Limit, low: Decimal, high: Decimal) -> Literal["never", "always", ""]:
    """Whether no value from `low` to `high` meets the limit, or every one does."""
    if (limit.low is not None and (limit.low > high or (limit.low == high and limit.low_open))) or (
        limit.high is not None and (limit.high < low or (limit.high == low and limit.high_open))
    ):
        return "never"
    return "always" if limit.meets(low) and limit.meets(high) else ""


def check_reach(limit: Limit, low: Decimal, high: Decimal, place: Place, faults: Faults) -> None:
    """Note a limit that every value of the plausible range meets, or none."""
    plausible = f"{units.plain(low)} to {units.plain(high)} {limit.unit}"
    judged = reach(limit, low, high)
    if judged == "never":
        faults.add(
            place,
            "no plausible value meets this limit",
            found=limit.text(),
            allowed=f"a limit within {plausible}",
            rule="limit-reach",
        )
    elif judged == "always":
        faults.add(
            place,
            "every plausible value meets this limit",
            found=limit.text(),
            allowed=f"a limit within {plausible}",
            todo="a limit that holds nothing back is none: correct it or leave it out",
            rule="limit-reach",
        )


def shown(quantity: Quantity) -> str:
    """A quantity as an author writes it."""
    return f"{units.plain(quantity.value)} {quantity.unit}"


def _wrong_unit(quantity: Quantity, unit: str, place: Place, faults: Faults) -> None:
    same = [name for name in units.UNITS if units.same_kind(name, unit)]
    faults.add(
        place,
        f"a {units.kind_of(quantity.unit)} where a {units.kind_of(unit)} is wanted",
        found=shown(quantity),
        allowed=f"a quantity in {', '.join(same)}",
        rule="units",
    )
