"""Units and quantities, exactly.

One job: read a number with its unit, and turn a value of one unit into another of the same kind.
Rules: every factor is an exact rational, nothing passes through binary floating point, and no
result depends on the decimal context of the caller. A unit has one spelling; what is not in the
table is a fault that names the nearest one. Strokes, turns and plain counts are kinds of their own,
so that a turn never becomes a stroke.

Sources of the factors: the international yard and pound agreement of 1959 (1 ft = 0.3048 m, 1 lb =
0.45359237 kg); NIST SP 811 appendix B (1 US gal = 3.785411784 L; standard gravity 9.80665 m/s2, of
which the pound-force per square inch follows; conventional inch of mercury 3386.389 Pa); the
international nautical mile of 1852 m; the definition of the degree Celsius (0 °C = 273.15 K).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal, InvalidOperation
from fractions import Fraction
from typing import Final, NamedTuple

DIGITS: Final = 34
"""Significant digits kept where a conversion never ends (those of IEEE 754 decimal128)."""

LONGEST: Final = 15
"""Most digits a written number may have; the same number still is one binary double of its own."""

_CONTEXT: Final = Context(prec=DIGITS, rounding=ROUND_HALF_EVEN, traps=[InvalidOperation])
_NUMBER: Final = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")
_QUANTITY: Final = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?)\s*((?:[^\W\d_]|[%°])\D*)")


class UnitFault(ValueError):
    """A number or unit that cannot be read.

    `what` says what was found, `allowed` what may stand there, `nearest` the nearest allowed
    spelling, or an empty string where nothing comes near.
    """

    def __init__(self, what: str, allowed: str, nearest: str = "") -> None:
        super().__init__(what, allowed, nearest)
        self.what = what
        self.allowed = allowed
        self.nearest = nearest

    def __str__(self) -> str:
        """One line: what was found, what is allowed, and the nearest match if there is one."""
        hint = f"; nearest: {self.nearest}" if self.nearest else ""
        return f"{self.what}; allowed: {self.allowed}{hint}"


class _Unit(NamedTuple):
    kind: str
    factor: Fraction
    offset: Fraction = Fraction(0)


_INCH: Final = Fraction("0.0254")
_POUND: Final = Fraction("0.45359237")
_MILE: Final = Fraction(1852)
_HOUR: Final = Fraction(3600)

# A value v of a unit is v * factor + offset of the base unit of its kind.
_UNITS: Final[dict[str, _Unit]] = {
    "rpm": _Unit("rotation", Fraction(1)),
    "%": _Unit("proportion", Fraction(1)),
    "°C": _Unit("temperature", Fraction(1), Fraction("273.15")),
    "°F": _Unit("temperature", Fraction(5, 9), Fraction("459.67") * Fraction(5, 9)),
    "K": _Unit("temperature", Fraction(1)),
    "Pa": _Unit("pressure", Fraction(1)),
    "hPa": _Unit("pressure", Fraction(100)),
    "kPa": _Unit("pressure", Fraction(1000)),
    "bar": _Unit("pressure", Fraction(100_000)),
    "psi": _Unit("pressure", _POUND * Fraction("9.80665") / (_INCH * _INCH)),
    "inHg": _Unit("pressure", Fraction("3386.389")),
    "kg": _Unit("mass", Fraction(1)),
    "lb": _Unit("mass", _POUND),
    "L": _Unit("volume", Fraction(1)),
    "US gal": _Unit("volume", Fraction("3.785411784")),
    "m": _Unit("length", Fraction(1)),
    "km": _Unit("length", Fraction(1000)),
    "mm": _Unit("length", Fraction(1, 1000)),
    "in": _Unit("length", _INCH),
    "ft": _Unit("length", _INCH * 12),
    "NM": _Unit("length", _MILE),
    "m/s": _Unit("speed", Fraction(1)),
    "km/h": _Unit("speed", 1000 / _HOUR),
    "kt": _Unit("speed", _MILE / _HOUR),
    "mph": _Unit("speed", _INCH * 12 * 5280 / _HOUR),
    "ft/min": _Unit("speed", _INCH * 12 / 60),
    "s": _Unit("time", Fraction(1)),
    "min": _Unit("time", Fraction(60)),
    "h": _Unit("time", _HOUR),
    "V": _Unit("voltage", Fraction(1)),
    "A": _Unit("current", Fraction(1)),
    "°": _Unit("angle", Fraction(1)),
    "turns": _Unit("turns", Fraction(1)),
    "strokes": _Unit("strokes", Fraction(1)),
    "count": _Unit("count", Fraction(1)),
}
# The only second spellings: one of a thing is written without its plural.
_SINGULAR: Final = {"turn": "turns", "stroke": "strokes"}

UNITS: Final[tuple[str, ...]] = tuple(_UNITS)
"""Every unit, as it is written in a document."""

_DURATIONS: Final = ("s", "min", "h")
_HABITS: Final = {
    "c": "°C", "degc": "°C", "deg c": "°C", "celsius": "°C", "f": "°F", "degf": "°F",
    "deg f": "°F", "fahrenheit": "°F", "kelvin": "K", "gal": "US gal", "gallons": "US gal",
    "usg": "US gal", "lbs": "lb", "pounds": "lb", "sec": "s", "second": "s", "seconds": "s",
    "minute": "min", "minutes": "min", "mins": "min", "hour": "h", "hours": "h", "hr": "h",
    "hrs": "h", "mb": "hPa", "mbar": "hPa", "knots": "kt", "kts": "kt", "feet": "ft",
    "volts": "V", "amps": "A", "litres": "L", "liters": "L", "percent": "%", "deg": "°",
    "inches": "in", "kph": "km/h", "nmi": "NM", "times": "count", "rev": "turns", "revs": "turns",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Quantity:
    """A finite exact number and the unit it was measured in.

    Raises `UnitFault` for an unknown unit and for a value that is not finite.
    """

    value: Decimal
    unit: str

    def __post_init__(self) -> None:
        _unit(self.unit)
        if not self.value.is_finite():
            raise UnitFault(f"the value {self.value}", "a finite number")

    def to(self, unit: str) -> Quantity:
        """The same quantity in another unit of its kind; `UnitFault` if the kinds differ."""
        return Quantity(convert(self.value, self.unit, unit), unit)


def nearest_of(word: str, allowed: Iterable[str]) -> str:
    """The allowed spelling nearest to `word`, letter case aside; empty if none comes near."""
    import difflib  # only a fault needs it, and it costs more than the whole module

    known = {spelling.casefold(): spelling for spelling in allowed}
    habit = _HABITS.get(word.casefold().strip(". "), "")
    if habit and habit.casefold() in known:
        return habit
    found = difflib.get_close_matches(word.casefold(), known, n=1, cutoff=0.5)
    return known[found[0]] if found else ""


def _unit(name: str, allowed: tuple[str, ...] = UNITS) -> _Unit:
    if name not in allowed:
        raise UnitFault(f"the unit {name!r}", ", ".join(allowed), nearest_of(name, allowed))
    return _UNITS[name]


def parse_number(text: str) -> Decimal:
    """Read a plain decimal number: digits, one point, a leading sign; `UnitFault` otherwise.

    Exponents, separators, NaN and infinities are refused, and more than 15 digits.
    """
    word = text.strip()
    if not _NUMBER.fullmatch(word):
        guess = word.replace("\N{MINUS SIGN}", "-").replace(" ", "").replace(",", ".")
        nearest = guess if _NUMBER.fullmatch(guess) else ""
        raise UnitFault(f"the number {_short(text)}", "digits with at most one point", nearest)
    if sum(letter.isdigit() for letter in word) > LONGEST:
        raise UnitFault(f"the number {_short(text)}", f"at most {LONGEST} digits")
    return Decimal(word)


def parse_quantity(text: str) -> Quantity:
    """Read "150 °C" (the space may be left out); `UnitFault` for anything else."""
    word = text.strip()
    found = _QUANTITY.fullmatch(word)
    if not found:
        if _NUMBER.fullmatch(word):
            raise UnitFault(f"{_short(text)} has no unit", "a number and its unit: " + _listed())
        raise UnitFault(f"the quantity {_short(text)}", 'a number and its unit, as "150 °C"')
    name = _SINGULAR.get(found[2], found[2])
    try:
        _unit(name)
    except UnitFault as fault:
        near = f"{found[1]} {fault.nearest}" if fault.nearest else ""
        raise UnitFault(f"the unit {_short(found[2])}", _listed(), near) from None
    return Quantity(parse_number(found[1]), name)


def parse_duration(text: str) -> int:
    """Read "30 s", "2 min" or "1 h" as whole milliseconds, at least 0; `UnitFault` otherwise."""
    allowed = 'a time in s, min or h, as "30 s", "2 min", "1 h"'
    word = text.strip()
    found = _QUANTITY.fullmatch(word)
    if not found or found[2] not in _DURATIONS:
        near = ""
        if found and (unit := nearest_of(found[2], _DURATIONS)):
            near = f"{found[1]} {unit}"
        raise UnitFault(f"the time {_short(text)}", allowed, near)
    value = Fraction(parse_number(found[1])) * _UNITS[found[2]].factor * 1000
    if value < 0:
        raise UnitFault(f"the time {_short(text)}", allowed + ", not less than 0")
    if value.denominator != 1:
        raise UnitFault(f"the time {_short(text)}", allowed + ", in whole milliseconds")
    return int(value)


def convert(value: Decimal, from_unit: str, to_unit: str) -> Decimal:
    """A value of one unit in another of the same kind.

    Exact where the result has a finite decimal form of at most 34 digits, otherwise rounded half
    even to 34 significant digits. `UnitFault` if a unit is unknown, the kinds differ, or the value
    is not finite.
    """
    source, target = _unit(from_unit), _unit(to_unit)
    if source.kind != target.kind:
        same = ", ".join(name for name, unit in _UNITS.items() if unit.kind == source.kind)
        raise UnitFault(f"{to_unit} for a {source.kind} in {from_unit}", same)
    if not value.is_finite():
        raise UnitFault(f"the value {value}", "a finite number")
    if from_unit == to_unit:
        return value
    exact = (Fraction(value) * source.factor + source.offset - target.offset) / target.factor
    return _CONTEXT.divide(Decimal(exact.numerator), Decimal(exact.denominator))


def same_kind(a: str, b: str) -> bool:
    """Whether two units measure the same thing; `UnitFault` if one is unknown."""
    return _unit(a).kind == _unit(b).kind


def kind_of(unit: str) -> str:
    """What a unit measures, in one word ("pressure"); `UnitFault` if it is unknown."""
    return _unit(unit).kind


def shown(unit: str) -> str:
    """A unit as the screen writes it in a line of capitals: as it is, psi, kt, °C; but RPM."""
    return "RPM" if unit == "rpm" else unit


def plain(value: Decimal) -> str:
    """A number as its digits, never with an exponent: Decimal("1E+3") is "1000"."""
    return format(value, "f")


def _listed() -> str:
    return ", ".join(UNITS)


def _short(text: str) -> str:
    return repr(text if len(text) <= 40 else text[:37] + "...")
