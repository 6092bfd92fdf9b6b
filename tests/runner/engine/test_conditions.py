"""Conditions and formulas: against two CEL libraries, rational arithmetic and the faults.

Oracles: the PyPI package `common-expression-language` (another implementation of CEL), raw
`cel-expr-python` on the author's own text, and an evaluator over `fractions.Fraction` written here.
"""

from __future__ import annotations

import decimal
import subprocess
import sys
from collections.abc import Mapping
from decimal import ROUND_HALF_EVEN, Decimal
from pathlib import Path
from typing import Any

import cel as oracle
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from runner.engine import conditions
from runner.engine.book import Book
from runner.engine.conditions import (
    ConditionFault,
    NameType,
    Value,
    compile_condition,
    compile_formula,
)
from tests.runner.engine.drawn_expressions import Made, numbers, partly, truths, whole
from tests.runner.engine.expression_names import NAMES, RAW

D = Decimal


def _floats(values: Mapping[str, Value]) -> dict[str, Any]:
    return {k: float(v) if isinstance(v, Decimal) else v for k, v in values.items()}


@given(truths(sums=True), whole)
def test_decisions_are_those_of_rational_arithmetic(made: Made, values: dict[str, Value]) -> None:
    assert compile_condition(made.text, NAMES).decide(values) is made.gives(values)


def test_a_number_of_more_than_fifteen_digits_decides_nothing() -> None:
    # 10,000,934.78169672 has sixteen digits, more than a binary number keeps.
    assert compile_condition("0.00 < 74.61 * 96.61 * 14.36 * 96.62", NAMES).decide({}) is None
    assert compile_condition("0.00 < 74.61 * 96.61 * 14.36 * 9.66", NAMES).decide({}) is True


@given(truths(sums=True), partly)
def test_what_is_not_known_follows_three_valued_logic(made: Made, values: dict[str, Value]) -> None:
    assert compile_condition(made.text, NAMES).decide(values) is made.gives(values)


@given(truths(sums=True), partly, whole)
def test_what_is_decided_early_stays_decided(
    made: Made, early: dict[str, Value], late: dict[str, Value]
) -> None:
    condition = compile_condition(made.text, NAMES)
    decided = condition.decide(early)
    if decided is not None:
        assert condition.decide(late | early) is decided


@given(truths(sums=False), whole)
def test_decisions_are_those_of_both_libraries(made: Made, values: dict[str, Value]) -> None:
    data = _floats(values)
    ours = compile_condition(made.text, NAMES).decide(values)
    assert ours is oracle.evaluate(made.text, data)
    assert ours is RAW.compile(made.text).eval(data=data).value()


@given(truths(sums=True))
def test_names_are_those_that_the_other_library_finds(made: Made) -> None:
    condition = compile_condition(made.text, NAMES)
    assert condition.names == frozenset(oracle.compile(made.text).variables())
    assert condition.source == made.text


@given(numbers(["left", "right"], sums=True), whole, st.integers(0, 4))
def test_formulas_are_rounded_from_the_exact_value(
    made: Made, values: dict[str, Value], decimals: int
) -> None:
    exact = made.gives(values)
    assume(abs(exact) * 10 ** max(made.decimals, decimals) < 10**15)  # what binary64 keeps
    scaled = round(exact * 10**decimals)  # Fraction rounds half to even
    expected = D(scaled).scaleb(-decimals)
    result = compile_formula(made.text, NAMES, decimals).value(values)
    assert result == expected
    assert result is not None
    assert result.as_tuple().exponent == -decimals


@given(truths(sums=True), whole, st.integers(1, 3))
@settings(max_examples=50)
def test_the_callers_decimal_context_is_without_effect(
    made: Made, values: dict[str, Value], precision: int
) -> None:
    with decimal.localcontext() as context:
        context.prec = precision
        context.rounding = decimal.ROUND_UP
        context.traps[decimal.Inexact] = True
        assert compile_condition(made.text, NAMES).decide(values) is made.gives(values)


def test_the_subtraction_that_binary_numbers_get_wrong() -> None:
    values: dict[str, Value] = {"left": D("29.92"), "right": D("29.62")}
    text = "left - right <= 0.3"
    assert RAW.compile(text).eval(data=_floats(values)).value() is False
    assert compile_condition(text, NAMES).decide(values) is True
    assert compile_condition("0.3 >= left - right", NAMES).decide(values) is True
    assert compile_condition("left - right in [0.3, 0.4]", NAMES).decide(values) is True


def test_a_tie_is_a_tie_whatever_binary_noise_lies_on_it() -> None:
    # 28.82 * 2.09 * 159.75 is 9622.34955 exactly; in binary64 it comes out a little below.
    values: dict[str, Value] = {"right": D("28.82")}
    formula = compile_formula("right * 2.09 * 159.75", NAMES, 4)
    assert formula.value(values) == D("9622.3496")
    assert compile_formula("right * 2.09 * 159.75", NAMES, 5).value(values) == D("9622.34955")


def test_real_magneto_checks() -> None:
    # From the logs of a training aircraft (travisdesell/exact, see trade notes): base 1785, drops
    # of 84 and 72; a failed check of 183 and 142 beside a limit of 175 and a difference of 50
    # (FAA powerplant handbook, trainers).
    names = {name: NameType("number", 0, "rpm") for name in ("base", "l", "r", "l_drop", "r_drop")}
    drop = compile_formula("base - l", names, 0)
    assert drop.value({"base": D(1785), "l": D(1701)}) == D(84)
    assert drop.unit == "rpm"
    apart = compile_formula("math.abs(l_drop - r_drop)", names, 0)
    for drops, expected in {(84, 72): 12, (86, 95): 9, (183, 142): 41, (69, 85): 16}.items():
        assert apart.value(dict(zip(("l_drop", "r_drop"), map(D, drops), strict=True))) == expected


@pytest.mark.parametrize(
    ("text", "values", "expected"),
    [
        ("cold && passengers", {"cold": False}, False),
        ("passengers && cold", {"cold": False}, False),
        ("cold && passengers", {"cold": True}, None),
        ("cold || passengers", {"cold": True}, True),
        ("passengers || cold", {"cold": True}, True),
        ("cold || passengers", {"cold": False}, None),
        ("!cold", {}, None),
        ("cold ? passengers : cold", {"cold": False}, False),
        ("cold ? passengers : true", {}, None),
        ("oil_temp < 80.0 && cold", {"cold": False}, False),
        ("oil_temp - head_temp < 80.0 && cold", {"cold": False}, False),
        ("hook in ['FITTED', 'RIGGED']", {"hook": "RIGGED"}, True),
        ("hook in ['FITTED', 'RIGGED']", {"hook": "NOT FITTED"}, False),
        ("hook in ['FITTED', 'RIGGED']", {}, None),
        ("math.greatest(oil_temp, head_temp) < 80.0", {"oil_temp": D(79), "head_temp": D(1)}, True),
        ("math.greatest(oil_temp, head_temp) < 80.0", {"oil_temp": D(79)}, None),
        ("(cold ? oil_temp : head_temp) < 80.0", {"cold": True, "oil_temp": D(79)}, True),
        ("-oil_temp > -80.0", {"oil_temp": D(79)}, True),
    ],
)
def test_decisions(text: str, values: dict[str, Value], expected: bool | None) -> None:
    condition = compile_condition(text, NAMES)
    assert condition.decide(values) is expected
    assert condition.decide(values) is expected  # and the same from memory


@pytest.mark.parametrize(
    "bad",
    [D("NaN"), D("sNaN"), D("Infinity"), D("1e15"), D("1e999"), True, "79", 79, 79.0, None],
)
def test_a_value_that_is_no_such_number_is_unknown(bad: Any) -> None:
    condition = compile_condition("oil_temp < 80.0", NAMES)
    assert condition.decide({"oil_temp": D(1)}) is True
    assert condition.decide({"oil_temp": bad}) is None
    assert compile_formula("oil_temp + 1.0", NAMES, 0).value({"oil_temp": bad}) is None


def test_true_is_never_taken_for_one() -> None:
    flag = compile_condition("cold", NAMES)
    assert flag.decide({"cold": True}) is True
    assert flag.decide({"cold": D(1)}) is None
    number = compile_condition("starts == 1.0", NAMES)
    assert number.decide({"starts": D(1)}) is True
    assert number.decide({"starts": True}) is None


def test_division_by_zero_is_not_known() -> None:
    ratio = compile_formula("left / right", NAMES, 3)
    assert ratio.value({"left": D(30), "right": D(15)}) == D("2.000")
    assert ratio.unit == ""
    assert ratio.value({"left": D(30), "right": D(0)}) is None
    # 1 / (1 / 0) is 0 in binary arithmetic: an infinity must not come back as a number.
    twice = compile_formula("1.0 / (1.0 / starts)", NAMES, 3)
    assert twice.value({"starts": D(0)}) is None
    least = compile_formula("math.least(1.0 / starts, 5.0)", NAMES, 3)
    assert least.value({"starts": D(0)}) is None
    assert least.value({"starts": D(4)}) == D("0.25")
    guarded = compile_formula("starts == 0.0 ? 0.0 : 1.0 / starts", NAMES, 3)
    assert guarded.value({"starts": D(0)}) == 0
    assert guarded.value({"starts": D(8)}) == D("0.125")
    third = compile_formula("starts / 3.0", NAMES, 3)
    assert third.value({"starts": D(2)}) == D("0.667")


def test_results_too_large_are_not_known() -> None:
    square = compile_formula("starts * starts * starts", NAMES, 0)
    assert square.value({"starts": D(1000)}) == D(10) ** 9
    assert square.value({"starts": D(100_000)}) is None
    compared = compile_condition("starts * starts * starts > 1.0", NAMES)
    assert compared.decide({"starts": D(100_000)}) is None


@pytest.mark.parametrize(
    ("value", "expected"), [("0.5", "0"), ("1.5", "2"), ("2.5", "2"), ("-0.5", "0"), ("3.5", "4")]
)
def test_halves_go_to_the_even_neighbour(value: str, expected: str) -> None:
    # IEEE 754-2019 4.3.1, roundTiesToEven.
    result = compile_formula("hours", NAMES, 0).value({"hours": D(value)})
    assert str(result) == expected
    assert D(value).quantize(D(1), ROUND_HALF_EVEN) == result


def test_binary_noise_does_not_decide_a_half() -> None:
    # In binary64 1024.1 - 900.6 is 123.49999999999989.
    values: dict[str, Value] = {"upper": D("1024.1"), "lower": D("900.6")}
    names = {name: NameType("number", 1, "rpm") for name in values}
    assert 1024.1 - 900.6 < 123.5
    assert compile_formula("upper - lower", names, 0).value(values) == D(124)


def test_values_are_rounded_to_their_decimals_on_the_way_in() -> None:
    condition = compile_condition("oil_temp < 80.0", NAMES)
    assert condition.decide({"oil_temp": D("79.5")}) is False
    assert condition.decide({"oil_temp": D("79.4")}) is True
    assert condition.decide({"oil_temp": D("78.5")}) is True


class _Program:
    """A program of a library gone wrong."""

    def __init__(self, gives: Any, kind: str) -> None:
        self._gives = gives
        self._kind = kind

    def eval(self, data: Any) -> Any:
        if isinstance(self._gives, Exception):
            raise self._gives
        return self

    def type(self) -> Any:
        return self

    def name(self) -> str:
        return self._kind

    def value(self) -> Any:
        return self._gives


@pytest.mark.parametrize(
    ("gives", "kind"),
    [
        (RuntimeError("broken"), "BOOL"),
        ("no such overload", "ERROR"),
        (True, "ERROR"),
        (1.0, "DOUBLE"),
        ("true", "STRING"),
        (1, "INT"),
        (None, "NULL"),
        (True, "UNKNOWN"),
    ],
)
def test_anything_but_a_truth_is_unknown(
    monkeypatch: pytest.MonkeyPatch, gives: Any, kind: str
) -> None:
    monkeypatch.setattr(conditions, "_program", lambda *_: _Program(gives, kind))
    assert compile_condition("cold", NAMES).decide({"cold": True}) is None
    if kind != "DOUBLE":
        assert compile_formula("hours", NAMES, 1).value({"hours": D(1)}) is None


def test_a_mass_and_balance_problem() -> None:
    # FAA-H-8083-1B ch. 8, helicopter problem: fuel 48 gal of 6.0 lb is 288 lb; total 2,203 lb.
    names = {
        "empty": NameType("number", 0, "lb"),
        "crew": NameType("number", 0, "lb"),
        "fuel": NameType("number", 1, "US gal"),
        "density": NameType("number", 1, "lb/US gal"),
    }
    total = compile_formula("empty + crew + fuel * density", names, 0)
    values: dict[str, Value] = {
        "empty": D(1545), "crew": D(370), "fuel": D(48), "density": D("6.0")
    }  # fmt: skip
    assert total.value(values) == D(2203)


def test_the_library_is_imported_with_the_first_expression_only() -> None:
    script = (
        "import sys, runner.engine.conditions as c\n"
        "assert not any('cel' in m.split('.')[0] for m in sys.modules), 'too early'\n"
        "c.compile_condition('a', {'a': c.NameType('truth')})\n"
        "assert 'cel_expr_python' in sys.modules\n"
    )
    root = Path(conditions.__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=root, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_what_the_library_refuses_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    class Refusing:
        def compile(self, text: str) -> Any:
            raise RuntimeError("no such thing\n  in C++")

    monkeypatch.setattr(conditions, "_environment", lambda functions: Refusing())
    with pytest.raises(ConditionFault) as caught:
        compile_condition("cold", NAMES)
    assert caught.value.what.endswith("refuses this: no such thing")


def test_memory_is_bounded_and_never_changes_a_decision() -> None:
    condition = compile_condition("oil_temp < 80.0", NAMES)
    for _ in range(2):
        for degrees_now in range(300):
            assert condition.decide({"oil_temp": D(degrees_now)}) is (degrees_now < 80)
    assert repr(condition) == "Condition('oil_temp < 80.0')"


def test_a_decision_is_kept_for_a_book_and_for_nothing_that_may_change() -> None:
    condition = compile_condition("hook == 'FITTED'", {"hook": NameType("text")})
    loose: dict[str, Any] = {"hook": "FITTED"}
    assert condition.decide(loose) is True
    loose["hook"] = "NOT FITTED"
    assert condition.decide(loose) is False
    book = Book({"hook": "FITTED"})
    assert condition.decide(book) is True
    assert condition.decide(book.having("hook", "NOT FITTED")) is False
    assert condition.decide(book.without("hook")) is None
    assert condition.decide(book) is True
