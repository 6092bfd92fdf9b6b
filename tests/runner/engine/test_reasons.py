"""Why something is not required: few words, and true ones."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runner.engine.conditions import Condition, NameType, Value, compile_condition
from runner.engine.reasons import denying, holds, why_not
from runner.flow.names import BUILT_IN
from tests.runner.engine.expression_names import NAMES

ALL = NAMES | BUILT_IN | {"fit_hook": NameType("truth", label="hook")}
ROTOR = {"rotor": NameType("text", label="Rotor", allowed=("TURNING", "STANDING"))}
LATER = {"first_flight": False, "stopped_minutes": Decimal(45), "rotor_turning": False}


@pytest.mark.parametrize(
    ("text", "values", "said"),
    [
        ("fit_hook", {"fit_hook": False}, "no hook"),
        ("!fit_hook", {"fit_hook": True}, "hook"),
        ("airborne", {"airborne": False}, "on the ground"),
        ("!airborne", {"airborne": True}, "airborne"),
        ("engine_running", {"engine_running": False}, "engine stopped"),
        ("first_flight", {"first_flight": False}, "a later flight"),
        ("!first_flight", {"first_flight": True}, "first flight"),
        ("flight == 2.0", {"flight": Decimal(1)}, "flight 1"),
        ("flight != 2.0", {"flight": Decimal(2)}, "flight 2"),
        ("rotor == 'STANDING'", {"rotor": "TURNING"}, "Rotor TURNING"),
        ("rotor != 'STANDING'", {"rotor": "STANDING"}, "Rotor STANDING"),
        ("hook in ['FITTED', 'RIGGED']", {"hook": "NOT FITTED"}, "cargo hook NOT FITTED"),
        ("!(hook in ['FITTED', 'RIGGED'])", {"hook": "FITTED"}, "cargo hook FITTED"),
        ("starts > 0.0", {"starts": Decimal(0)}, "starts 0"),
        ("starts > 2.0", {"starts": Decimal(0)}, "starts at most 2"),
        ("oil_temp < 80.0", {"oil_temp": Decimal(95)}, "oil temp at least 80 °C"),
        ("oil_temp <= 80.0", {"oil_temp": Decimal(95)}, "oil temp above 80 °C"),
        ("oil_temp >= 80.0", {"oil_temp": Decimal(-12)}, "oil temp below 80 °C"),
        ("left > 0.35", {"left": Decimal("0.1")}, "left at most 0.35 inHg"),
        ("stopped_minutes < 30.0", LATER, "engine stop at least 30 min"),
        # of several parts the author's first that fails; of alternatives all
        ("!first_flight && !rotor_turning && stopped_minutes < 30.0", LATER,
         "engine stop at least 30 min"),
        ("!first_flight && rotor_turning", {"first_flight": True}, "first flight"),
        ("fit_hook && rotor_turning", LATER, "rotor stopped"),
        ("first_flight || rotor_turning", LATER, "a later flight and rotor stopped"),
        ("starts > 0.0 || (hours > 0.0 && starts == 0.0)",
         {"starts": Decimal(0), "hours": Decimal("0.0")}, "starts 0 and hours 0 h"),
        ("!(first_flight || cold)", {"cold": True, "first_flight": False}, "cold day"),
        # what values do not tell is said whole
        ("fit_hook", {}, "no hook"),
        ("rotor == 'STANDING'", {}, "Rotor not STANDING"),
        ("cold && rotor == 'STANDING'", {}, "no cold day or Rotor not STANDING"),
        ("left + right > 1.0", {"left": Decimal(0), "right": Decimal("0.25")},
         "left plus right at most 1 inHg"),
        ("cold && left + right > 1.0",
         {"cold": True, "left": Decimal(0), "right": Decimal("0.25")},
         "no cold day or left plus right at most 1 inHg"),
        ("cold ? passengers : fit_hook", {"cold": True, "passengers": False, "fit_hook": True},
         "if cold day, then no passengers, otherwise no hook"),
        ("cold == passengers", {"cold": True, "passengers": False},
         "(cold day exactly when not: passengers)"),
    ],
)  # fmt: skip
def test_a_reason_is_short_and_true(text: str, values: dict[str, Value], said: str) -> None:
    condition = compile_condition(text, ALL | ROTOR)
    assert why_not(condition, values) == said
    single = condition.tree if condition.tree.op != "!" else condition.tree.args[0]
    if single.op == "name" or (single.args[0].op == "name" and single.args[0].kind != "truth"):
        assert len(said) <= 28


def test_a_condition_that_holds_is_never_given_a_reason_from_values() -> None:
    condition = compile_condition("hook == 'FITTED'", NAMES)
    assert why_not(condition, {"hook": "FITTED"}) == "cargo hook not FITTED"


LEAVES = [
    "cold", "passengers", "hook == 'FITTED'", "hook != 'RIGGED'", "hook in ['FITTED', 'RIGGED']",
    "oil_temp < 80.0", "oil_temp >= 79.5", "starts == 0.0", "starts != 2.0", "0.0 < starts",
    "left - right >= 0.3", "cold == passengers", "(cold ? passengers : cold)", "left > 0.3",
]  # fmt: skip
texts = st.recursive(
    st.sampled_from(LEAVES),
    lambda inner: (
        st.tuples(inner, st.sampled_from(["&&", "||"]), inner).map(
            lambda parts: f"({' '.join(parts)})"
        )
        | inner.map("!({})".format)
    ),
    max_leaves=6,
)
numbers = st.sampled_from(["0", "0.25", "0.30", "2", "79", "80", "81"]).map(Decimal)
knowns = st.fixed_dictionaries(
    {},
    optional={
        "cold": st.booleans(), "passengers": st.booleans() | st.just("FITTED"),
        "hook": st.sampled_from(["FITTED", "NOT FITTED", "RIGGED"]) | st.just(True),
        "oil_temp": numbers, "starts": numbers, "left": numbers, "right": numbers,
    },
)  # fmt: skip


@given(texts, knowns)
def test_what_is_said_is_denied_by_the_same_values(text: str, values: Mapping[str, Value]) -> None:
    condition: Condition = compile_condition(text, NAMES)
    decided = condition.decide(values)
    told = holds(condition.tree, values)
    # The comparisons here never contradict CEL: they know the same or nothing.
    assert told is None or told is decided
    if decided is False:
        part = denying(condition.tree, values)
        assert holds(part, values) is not True
        assert told is None or holds(part, values) is False
