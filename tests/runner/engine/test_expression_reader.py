"""The reader of expressions: every fault with its place, names, and units.

Oracles: the PyPI package `common-expression-language` (another implementation of CEL) and raw
`cel-expr-python` on the author's own text.
"""

from __future__ import annotations

import itertools

import cel as oracle
import pytest
from cel_expr_python import cel as raw  # type: ignore[import-untyped]
from hypothesis import given
from hypothesis import strategies as st

from runner.engine import conditions
from runner.engine.conditions import (
    ConditionFault,
    NameType,
    check_name,
    compile_condition,
    compile_formula,
)
from tests.runner.engine.expression_names import NAMES, RAW

FAULTS: list[tuple[str, int, str, str]] = [
    # source, offset, part of what, suggestion
    ("", 0, "nothing", ""),
    ("   ", 0, "nothing", ""),
    ("hook", 0, "a text", ""),
    ("oil_temp", 0, "a number", ""),
    ("oil_temp < 80", 11, "the whole number 80", "80.0"),
    ("oil_temp > -5", 12, "the whole number 5", "5.0"),
    ("1 == 1", 0, "the whole number 1", "1.0"),
    ("oil_temp < 8e1", 11, "'8e1'", ""),
    ("oil_temp < 80u", 11, "'80u'", ""),
    ("oil_temp < 0x50", 11, "'0x50'", ""),
    ("oil_temp < .5", 11, "'.5'", ""),
    ("oil_temp < 1234567890123.456", 11, "this long", ""),
    ("oil_temp < left", 9, "°C beside inHg", ""),
    ("oil_temp + left < 1.0", 9, "°C beside inHg", ""),
    ("(cold ? oil_temp : left) < 1.0", 6, "°C beside inHg", ""),
    ("starts < hours", 7, "a count beside h", ""),
    ("math.least(oil_temp, left) < 1.0", 21, "°C beside inHg", ""),
    ("hook == FITTED", 8, "'FITTED' is not declared", "'FITTED'"),
    ("hook == 'FITED'", 8, "never 'FITED'", "'FITTED'"),
    ("hook in ['FITTED', 'RIGED']", 19, "never 'RIGED'", "'RIGGED'"),
    ("oil_tmp < 1.0", 0, "'oil_tmp' is not declared", "oil_temp"),
    ("0.0 < oil_temp < 8.0", 15, "a second '<'", "low < x && x < high"),
    ("[1.0].exists(x, x > oil_temp)", 0, "'['", ""),
    ("cold.all(x, x)", 4, "'.'", ""),
    ("has(oil_temp)", 0, "the macro 'has'", ""),
    ("size(hook) > 1.0", 0, "the function 'size'", ""),
    ("hook.startsWith('F')", 4, "'.'", ""),
    ("math.round(hours) > 1.0", 5, "'round'", ""),
    ("math.abs(hours, hours) > 1.0", 0, "2 values", ""),
    ("cold and passengers", 5, "'and'", "&&"),
    ("not cold", 0, "'not' is not declared", "!"),
    ("cold || or", 8, "'or' is not declared", "||"),
    ("oil_temp = 8.0", 9, "'='", "=="),
    ("oil_temp \N{LESS-THAN OR EQUAL TO} 8.0", 9, "\N{LESS-THAN OR EQUAL TO}", "<="),
    ("oil_temp > 80.0 °C", 16, "°", ""),
    ("oil_temp > 80.0 rpm", 16, "'rpm'", ""),
    ("left / right < 2.0", 5, "a quotient", "a computed value with its decimals, "
     "compared by its name"),
    ("oil_temp / 0.0 < 2.0", 9, "division by zero", ""),
    ("oil_temp % 2.0 == 1.0", 9, "'%'", ""),
    ("hook == 'FITTED", 8, "without its partner", ""),
    ("hook == 'A\\n'", 8, "without its partner", ""),
    ("hook == r'A'", 8, "before a text", ""),
    ("cold == 'x'", 8, "a text here", ""),
    ("cold && hook", 8, "a text here", "hook == 'VALUE'"),
    ("cold in [true]", 5, "true or false", ""),
    ("oil_temp in [head_temp]", 13, "this in a list", ""),
    ("oil_temp in 80.0", 12, "'80.0'", ""),
    ("{'a': 1.0}", 0, "'{'", ""),
    ("null == hook", 0, "'null' is not declared", ""),
    ("(cold", 5, "the end", ""),
    ("cold)", 4, "')'", ""),
    ("cold ?", 6, "the end", ""),
    ("cold &&", 7, "the end", ""),
    ("(" * 30 + "cold" + ")" * 30, 24, "too many levels", ""),
    ("!" * 30 + "cold", 23, "too many levels", ""),
    ("cold" + " || cold" * 200, 1000, "1604 characters", ""),
    ("hook < 'FITTED'", 0, "a text here", ""),
    ("cold ? 1.0 : true", 13, "true or false", ""),
    ("cold // comment", 6, "'/'", ""),
]  # fmt: skip


@pytest.mark.parametrize(("source", "offset", "what", "suggestion"), FAULTS)
def test_faults(source: str, offset: int, what: str, suggestion: str) -> None:
    with pytest.raises(ConditionFault) as caught:
        compile_condition(source, NAMES)
    fault = caught.value
    assert what in fault.what
    assert fault.allowed
    assert (fault.offset, fault.suggestion) == (offset, suggestion)
    assert fault.what in str(fault)
    assert fault.suggestion in str(fault)


@pytest.mark.parametrize(
    "name",
    ["int", "double", "string", "type", "list", "map", "in", "true", "null", "var", "size", "math"],
)
def test_reserved_and_type_names_are_refused(name: str) -> None:
    with pytest.raises(ConditionFault) as caught:
        check_name(name)
    assert caught.value.suggestion == f"{name}_value"
    with pytest.raises(ConditionFault):
        compile_condition("cold", NAMES | {name: NameType("number")})


def test_every_name_that_breaks_the_library_is_refused() -> None:
    # langdef.md lists these; the library itself is asked whether it can use them.
    words = "int uint double bool string bytes list map null_type type dyn as break const continue \
else for function if import let loop package namespace return var void while in true false null"
    for name in words.split():
        with pytest.raises(ConditionFault):
            check_name(name)
        with pytest.raises(RuntimeError):
            raw.NewEnv(variables={name: raw.Type.DOUBLE}).compile(f"{name} > 1.0")


@pytest.mark.parametrize("name", ["", "1st", "oil temp", "oil-temp", "_x", "é", "a.b"])
def test_malformed_names_are_refused(name: str) -> None:
    with pytest.raises(ConditionFault):
        check_name(name)


def test_declarations_are_checked() -> None:
    with pytest.raises(ValueError, match="colour"):
        NameType("colour")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="10 decimals"):
        NameType("number", 10)
    with pytest.raises(ConditionFault):
        compile_formula("hours", NAMES, 10)
    with pytest.raises(ConditionFault):
        compile_formula("cold", NAMES, 0)
    check_name("oil_temp")


def test_too_many_names_and_parts_are_refused() -> None:
    many = {f"n{index}": NameType("number") for index in range(conditions.MOST + 1)}
    with pytest.raises(ConditionFault):
        compile_condition(" + ".join(many) + " > 1.0", many)
    few = dict(itertools.islice(many.items(), conditions.MOST))
    assert compile_condition(" + ".join(few) + " > 1.0", few).names == frozenset(few)
    part = "n0 + n1 > 1.0"
    with pytest.raises(ConditionFault):
        compile_condition(" || ".join([part] * (conditions.MOST + 1)), few)


@given(st.text(max_size=80))
def test_no_text_makes_anything_but_a_fault(text: str) -> None:
    offset = 0
    try:
        compile_condition(text, NAMES)
    except ConditionFault as fault:
        offset = fault.offset
    assert 0 <= offset <= len(text)


@given(st.lists(st.sampled_from(
    ["hook", "cold", "oil_temp", "left", "'FITTED'", "80.0", "1", "<", "==", "&&", "||", "!", "(",
     ")", "[", "]", ",", "?", ":", "+", "-", "*", "/", "in", ".", "math", "abs"]),
    max_size=12))  # fmt: skip
def test_what_the_reader_takes_the_libraries_take_too(pieces: list[str]) -> None:
    text = " ".join(pieces)
    try:
        condition = compile_condition(text, NAMES)
    except ConditionFault:
        return
    assert condition.names == frozenset(oracle.compile(text).variables())
    assert RAW.compile(text).return_type() == raw.Type.BOOL


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("weight * arm", "in·lb"),
        ("fuel * density", "lb"),
        ("fuel * density + weight", "lb"),
        ("weight * arm / weight", "in"),
        ("fuel / burn", "h"),
        ("1.0 / burn", "h/US gal"),
        ("count * weight", "lb"),
        ("weight / weight", ""),
        ("2.0 * 3.0", None),
    ],
)
def test_units_of_formulas(text: str, unit: str | None) -> None:
    names = {
        "weight": NameType("number", 0, "lb"),
        "arm": NameType("number", 1, "in"),
        "fuel": NameType("number", 0, "US gal"),
        "density": NameType("number", 1, "lb/US gal"),
        "burn": NameType("number", 0, "US gal/h"),
        "count": NameType("number", 0, "count"),
    }
    assert compile_formula(text, names, 2).unit == unit
