"""Values of a document as text, and whether two of them mean the same.

Rules: a quantity is compared exactly in one unit, so that a limit written in another unit is the
same limit; a default is what it stands for; the order of what has none (other words for an answer,
by-times that stop) does not count. Texts are what an author would write, never what Python shows.
"""

from __future__ import annotations

import typing
from collections.abc import Mapping
from decimal import Context, Decimal
from typing import Any, Final

from runner.engine import units
from runner.engine.units import Quantity
from runner.flow.fields import Duration
from runner.flow.forms import Key, Strict
from runner.flow.parts import BranchDoc, ChoiceDoc, LimitDoc, PutOffDoc, TurnsDoc
from runner.flow.quantities import shown

NONE: Final = "none"
_MILLISECONDS: Final = (("h", 3_600_000), ("min", 60_000), ("s", 1000))
_ROUGH: Final = Context(prec=4)


def is_time(key: Key) -> bool:
    """Whether a key holds a time, or several."""
    return _speaks_of(key.annotation)


def _speaks_of(annotation: Any) -> bool:
    if annotation == Duration:
        return True
    return any(_speaks_of(one) for one in typing.get_args(annotation))


def time_text(length: int) -> str:
    """Milliseconds as an author writes them: "90 s", "2 min"."""
    for unit, size in _MILLISECONDS[:2]:
        if length % size == 0:
            return f"{length // size} {unit}"
    return f"{units.plain((Decimal(length) / 1000).normalize())} s"


def text(value: Any, *, time: bool = False) -> str:
    """A value as text; `time`: a bare number is milliseconds."""
    if value is None or value == [] or value == {}:
        return NONE
    if value is True:
        return "yes"
    if isinstance(value, int):
        return time_text(value) if time else str(value)
    if isinstance(value, Quantity):
        return shown(value)
    if isinstance(value, Strict):
        return _form(value)
    if isinstance(value, list | tuple):
        return ", ".join(text(one, time=time) for one in value)
    if isinstance(value, Mapping):
        return ", ".join(_pair(name, one) for name, one in value.items())
    return str(value)


def _pair(name: str, value: Any) -> str:
    return f"{name} {value:+d}" if isinstance(value, int) else f"{name} {text(value)}"


def _form(value: Strict) -> str:
    match value:
        case BranchDoc():
            return f"opens {value.branch}"
        case PutOffDoc():
            return f"back before {value.back_before}"
        case ChoiceDoc():
            return value.answer
        case TurnsDoc() | LimitDoc():
            joint = ", " if isinstance(value, TurnsDoc) else " "
            return joint.join(f"{key} {text(one)}" for key, one, _ in given(value))
    return ", ".join(f"{key} {text(one, time=is_time(spec))}" for key, one, spec in given(value))


def given(form: Strict) -> list[tuple[str, Any, Key]]:
    """What a form says beyond its defaults: key as spelled, value, how the key is declared."""
    found = []
    for key, spec in type(form).keys.items():
        value = getattr(form, spec.name)
        if value is not None and value != [] and value != {}:
            found.append((key, value, spec))
    return found


def same_quantity(a: Quantity, b: Quantity) -> bool:
    """Whether two quantities are one, in whatever units they are written."""
    if a.unit == b.unit:
        return a.value == b.value
    if not units.same_kind(a.unit, b.unit):
        return False
    # A conversion that never ends is rounded, and then only the other way round comes out exact.
    return a.to(b.unit).value == b.value or b.to(a.unit).value == a.value


def same(a: Any, b: Any) -> bool:
    """Whether two values mean the same, names taken as they are written."""
    if isinstance(a, Quantity) and isinstance(b, Quantity):
        return same_quantity(a, b)
    if isinstance(a, Strict) and isinstance(b, Strict):
        if type(a) is not type(b):
            return False
        return all(same(getattr(a, s.name), getattr(b, s.name)) for s in type(a).keys.values())
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(map(same, a, b))
    if isinstance(a, Mapping) and isinstance(b, Mapping):
        return a.keys() == b.keys() and all(same(a[name], b[name]) for name in a)
    return bool(a == b)


def same_difference(a: Quantity, b: Quantity) -> bool:
    """Whether two spans (how near, how little) are one: of temperatures, without the zero."""
    if a.unit == b.unit:
        return a.value == b.value
    return units.same_kind(a.unit, b.unit) and _span(a, b.unit) == b.value


def _span(one: Quantity, unit: str) -> Decimal:
    zero = units.convert(Decimal(0), one.unit, unit)
    return units.convert(one.value, one.unit, unit) - zero


def converted(old: Any, new: Any) -> str:
    """The old numbers in the units of the new ones, or nothing where the units are the same."""
    before, after = list(_quantities(old)), list(_quantities(new))
    if not before or not after:
        return ""
    unit = after[0].unit
    if all(one.unit == unit for one in before) or not units.same_kind(before[0].unit, unit):
        return ""
    parts = []
    for one in before:
        exact = one.to(unit).value
        rough = _ROUGH.plus(exact)
        about = "" if rough == exact else "about "
        parts.append(f"{shown(one)} is {about}{units.plain(rough.normalize())} {unit}")
    return ", ".join(parts)


def _quantities(value: Any) -> list[Quantity]:
    if isinstance(value, Quantity):
        return [value]
    if isinstance(value, Strict):
        return [q for _, one, _ in given(value) for q in _quantities(one)]
    if isinstance(value, Mapping):
        return [q for one in value.values() for q in _quantities(one)]
    return []
