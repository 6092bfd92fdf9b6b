"""Conditions and formulas: the one door to the Common Expression Language (CEL).

One job: compile what an author wrote, and decide it from the values that are known. Rules: a
decision is True, False or None, where None means *not known yet* and passes nothing; whatever goes
wrong inside is None. A number reaches CEL rounded half even to its declared decimals and leaves it
the same way: in a comparison each computed side is a small program of its own whose result is
rounded to the decimals that the sum, difference or product has exactly, before CEL compares it. So
no decision hangs on binary rounding. Limits are never compared here. CEL is imported when the first
expression is compiled.

CEL's own semantics hold for what is missing: `a && b` is False as soon as one is False, `a || b`
True as soon as one is True, whichever is unknown (cel-spec, doc/langdef.md, "Logical Operators").
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_HALF_EVEN, Context, Decimal, InvalidOperation
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final, Literal

from runner.engine import condition_words, expression_reader
from runner.engine.book import Book
from runner.engine.expressions import ConditionFault, NameType, Node, check_name, unit_text

__all__ = [
    "Condition",
    "ConditionFault",
    "Formula",
    "NameType",
    "Names",
    "Value",
    "check_name",
    "compile_condition",
    "compile_formula",
    "explain",
]

Names = Mapping[str, NameType]
Value = Decimal | str | bool

MOST: Final = 24
"""Most names of one kind, and most computed parts, in one expression."""

_SIGNIFICANT: Final = 15  # decimal digits that every binary64 number keeps
_GUARD: Final = 8  # digits behind the declared ones at which binary noise is taken away
_REMEMBERED: Final = 64
_CONTEXT: Final = Context(prec=400, rounding=ROUND_HALF_EVEN, traps=[InvalidOperation])
_TYPES: Final[dict[str, type]] = {"number": Decimal, "text": str, "truth": bool}
_LETTERS: Final = {"number": "n", "text": "t", "truth": "b"}


class _Part:
    """A program whose number other programs read: a rounded side, or a divisor that is not 0."""

    __slots__ = ("decimals", "name", "program")

    def __init__(self, name: str, program: Any, decimals: int | None) -> None:
        self.name = name
        self.program = program
        self.decimals = decimals


class _Compiled:
    """What conditions and formulas share: the names, the parts, and the last program."""

    __slots__ = (
        "_labels", "_last", "_names", "_needs", "_parts", "_program", "_seen", "_source", "_tree",
    )  # fmt: skip

    def __init__(self, source: str, tree: Node, names: Names) -> None:
        self._source = source
        self._tree = tree
        self._names = tree.names
        used = sorted(self._names)
        self._labels = {name: names[name].label for name in used}
        lowered = _Lowered({name: names[name].kind for name in used}, tree)
        self._needs = tuple(
            (name, lowered.codes[name], _TYPES[names[name].kind], names[name].decimals)
            for name in used
        )
        self._parts = tuple(
            _Part(name, _program(text, "number", tree.offset), decimals)
            for name, text, decimals in lowered.parts
        )
        self._program = _program(lowered.text, tree.kind, tree.offset)
        self._seen: dict[tuple[Value | None, ...], Any] = {}
        self._last: tuple[Book | None, bool | None] = (None, None)

    @property
    def source(self) -> str:
        """The expression as the author wrote it."""
        return self._source

    @property
    def names(self) -> frozenset[str]:
        """The names that it reads."""
        return self._names

    @property
    def tree(self) -> Node:
        """The checked tree, for those who put it into words."""
        return self._tree

    @property
    def labels(self) -> Mapping[str, str]:
        """The plain words of each name that it reads; empty where none were declared."""
        return MappingProxyType(self._labels)

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self._source!r})"

    def _known(self, values: Mapping[str, Value]) -> tuple[Value | None, ...]:
        known: list[Value | None] = []
        for name, _, kind, _ in self._needs:
            value = values.get(name)
            if value.__class__ is not kind or (kind is Decimal and not value.is_finite()):  # type: ignore[union-attr]
                value = None
            known.append(value)
        return tuple(known)

    def _run(self, known: tuple[Value | None, ...]) -> Any:
        """The value of the last program; None for an exception, an error or a missing name."""
        data: dict[str, float | str | bool] = {}
        for (_, code, _, decimals), value in zip(self._needs, known, strict=True):
            if isinstance(value, Decimal):
                number = _rounded(value, decimals)
                if number is not None:
                    data[code] = float(number)
            elif value is not None:
                data[code] = value
        for part in self._parts:
            number = _finite(_evaluated(part.program, data), part.decimals)
            if number is not None and (part.decimals is not None or number):
                data[part.name] = float(number)
        return _evaluated(self._program, data)

    def _remember(self, known: tuple[Value | None, ...], result: Any) -> None:
        if len(self._seen) >= _REMEMBERED:
            self._seen.clear()
        self._seen[known] = result


_ABSENT: Final = object()


class Condition(_Compiled):
    """A compiled condition. Made by `compile_condition`; never changes what it decides."""

    __slots__ = ()

    def decide(self, values: Mapping[str, Value]) -> bool | None:
        """True, False, or None where the known values do not decide it.

        A value that is missing, of another kind than declared, not finite, or too large for its
        decimals (15 digits in all) counts as unknown.
        """
        # Many steps of a list share a condition, and a book never changes.
        asked, last = self._last
        if asked is values:
            return last
        known = self._known(values)
        decided: bool | None = self._seen.get(known, _ABSENT)
        if decided is _ABSENT:
            result = self._run(known)
            decided = result if result is True or result is False else None
            self._remember(known, decided)
        if type(values) is Book:
            self._last = (values, decided)
        return decided


class Formula(_Compiled):
    """A compiled formula. Made by `compile_formula`; never changes what it gives."""

    __slots__ = ("_decimals",)

    def __init__(self, source: str, tree: Node, names: Names, decimals: int) -> None:
        super().__init__(source, tree, names)
        self._decimals = decimals

    @property
    def decimals(self) -> int:
        """The declared decimals of the result."""
        return self._decimals

    @property
    def unit(self) -> str | None:
        """The unit that the result has by its names ("" for a count), None for bare numbers."""
        return None if self._tree.unit is None else unit_text(self._tree.unit)

    def value(self, values: Mapping[str, Value]) -> Decimal | None:
        """The result, rounded half even to the declared decimals; None where it is not known.

        Division by zero, a result not finite, or of more than 15 digits are not known either.
        """
        known = self._known(values)
        number: Decimal | None = self._seen.get(known, _ABSENT)
        if number is _ABSENT:
            number = _finite(self._run(known), self._decimals, self._tree.decimals)
            self._remember(known, number)
        return number


def compile_condition(source: str, names: Names) -> Condition:
    """A condition over declared names. Raises `ConditionFault` for anything it may not contain."""
    return Condition(source, expression_reader.read(source, names, "truth"), names)


def compile_formula(source: str, names: Names, decimals: int) -> Formula:
    """A formula over declared names, whose result has `decimals` (0 to 9) decimals.

    Raises `ConditionFault` for anything it may not contain.
    """
    if not 0 <= decimals <= 9:
        raise ConditionFault(f"{decimals} decimals", "0 to 9")
    return Formula(source, expression_reader.read(source, names, "number"), names, decimals)


def explain(condition: Condition, truth: bool = True) -> str:
    """A condition in plain words ("hook is FITTED"); with `truth` False, its denial."""
    return condition_words.words(condition.tree, condition.labels, truth)


def _rounded(value: Decimal, decimals: int) -> Decimal | None:
    """`value` half even at `decimals`, never minus zero; None if it has too many digits."""
    if value and value.adjusted() + decimals >= _SIGNIFICANT:
        return None
    rounded = value.quantize(Decimal((0, (1,), -decimals)), context=_CONTEXT)
    return rounded if rounded else rounded.copy_abs()


def _finite(result: Any, decimals: int | None, exact: int | None = None) -> Decimal | None:
    """The number of a float that CEL gave, rounded if decimals are given; binary noise is taken
    away first, behind the decimals that the number has by itself (`exact`; None: a quotient)."""
    number = Decimal(result) if result.__class__ is float else None
    if number is None or not number.is_finite():
        return None
    if decimals is None:
        return number
    if number and number.adjusted() + decimals >= _SIGNIFICANT:
        return None
    there = decimals + _GUARD if exact is None else max(exact, decimals)
    kept = min(there, _SIGNIFICANT - 1 - number.adjusted()) if number else there
    return _rounded(number.quantize(Decimal((0, (1,), -kept)), context=_CONTEXT), decimals)


def _evaluated(program: Any, data: dict[str, float | str | bool]) -> Any:
    """The truth or number that a program gives; None for an exception, an error, anything else."""
    try:
        result = program.eval(data=data)
        if result.type().name() in ("BOOL", "DOUBLE"):
            return result.value()
    except Exception:  # whatever the library raises means: not known
        return None
    return None


class _Lowered:
    """CEL text of a tree, over names of our own choosing so that one environment serves all.

    Computed sides of comparisons and divisors become parts, innermost first.
    """

    def __init__(self, kinds: Mapping[str, str], tree: Node) -> None:
        self.codes: dict[str, str] = {}
        self.parts: list[tuple[str, str, int | None]] = []
        for kind, letter in _LETTERS.items():
            mine = [name for name, other in kinds.items() if other == kind]
            if len(mine) > MOST:
                raise ConditionFault(f"{len(mine)} names of one kind", f"at most {MOST}")
            self.codes.update((name, f"{letter}{index}") for index, name in enumerate(mine))
        self.text = self._text(tree)

    def _part(self, node: Node, decimals: int | None) -> str:
        text = self._text(node)
        if len(self.parts) >= MOST:
            raise ConditionFault("too many computed values", f"at most {MOST}", offset=node.offset)
        name = f"c{len(self.parts)}"
        self.parts.append((name, text, decimals))
        return name

    def _side(self, node: Node) -> str:
        if node.kind != "number" or node.op in ("name", "literal", "list"):
            return self._text(node)
        if node.decimals is None:
            raise ConditionFault(
                "a quotient in a comparison",
                "sums, differences and products; a quotient is rounded first",
                suggestion="a computed value with its decimals, compared by its name",
                offset=node.offset,
            )
        return self._part(node, node.decimals)

    def _text(self, node: Node) -> str:
        op, args = node.op, node.args
        if op == "name":
            return self.codes[str(node.value)]
        if op == "literal":
            return _literal(node.value)
        if op in ("!", "neg"):
            return f"{'!' if op == '!' else '-'}({self._text(args[0])})"
        if op == "?:":
            return "({} ? {} : {})".format(*(self._text(arg) for arg in args))
        if op == "list":
            return f"[{', '.join(self._text(arg) for arg in args)}]"
        if op in expression_reader.FUNCTIONS:
            return f"math.{op}({', '.join(self._text(arg) for arg in args)})"
        if op in ("<", "<=", ">", ">=", "==", "!=", "in"):
            return f"({self._side(args[0])} {op} {self._side(args[1])})"
        if op == "/" and args[1].op != "literal":
            return f"({self._text(args[0])} / {self._part(args[1], None)})"
        return f"({self._text(args[0])} {op} {self._text(args[1])})"


def _literal(value: Value) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        return f"({value:f})" if value.is_signed() else f"{value:f}"
    return f"'{value}'" if "'" not in value else f'"{value}"'


@lru_cache(maxsize=2)
def _environment(functions: bool) -> Any:
    from cel_expr_python import cel  # type: ignore[import-untyped]

    kinds = {"n": cel.Type.DOUBLE, "c": cel.Type.DOUBLE, "t": cel.Type.STRING, "b": cel.Type.BOOL}
    variables = {f"{letter}{n}": kind for letter, kind in kinds.items() for n in range(MOST)}
    if not functions:
        return cel.NewEnv(variables=variables)
    from cel_expr_python.ext import ext_math  # type: ignore[import-untyped]

    return cel.NewEnv(variables=variables, extensions=[ext_math.ExtMath()])


def _program(text: str, kind: Literal["number", "text", "truth"], offset: int) -> Any:
    try:
        program = _environment("math." in text).compile(text)
        gives = program.return_type().name()
    except RuntimeError as refusal:
        raise ConditionFault(
            "the expression language refuses this: " + str(refusal).splitlines()[0],
            "a simpler expression", offset=offset,
        ) from None  # fmt: skip
    if gives != ("BOOL" if kind == "truth" else "DOUBLE"):
        raise ConditionFault(f"this gives {gives.lower()}", kind, offset=offset)
    return program
