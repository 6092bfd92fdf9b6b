"""The checked tree of a condition or formula.

One job: the types that the reader of expressions makes and the compiler and the plain-words writer
use: declared names, nodes, faults, and the small algebra of units and decimals. Rules: everything
is frozen; nothing is read or evaluated here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal, NamedTuple

Kind = Literal["number", "text", "truth"]
Unit = tuple[tuple[str, int], ...] | None
"""Base units with their exponents, sorted; None for a bare number, which takes any unit."""

# langdef.md: the keywords and RESERVED identifiers of the syntax, and the predefined type names;
# math is the namespace of the functions that a formula may call.
_RESERVED: Final = (
    "true false null in as break const continue else for function if import let loop package "
    "namespace return var void while "
    "int uint double bool string bytes list map null_type type dyn timestamp duration "
    "google math size has all exists exists_one filter"
)
RESERVED: Final = frozenset(_RESERVED.split())
"""What no declared name may be called."""


class ConditionFault(ValueError):
    """What is wrong with a condition, formula or declared name.

    `what` was found, `allowed` may stand there, `nearest` is the nearest allowed spelling,
    `suggestion` what to write instead (both may be empty), `offset` the place in the source,
    counted in characters from 0.
    """

    def __init__(
        self, what: str, allowed: str, nearest: str = "", suggestion: str = "", offset: int = 0
    ) -> None:
        super().__init__(what, allowed, nearest, suggestion, offset)
        self.what = what
        self.allowed = allowed
        self.nearest = nearest
        self.suggestion = suggestion
        self.offset = offset

    def __str__(self) -> str:
        """One line with everything but the place."""
        near = f"; nearest: {self.nearest}" if self.nearest else ""
        hint = f"; write: {self.suggestion}" if self.suggestion else ""
        return f"{self.what}; allowed: {self.allowed}{near}{hint}"


@dataclass(frozen=True, slots=True)
class NameType:
    """What a declared name holds.

    `decimals` (0 to 9) and `unit` are of numbers; a unit may be a quotient or product ("lb/US gal",
    "lb·in"). `label` is the name in plain words, `allowed` all values of a text, where they are
    known.
    """

    kind: Kind
    decimals: int = 0
    unit: str = ""
    label: str = ""
    allowed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.kind not in ("number", "text", "truth"):
            raise ValueError(f"the kind {self.kind!r}; allowed: number, text, truth")
        if not 0 <= self.decimals <= 9:
            raise ValueError(f"{self.decimals} decimals; allowed: 0 to 9")


class Node(NamedTuple):
    """One operator, name or literal of a tree.

    `op` is the CEL operator, or one of name, literal, list, neg, ?:, abs, greatest, least; `value`
    is a name, or the literal as Decimal, str or bool. `decimals` is how many the number needs,
    None for a quotient. `offset` is where the node's own sign stands in the source.
    """

    op: str
    args: tuple[Node, ...]
    kind: Kind
    offset: int
    value: str | bool | Decimal = ""
    unit: Unit = None
    decimals: int | None = 0

    def walk(self) -> Iterable[Node]:
        """This node and everything under it, outermost first."""
        yield self
        for arg in self.args:
            yield from arg.walk()

    @property
    def names(self) -> frozenset[str]:
        """The names that this tree reads."""
        return frozenset(str(node.value) for node in self.walk() if node.op == "name")


def check_name(name: str) -> None:
    """Raise `ConditionFault` unless `name` may be declared for use in conditions."""
    if name in RESERVED:
        raise ConditionFault(
            f"the name {name!r} belongs to the expression language",
            "any other name",
            suggestion=f"{name}_value",
        )
    if not re.fullmatch(r"[A-Za-z][A-Za-z_0-9]*", name):
        raise ConditionFault(f"the name {name[:40]!r}", "letters, digits and _, a letter first")


def unit_of(text: str) -> Unit:
    """The base units of "lb/US gal", "lb·in" or "rpm"; `()` for a count or no unit at all."""
    powers: dict[str, int] = {}
    for position, group in enumerate(text.split("/")):
        for name in group.split("·"):
            if name not in ("", "1", "count"):
                powers[name] = powers.get(name, 0) + (1 if position == 0 else -1)
    return tuple(sorted((name, power) for name, power in powers.items() if power))


def unit_text(unit: Unit) -> str:
    """A unit as an author writes it; empty for a bare number or a count."""
    over = [name for name, power in unit or () for _ in range(max(power, 0))]
    under = [name for name, power in unit or () for _ in range(max(-power, 0))]
    return "/".join(["·".join(over) or ("1" if under else ""), *under])


def most(*nodes: Node) -> int | None:
    every = [node.decimals for node in nodes]
    return None if None in every else max(number or 0 for number in every)


def total(left: Node, right: Node) -> int | None:
    if left.decimals is None or right.decimals is None:
        return None
    return left.decimals + right.decimals


def product(left: Unit, right: Unit, sign: int) -> Unit:
    if left is None and right is None:
        return None
    powers = dict(left or ())
    for name, power in right or ():
        powers[name] = powers.get(name, 0) + sign * power
    return tuple(sorted((name, power) for name, power in powers.items() if power))
