"""Units: exact conversion against `pint`, published constants, and the faults of bad input."""

from __future__ import annotations

import decimal
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine import units
from runner.engine.units import Quantity, UnitFault, convert, parse_duration, parse_quantity

# Our spelling -> pint's. Turns, strokes and counts have no counterpart there.
PINT = {
    "rpm": "rpm", "%": "percent", "°C": "degC", "°F": "degF", "K": "kelvin", "Pa": "pascal",
    "hPa": "hectopascal", "kPa": "kilopascal", "bar": "bar", "psi": "psi", "inHg": "inch_Hg",
    "kg": "kilogram", "lb": "pound", "L": "liter", "US gal": "US_liquid_gallon", "m": "meter",
    "km": "kilometer", "mm": "millimeter", "in": "inch", "ft": "foot", "NM": "nautical_mile",
    "m/s": "meter/second", "km/h": "kilometer/hour", "kt": "knot", "mph": "mile/hour",
    "ft/min": "foot/minute", "s": "second", "min": "minute", "h": "hour", "V": "volt",
    "A": "ampere", "°": "degree",
}  # fmt: skip
OWN = {"turns", "strokes", "count"}

numbers = st.decimals(min_value=-9999, max_value=9999, places=2, allow_nan=False)
pairs = st.sampled_from([(a, b) for a in units.UNITS for b in units.UNITS if units.same_kind(a, b)])


@pytest.fixture(scope="module")
def oracle() -> Any:
    return pint.UnitRegistry(non_int_type=Fraction, autoconvert_offset_to_baseunit=True)


def test_every_unit_is_known_to_the_oracle() -> None:
    assert set(PINT) | OWN == set(units.UNITS)


@pytest.mark.parametrize("value", ["0", "1", "-40", "150", "29.92", "1013.25"])
def test_conversions_agree_with_pint(oracle: Any, value: str) -> None:
    tried = 0
    for a, pint_a in PINT.items():
        for b, pint_b in PINT.items():
            if a == b or not units.same_kind(a, b):
                continue
            tried += 1
            ours = convert(Decimal(value), a, b)
            theirs = oracle.Quantity(Fraction(value), pint_a).to(pint_b).magnitude
            # pint takes the inch of mercury from its density (13.5951) times standard gravity,
            # 3386.38864 Pa; ours is the conventional 3386.389 Pa of NIST SP 811: 1.1e-7 apart.
            allowed = Fraction(2, 10**7) if "inHg" in (a, b) else Fraction(1, 10**30)
            assert abs(Fraction(ours) - theirs) <= allowed * max(1, abs(theirs)), (a, b)
    assert tried == 96


def test_kinds_agree_with_pint(oracle: Any) -> None:
    for a, pint_a in PINT.items():
        for b, pint_b in PINT.items():
            plain_numbers = {units.kind_of(a), units.kind_of(b)} & {"proportion", "angle"}
            if plain_numbers or "rpm" in (a, b):
                continue  # pint counts angle, proportion and revolutions as bare numbers
            theirs = oracle.Unit(pint_a).dimensionality == oracle.Unit(pint_b).dimensionality
            assert units.same_kind(a, b) == theirs, (a, b)


@pytest.mark.parametrize(
    ("value", "unit", "other", "expected"),
    [
        # NIST SP 811 appendix B; the legal definitions of pound, foot and nautical mile.
        ("1", "US gal", "L", "3.785411784"),
        ("1", "lb", "kg", "0.45359237"),
        ("1", "ft", "m", "0.3048"),
        ("1", "inHg", "hPa", "33.86389"),
        ("3600", "kt", "m/s", "1852"),
        ("1", "kt", "km/h", "1.852"),
        ("1", "NM", "m", "1852"),
        # Fixed points of the two scales (definition of the degree Fahrenheit).
        ("-40", "°C", "°F", "-40"),
        ("100", "°C", "°F", "212"),
        ("32", "°F", "°C", "0"),
        ("15", "°C", "K", "288.15"),
        # FAA-H-8083-25C ch. 11, standard sea level: 29.92 inHg is 1013.2 hPa.
        ("29.92", "inHg", "hPa", "1013.2075888"),
        ("1", "bar", "hPa", "1000"),
        ("90", "s", "min", "1.5"),
        ("1.5", "h", "min", "90"),
    ],
)
def test_published_values(value: str, unit: str, other: str, expected: str) -> None:
    assert convert(Decimal(value), unit, other) == Decimal(expected)


def test_psi_is_the_pound_force_per_square_inch() -> None:
    # NIST SP 811 appendix B.8: 1 psi = 6.894757 E+03 Pa (rounded there to seven digits).
    assert round(convert(Decimal(1), "psi", "Pa"), 3) == Decimal("6894.757")


@given(numbers, pairs)
def test_there_and_back_gives_the_same_number(value: Decimal, pair: tuple[str, str]) -> None:
    a, b = pair
    back = convert(convert(value, a, b), b, a)
    assert abs(back - value) <= Decimal("1e-24")


@given(numbers, pairs, st.integers(1, 5))
def test_the_callers_decimal_context_is_without_effect(
    value: Decimal, pair: tuple[str, str], precision: int
) -> None:
    usual = convert(value, *pair)
    with decimal.localcontext() as context:
        context.prec = precision
        context.rounding = decimal.ROUND_UP
        context.traps[decimal.Inexact] = True
        assert convert(value, *pair) == usual
        assert parse_quantity(f"{value} rpm").value == value


@given(numbers, st.sampled_from(units.UNITS), st.sampled_from(["", " ", "  "]))
def test_a_written_quantity_is_read_back(value: Decimal, unit: str, gap: str) -> None:
    assert parse_quantity(f"{units.plain(value)}{gap}{unit}") == Quantity(value, unit)


def test_one_of_a_thing_may_be_singular() -> None:
    assert parse_quantity("1 turn") == Quantity(Decimal(1), "turns")
    assert parse_quantity("1 stroke") == Quantity(Decimal(1), "strokes")


def test_a_turn_is_no_stroke() -> None:
    assert not units.same_kind("turns", "strokes")
    with pytest.raises(UnitFault):
        convert(Decimal(1), "turns", "strokes")


def test_a_quantity_goes_to_another_unit() -> None:
    assert Quantity(Decimal(2), "min").to("s") == Quantity(Decimal(120), "s")


@pytest.mark.parametrize(
    ("text", "nearest"),
    [
        ("150 C", "150 °C"),
        ("150 deg C", "150 °C"),
        ("150 °c", "150 °C"),
        ("1600 RPM", "1600 rpm"),
        ("20 gal", "20 US gal"),
        ("40 PSI", "40 psi"),
        ("40 kts", "40 kt"),
        ("3 lbs", "3 lb"),
        ("1600", ""),
        ("rpm", ""),
        ("", ""),
        ("NaN rpm", ""),
        ("inf rpm", ""),
        ("1e3 rpm", ""),
        ("1 600 rpm", ""),
        ("29,92 inHg", ""),
        ("1234567890123456 rpm", ""),
        ("١٦٠٠ rpm", ""),
        ("1600 rpm\n", None),
    ],
)
def test_bad_quantities_name_the_nearest(text: str, nearest: str | None) -> None:
    if nearest is None:
        assert parse_quantity(text).unit == "rpm"
        return
    with pytest.raises(UnitFault) as caught:
        parse_quantity(text)
    assert caught.value.allowed
    assert caught.value.nearest == nearest
    assert str(caught.value).startswith(caught.value.what)


@pytest.mark.parametrize(
    ("text", "nearest"),
    [("29,92", "29.92"), ("1 600", "1600"), ("\N{MINUS SIGN}5", "-5"), ("1e3", "")],
)
def test_bad_numbers_name_the_nearest(text: str, nearest: str) -> None:
    with pytest.raises(UnitFault) as caught:
        units.parse_number(text)
    assert caught.value.nearest == nearest


@given(st.text(max_size=60))
def test_no_text_makes_anything_but_a_fault(text: str) -> None:
    for read in (parse_quantity, parse_duration, units.parse_number):
        try:
            read(text)
            message = ""
        except UnitFault as fault:
            message = str(fault)
        assert len(message) < 400


def test_different_kinds_do_not_convert() -> None:
    with pytest.raises(UnitFault) as caught:
        convert(Decimal(1), "psi", "°C")
    assert "hPa" in caught.value.allowed
    with pytest.raises(UnitFault):
        units.same_kind("psi", "furlong")


@pytest.mark.parametrize("bad", ["NaN", "sNaN", "Infinity"])
def test_no_quantity_without_a_finite_number(bad: str) -> None:
    with pytest.raises(UnitFault):
        Quantity(Decimal(bad), "rpm")
    with pytest.raises(UnitFault):
        convert(Decimal(bad), "kt", "m/s")


@pytest.mark.parametrize(
    ("text", "milliseconds"),
    [("30 s", 30_000), ("2 min", 120_000), ("1 h", 3_600_000), ("0.5 s", 500), ("0 s", 0),
     ("1.5 min", 90_000), ("0.001 s", 1)],
)  # fmt: skip
def test_durations(text: str, milliseconds: int) -> None:
    assert parse_duration(text) == milliseconds


@pytest.mark.parametrize(
    ("text", "nearest"),
    [("30 sec", "30 s"), ("2 minutes", "2 min"), ("1 hr", "1 h"), ("-1 s", ""), ("0.0001 s", ""),
     ("1:30", ""), ("30", ""), ("30 rpm", "")],
)  # fmt: skip
def test_bad_durations(text: str, nearest: str) -> None:
    with pytest.raises(UnitFault) as caught:
        parse_duration(text)
    assert caught.value.nearest == nearest


def test_units_on_the_screen() -> None:
    assert [units.shown(unit) for unit in ("rpm", "°C", "psi", "US gal", "inHg", "kt", "%")] == [
        "RPM", "°C", "psi", "US gal", "inHg", "kt", "%",
    ]  # fmt: skip
