"""Conditions in plain words, and their denials."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine.conditions import compile_condition, explain
from tests.runner.engine.expression_names import NAMES


@pytest.mark.parametrize(
    ("text", "is_true", "is_false"),
    [
        ("hook == 'FITTED'", "cargo hook FITTED", "cargo hook not FITTED"),
        ("hook != 'FITTED'", "cargo hook not FITTED", "cargo hook FITTED"),
        ("cold", "cold day", "no cold day"),
        ("!cold", "no cold day", "cold day"),
        ("cold == true", "cold day", "no cold day"),
        ("false != cold", "cold day", "no cold day"),
        ("oil_temp < 80.0", "oil temp below 80 °C", "oil temp at least 80 °C"),
        ("oil_temp >= 80.5", "oil temp at least 80.5 °C", "oil temp below 80.5 °C"),
        ("80.0 > oil_temp", "80 °C above oil temp", "80 °C at most oil temp"),
        ("starts == 0.0", "starts 0", "starts not 0"),
        (
            "cold && (hook == 'FITTED' || passengers)",
            "cold day and (cargo hook FITTED or passengers)",
            "no cold day or (cargo hook not FITTED and no passengers)",
        ),
        ("cold && passengers && !cold", "cold day and passengers and no cold day",
         "no cold day or no passengers or cold day"),
        ("!(cold || passengers)", "no cold day and no passengers", "cold day or passengers"),
        ("hook in ['FITTED', 'RIGGED']", "cargo hook FITTED or RIGGED",
         "cargo hook none of FITTED, RIGGED"),
        ("hook in ['FITTED']", "cargo hook FITTED", "cargo hook not FITTED"),
        ("left - (right - left) <= 0.30", "left minus (right minus left) at most 0.3 inHg",
         "left minus (right minus left) above 0.3 inHg"),
        ("math.abs(left - right) > 0.3", "the size of (left minus right) above 0.3 inHg",
         "the size of (left minus right) at most 0.3 inHg"),
        ("cold ? passengers : !passengers",
         "if cold day, then passengers, otherwise no passengers",
         "if cold day, then no passengers, otherwise passengers"),
        ("cold == passengers", "(cold day exactly when passengers)",
         "(cold day exactly when not: passengers)"),
        ("true", "always", "never"),
        ("(cold && passengers ? left : right) > 1.0",
         "(left if cold day and passengers, otherwise right) above 1 inHg",
         "(left if cold day and passengers, otherwise right) at most 1 inHg"),
        ("(cold ? left : -right) > 1.0",
         "(left if cold day, otherwise minus right) above 1 inHg",
         "(left if cold day, otherwise minus right) at most 1 inHg"),
    ],
)  # fmt: skip
def test_plain_words(text: str, is_true: str, is_false: str) -> None:
    condition = compile_condition(text, NAMES)
    assert explain(condition) == is_true
    assert explain(condition, truth=False) == is_false


SIMPLE = ["cold", "passengers", "hook == 'FITTED'", "oil_temp < 80.0", "left - right >= 0.3"]
conditions = st.recursive(
    st.sampled_from(SIMPLE),
    lambda inner: (
        st.tuples(inner, st.sampled_from(["&&", "||"]), inner).map(
            lambda parts: f"({' '.join(parts)})"
        )
        | inner.map("!({})".format)
    ),
    max_leaves=5,
)


@given(conditions)
def test_a_denial_says_the_same_as_the_condition_denied(text: str) -> None:
    condition = compile_condition(text, NAMES)
    denied = compile_condition(f"!({text})", NAMES)
    assert explain(condition, truth=False) == explain(denied)
    assert explain(condition) == explain(denied, truth=False)
    assert "_" not in explain(condition)
