"""Read the text of a condition or formula into a checked tree.

One job: turn the text that an author wrote, in the subset of the Common Expression Language (CEL)
that flows may use, into a tree whose kinds, units and decimals are known, or into a fault with its
place. Rules: nothing is evaluated here; a name is used only if it is declared; numbers of different
units never meet in a sum or comparison; what is not in the subset is refused with what may stand
there instead. Where the subset has an operator, precedence and grouping are those of the CEL
language definition, github.com/google/cel-spec, doc/langdef.md, "Syntax".
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Final, Literal, NoReturn

from runner.engine.expression_tokens import Token, number, tokens
from runner.engine.expressions import (
    RESERVED,
    ConditionFault,
    Kind,
    NameType,
    Node,
    Unit,
    check_name,
    most,
    product,
    total,
    unit_of,
    unit_text,
)
from runner.engine.units import nearest_of

LONGEST: Final = 1000
DEEPEST: Final = 24
MACROS: Final = frozenset({"has", "all", "exists", "exists_one", "map", "filter"})
FUNCTIONS: Final = {"abs": (1, 1), "greatest": (2, 8), "least": (2, 8)}

_WORDS: Final = {"and": "&&", "or": "||", "not": "!", "is": "=="}
_SIGNS: Final = {"=": "==", "&": "&&", "|": "||", "\N{LESS-THAN OR EQUAL TO}": "<=",
                 "\N{GREATER-THAN OR EQUAL TO}": ">=", "\N{NOT EQUAL TO}": "!="}  # fmt: skip
_FORM: Final = "a condition such as hook == 'FITTED' && oil_temp < 80.0"


def read(source: str, names: Mapping[str, NameType], want: Literal["truth", "number"]) -> Node:
    """The checked tree of a condition (`want` truth) or formula (number).

    Raises `ConditionFault` for the first thing that is wrong.
    """
    if len(source) > LONGEST:
        raise ConditionFault(f"{len(source)} characters", f"at most {LONGEST}", offset=LONGEST)
    for name in sorted(RESERVED & names.keys()):
        check_name(name)
    root = _Reader(source, names).whole()
    if root.kind != want:
        need = "true or false" if want == "truth" else "a number"
        raise ConditionFault(f"this gives {_gives(root.kind)}", f"something that gives {need}",
                             offset=root.offset)  # fmt: skip
    return root


def _gives(kind: str) -> str:
    return {"truth": "true or false", "number": "a number", "text": "a text"}[kind]


class _Reader:
    """Recursive descent over the tokens; every method returns a checked node."""

    def __init__(self, source: str, names: Mapping[str, NameType]) -> None:
        self._tokens = tokens(source)
        self._names = names
        self._at = 0
        self._depth = 0

    @property
    def _now(self) -> Token:
        return self._tokens[self._at]

    def _take(self, *marks: str) -> Token | None:
        token = self._now
        if token.kind in ("mark", "name") and token.text in marks:
            self._at += 1
            return token
        return None

    def _need(self, mark: str) -> None:
        if not self._take(mark):
            self._stray(f"{mark!r} here")

    def _stray(self, allowed: str) -> NoReturn:
        token = self._now
        if token.kind == "end":
            raise ConditionFault("the end", allowed, offset=token.offset)
        if token.text in "'\"" or (token.kind == "bad" and token.text == "\\"):
            raise ConditionFault(f"a {token.text} without its partner", "text in quotes, on one "
                                 "line, without \\", offset=token.offset)  # fmt: skip
        sign = _WORDS.get(token.text.lower(), "") or _SIGNS.get(token.text, "")
        raise ConditionFault(repr(token.text[:40]), allowed, sign, sign, token.offset)

    def whole(self) -> Node:
        if self._now.kind == "end":
            raise ConditionFault("nothing", _FORM)
        node = self._choice()
        if self._now.kind != "end":
            self._stray("an operator or the end here; numbers stand without their unit")
        return node

    def _choice(self) -> Node:
        self._depth += 1
        if self._depth > DEEPEST:
            raise ConditionFault("too many levels", f"at most {DEEPEST}", offset=self._now.offset)
        first = self._chain(0)
        if mark := self._take("?"):
            self._want(first, "truth")
            yes = self._chain(0)
            self._need(":")
            no = self._choice()
            self._want(no, yes.kind)
            unit = self._same_unit(yes, no, mark.offset)
            first = Node("?:", (first, yes, no), yes.kind, mark.offset, "", unit, most(yes, no))
        self._depth -= 1
        return first

    def _chain(self, level: int) -> Node:
        """Operators of the four levels that group to the left: || then && then relations, sums."""
        rank = _RANKS[level] if level < len(_RANKS) else None
        if rank is None:
            return self._unary()
        left = self._chain(level + 1)
        while mark := self._take(*rank):
            if mark.text == "in":
                left = self._member(left, mark.offset)
                continue
            right = self._chain(level + 1)
            left = self._joined(mark, left, right)
        return left

    def _joined(self, mark: Token, left: Node, right: Node) -> Node:
        op, offset = mark.text, mark.offset
        both = (left, right)
        if op in ("&&", "||"):
            for side in both:
                self._want(side, "truth")
            return Node(op, both, "truth", offset)
        if op in ("==", "!="):
            self._want(right, left.kind)
            self._known_text(left, right)
            self._same_unit(left, right, offset)
            return Node(op, both, "truth", offset)
        if left.op in ("<", "<=", ">", ">=") and op in ("<", "<=", ">", ">="):
            raise ConditionFault(f"a second {op!r} in one comparison", "one comparison at a time",
                                 suggestion="low < x && x < high", offset=offset)  # fmt: skip
        for side in both:
            self._want(side, "number")
        if op == "%":
            raise ConditionFault("'%'", "+ - * /", offset=offset)
        if op in ("*", "/"):
            exact = None if op == "/" else total(left, right)
            unit = product(left.unit, right.unit, 1 if op == "*" else -1)
            if op == "/" and right.op == "literal" and not right.value:
                raise ConditionFault("division by zero", "a divisor other than 0", offset=offset)
            return Node(op, both, "number", offset, "", unit, exact)
        unit = self._same_unit(left, right, offset)
        if op in ("+", "-"):
            return Node(op, both, "number", offset, "", unit, most(left, right))
        return Node(op, both, "truth", offset)

    def _member(self, left: Node, offset: int) -> Node:
        if not self._take("["):
            self._stray("a list of values, as ['FITTED', 'RIGGED']")
        items = [self._unary()]
        while self._take(","):
            items.append(self._unary())
        self._need("]")
        if left.kind == "truth":
            raise ConditionFault("'in' for something true or false", "the name alone, or !name",
                                 offset=offset)  # fmt: skip
        for item in items:
            if item.op != "literal":
                raise ConditionFault("this in a list", "values only", offset=item.offset)
            self._want(item, left.kind)
            self._known_text(left, item)
        return Node("in", (left, Node("list", tuple(items), left.kind, offset)), "truth", offset)

    def _unary(self) -> Node:
        if mark := self._take("!", "-"):
            self._depth += 1
            if self._depth > DEEPEST:
                raise ConditionFault("too many levels", f"at most {DEEPEST}", offset=mark.offset)
            inner = self._unary()
            self._depth -= 1
            if mark.text == "!":
                self._want(inner, "truth")
                return Node("!", (inner,), "truth", mark.offset)
            self._want(inner, "number")
            if inner.op == "literal" and isinstance(inner.value, Decimal):
                value = inner.value.copy_negate()
                return Node("literal", (), "number", mark.offset, value, None, inner.decimals)
            return Node("neg", (inner,), "number", mark.offset, "", inner.unit, inner.decimals)
        node = self._operand()
        if self._now.text == "." and self._now.kind == "mark":
            raise ConditionFault("'.' after a value", "names without parts",
                                 offset=self._now.offset)  # fmt: skip
        return node

    def _operand(self) -> Node:  # noqa: RET503 (`_stray` never returns)
        token = self._now
        if token.kind == "number":
            self._at += 1
            return number(token)
        if token.kind == "text":
            self._at += 1
            return Node("literal", (), "text", token.offset, token.text[1:-1])
        if self._take("("):
            node = self._choice()
            self._need(")")
            return node
        if token.kind == "name" and token.text != "in":
            self._at += 1
            return self._named(token)
        self._stray("a name, a number, a text in quotes, or (")

    def _named(self, token: Token) -> Node:
        name, offset = token.text, token.offset
        if name in ("true", "false"):
            return Node("literal", (), "truth", offset, name == "true")
        if name == "math" and self._take("."):
            return self._call(offset)
        if self._now.text in ("(", "'", '"') or self._now.kind == "text":
            what = "the macro" if name in MACROS else "the function"
            called = self._now.text == "("
            near = nearest_of(name, _CALLS)
            raise ConditionFault(
                f"{what} {name!r}" if called else f"{name!r} before a text",
                "operators, and in numbers " + ", ".join(_CALLS),
                near if near and called else _WORDS.get(name, ""),
                offset=offset,
            )
        declared = self._names.get(name)
        if declared is None:
            word = _WORDS.get(name.lower(), "")
            near = nearest_of(name, self._names)
            quoted = f"'{name}'" if name.isupper() else ""
            raise ConditionFault(
                f"the name {name!r} is not declared",
                _few(self._names),
                word or near,
                word or near or quoted,
                offset,
            )
        unit = unit_of(declared.unit) if declared.kind == "number" else None
        return Node("name", (), declared.kind, offset, name, unit, declared.decimals)

    def _call(self, offset: int) -> Node:
        token = self._now
        if token.text not in FUNCTIONS:
            self._stray(", ".join(_CALLS))
        self._at += 1
        self._need("(")
        args = [self._choice()]
        while self._take(","):
            args.append(self._choice())
        self._need(")")
        fewest, largest = FUNCTIONS[token.text]
        if not fewest <= len(args) <= largest:
            raise ConditionFault(f"{len(args)} values for math.{token.text}",
                                 f"{fewest} to {largest}" if largest > fewest else str(fewest),
                                 offset=offset)  # fmt: skip
        for arg in args:
            self._want(arg, "number")
            self._same_unit(args[0], arg, arg.offset)
        unit = next((arg.unit for arg in args if arg.unit is not None), None)
        return Node(token.text, tuple(args), "number", offset, "", unit, most(*args))

    def _want(self, node: Node, kind: Kind) -> None:
        if node.kind != kind:
            hint = f"{node.value} == 'VALUE'" if node.op == "name" and kind == "truth" else ""
            need = f"something that gives {_gives(kind)}"
            raise ConditionFault(
                f"{_gives(node.kind)} here", need, suggestion=hint, offset=node.offset
            )

    def _same_unit(self, left: Node, right: Node, offset: int) -> Unit:
        if left.unit is None or right.unit is None or left.unit == right.unit:
            return right.unit if left.unit is None else left.unit
        texts = [unit_text(side.unit) or "a count" for side in (left, right)]
        raise ConditionFault(f"{texts[0]} beside {texts[1]}", "the same unit on both sides",
                             offset=offset)  # fmt: skip

    def _known_text(self, left: Node, right: Node) -> None:
        for name, literal in ((left, right), (right, left)):
            if name.op != "name" or literal.op != "literal":
                continue
            allowed = self._names[str(name.value)].allowed
            if allowed and literal.value not in allowed:
                near = nearest_of(str(literal.value), allowed)
                raise ConditionFault(
                    f"{name.value} is never {literal.value!r}", ", ".join(allowed),
                    near, f"'{near}'" if near else "", literal.offset,
                )  # fmt: skip


_CALLS: Final = tuple(f"math.{name}" for name in FUNCTIONS)
_RANKS: Final = (
    ("||",), ("&&",), ("<", "<=", ">", ">=", "==", "!=", "in"), ("+", "-"), ("*", "/", "%"),
)  # fmt: skip


def _few(names: Iterable[str]) -> str:
    known = sorted(names)
    return ", ".join(known[:12]) + (f" and {len(known) - 12} more" if len(known) > 12 else "")
