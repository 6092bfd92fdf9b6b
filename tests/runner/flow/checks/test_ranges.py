"""What a formula can give: every value that it does give lies within."""

from __future__ import annotations

from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runner.engine.conditions import compile_formula
from runner.flow.checks.ranges import range_of
from runner.flow.checks.subject import Subject
from runner.flow.loader import load_documents

CLEAN = Path(__file__).parents[3] / "examples" / "valid" / "clean"
LOW, HIGH = Decimal(-40), Decimal(300)
WORK = """\
list: work
title: Work
phase: work
steps:
  - {reading: temp, as: cold, challenge: Cold}
  - {reading: temp, as: hot, challenge: Hot}
  - {compute: rise, challenge: Rise, formula: hot - cold, unit: °C}
  - close: Work
"""


@cache
def subject() -> Subject:
    documents = {p.relative_to(CLEAN).as_posix(): p.read_bytes() for p in CLEAN.rglob("*.yaml")}
    return Subject(load_documents({**documents, "lists/work.yaml": WORK.encode()}))


@pytest.mark.parametrize(
    ("source", "low", "high"),
    [
        ("cold", LOW, HIGH),
        ("-cold", -HIGH, -LOW),
        ("hot - cold", LOW - HIGH, HIGH - LOW),
        ("hot + 10.0", LOW + 10, HIGH + 10),
        ("hot * 2.0", LOW * 2, HIGH * 2),
        ("hot * -2.0", HIGH * -2, LOW * -2),
        ("hot / 2.0", LOW / 2, HIGH / 2),
        ("math.abs(cold)", Decimal(0), HIGH),
        ("math.greatest(cold, 0.0)", Decimal(0), HIGH),
        ("math.least(cold, 0.0)", LOW, Decimal(0)),
        ("hook ? cold : 400.0", LOW, Decimal(400)),
        ("rise * 1.0", LOW - HIGH, HIGH - LOW),
    ],
)
def test_the_range_of_a_formula(source: str, low: Decimal, high: Decimal) -> None:
    made = compile_formula(source, subject().table.names, 3)
    assert range_of(subject(), made.tree) == (low, high)


@pytest.mark.parametrize("source", ["hot / cold", "tries * hot", "1.0 / tries"])
def test_what_cannot_be_bounded_is_not(source: str) -> None:
    made = compile_formula(source, subject().table.names, 3)
    assert None in range_of(subject(), made.tree)


NUMBERS = st.integers(-400, 3000).map(lambda n: Decimal(n) / 10)
PARTS = st.sampled_from(["cold", "hot", "2.0", "-1.5"])
TREES = st.recursive(
    PARTS,
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from("+-"), inner).map(lambda t: f"({t[0]} {t[1]} {t[2]})"),
        inner.map(lambda t: f"({t} * 2.0)"),
        inner.map(lambda t: f"({t} / 4.0)"),
        inner.map(lambda t: f"math.abs({t})"),
        st.tuples(inner, inner).map(lambda t: f"math.greatest({t[0]}, {t[1]})"),
        st.tuples(inner, inner).map(lambda t: f"math.least({t[0]}, {t[1]})"),
    ),
    max_leaves=6,
)


@settings(max_examples=60, deadline=None)
@given(TREES, NUMBERS, NUMBERS)
def test_every_value_lies_within_its_range(source: str, cold: Decimal, hot: Decimal) -> None:
    made = compile_formula(source, subject().table.names, 3)
    low, high = range_of(subject(), made.tree)
    value = made.value({"cold": cold, "hot": hot})
    assert low is not None
    assert high is not None
    if value is not None:
        # readings have no decimals here: the engine rounds them before it computes
        assert low - Decimal("0.001") <= value <= high + Decimal("0.001")
