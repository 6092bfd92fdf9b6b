"""Expressions drawn at random, each with what it gives by rational arithmetic written here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from hypothesis import strategies as st

from runner.engine.conditions import Value
from tests.runner.engine.expression_names import NAMES

D = Decimal


@dataclass(frozen=True)
class Made:
    """A generated expression: its text, and what it gives by rationals and three-valued logic.

    `decimals` are those that a number has exactly.
    """

    text: str
    gives: Any
    decimals: int = 0


def lookup(name: str) -> Any:
    def gives(values: Mapping[str, Value]) -> Any:
        value = values.get(name)
        return Fraction(value) if isinstance(value, Decimal) else value

    return gives


def too_long(value: Any, decimals: int) -> bool:
    """Whether a number with its decimals has more digits than are decided upon (15)."""
    return isinstance(value, Fraction) and abs(value) * 10**decimals >= 10**15


def combined(op: str, left: Made, right: Made) -> Made:
    def gives(values: Mapping[str, Value]) -> Any:
        a, b = left.gives(values), right.gives(values)
        if op in ("&&", "||"):
            decides = op == "||"
            if a is decides or b is decides:
                return decides
            return None if a is None or b is None else not decides
        if a is None or b is None:
            return None
        if op in COMPARED and (too_long(a, left.decimals) or too_long(b, right.decimals)):
            return None
        return {
            "<": lambda: a < b, "<=": lambda: a <= b, ">": lambda: a > b, ">=": lambda: a >= b,
            "==": lambda: a == b, "!=": lambda: a != b, "+": lambda: a + b, "-": lambda: a - b,
            "*": lambda: a * b,
        }[op]()  # fmt: skip

    places = left.decimals + right.decimals if op == "*" else max(left.decimals, right.decimals)
    return Made(f"({left.text} {op} {right.text})", gives, places)


def literal(text: str) -> Made:
    return Made(text, lambda values: Fraction(text), len(text.partition(".")[2]))


COMPARED = ("<", "<=", ">", ">=", "==", "!=")
RELATIONS = st.sampled_from(COMPARED)
pressures = st.decimals(min_value=28, max_value=31, places=2)
degrees = st.integers(-40, 300).map(D)
literals = st.decimals(min_value=0, max_value=200, places=2).map(lambda v: literal(f"{v:f}"))


def numbers(names: list[str], sums: bool) -> st.SearchStrategy[Made]:
    leaves = (
        st.sampled_from([Made(name, lookup(name), NAMES[name].decimals) for name in names])
        | literals
    )
    if not sums:
        return leaves
    return st.recursive(
        leaves,
        lambda inner: (
            st.builds(combined, st.sampled_from(["+", "-"]), inner, inner)
            | st.builds(combined, st.just("*"), inner, literals)
        ),
        max_leaves=4,
    )


def truths(sums: bool) -> st.SearchStrategy[Made]:
    alike = [["oil_temp", "head_temp"], ["left", "right"]]
    compared = st.one_of(
        [st.builds(combined, RELATIONS, numbers(n, sums), numbers(n, sums)) for n in alike]
    )
    text = st.builds(
        lambda word, op: combined(
            op, Made("hook", lookup("hook")), Made(f"'{word}'", lambda v: word)
        ),
        st.sampled_from(["FITTED", "RIGGED"]),
        st.sampled_from(["==", "!="]),
    )
    flags = st.sampled_from([Made(name, lookup(name)) for name in ("cold", "passengers")])

    def deny(made: Made) -> Made:
        def gives(values: Mapping[str, Value]) -> Any:
            value = made.gives(values)
            return None if value is None else not value

        return Made(f"!{made.text}", gives)

    return st.recursive(
        compared | text | flags,
        lambda inner: (
            st.builds(combined, st.sampled_from(["&&", "||"]), inner, inner) | inner.map(deny)
        ),
        max_leaves=5,
    )


KNOWN: dict[str, st.SearchStrategy[Any]] = {
    "hook": st.sampled_from(["FITTED", "NOT FITTED", "RIGGED"]),
    "cold": st.booleans(),
    "passengers": st.booleans(),
    "oil_temp": degrees,
    "head_temp": degrees,
    "left": pressures,
    "right": pressures,
}
whole: st.SearchStrategy[dict[str, Value]] = st.fixed_dictionaries(KNOWN)
partly: st.SearchStrategy[dict[str, Value]] = st.fixed_dictionaries({}, optional=KNOWN)
