"""The changes that a check is tried with: one at a time, in the syntax tree of a module.

Rules: a mutant is named by module, function, what stands there and what it becomes, never by a line
number, so that its name outlives changes elsewhere; texts for people are left alone; what runs at
import is changed only where it is a table, a number or a pattern. Order is that of the source.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

_NEGATED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Lt: ast.GtE, ast.GtE: ast.Lt, ast.Gt: ast.LtE,
    ast.LtE: ast.Gt, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_WIDENED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt,
}  # fmt: skip
_OTHER_NAME = {"any": "all", "all": "any", "min": "max", "max": "min"}
_IN_BRACES = re.compile(r"(?<=[{,])[0-9]+(?=[,}])")
_Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass
class Mutant:
    """One change. `path` leads from the module's tree to the node that `new` replaces; `function`
    is empty for what runs at import, then `target` is the name that it is assigned to; `inside` are
    the lines that a test reaches only if the old check did its work, `after` is the line of the
    next statement, which it then does not reach (0 if there is none); the change stands from `line`
    to `until`."""

    module: str
    function: str
    target: str
    line: int
    until: int
    inside: range
    after: int
    path: tuple[tuple[str, int | None], ...]
    new: ast.AST
    what: str
    name: str = ""

    @property
    def removes(self) -> bool:
        """Whether a check is gone; else it is another one."""
        return (
            self.what.startswith("no ")
            or " -> without " in self.what
            or (self.what.startswith("if ") and self.what.endswith(" -> False"))
        )

    def apply(self, tree: ast.AST) -> None:
        """Put the change into a tree of the same source."""
        node = tree
        for field, index in self.path[:-1]:
            node = _step(node, field, index)
        field, index = self.path[-1]
        ast.copy_location(self.new, _step(node, field, index))
        if index is None:
            setattr(node, field, self.new)
        else:
            getattr(node, field)[index] = self.new
        ast.fix_missing_locations(tree)


def uses(source: Path, name: str) -> set[int]:
    """The lines at which functions of a module use a name that is made at import."""
    tree = ast.parse(source.read_text("utf-8"))
    return {
        node.lineno
        for function in ast.walk(tree)
        if isinstance(function, _Function)
        for statement in function.body
        for node in ast.walk(statement)
        if isinstance(node, ast.Name) and node.id == name
    }


def _step(node: ast.AST, field: str, index: int | None) -> ast.AST:
    value = getattr(node, field)
    found: ast.AST = value if index is None else value[index]
    return found


def mutants(module: str, source: Path) -> list[Mutant]:
    """Every mutant of a module."""
    found = list(_Walk(module).tree(ast.parse(source.read_text("utf-8"))))
    seen: dict[str, int] = {}
    for mutant in found:
        name = f"{mutant.function or mutant.target}: {mutant.what}"
        seen[name] = seen.get(name, 0) + 1
        mutant.name = name if seen[name] == 1 else f"{name} #{seen[name]}"
    return found


class _Walk:
    """Goes through a tree and finds what can be changed."""

    def __init__(self, module: str) -> None:
        self._module = module
        self._function = ""
        self._target = ""
        self._inside = range(0)
        self._after = 0
        self._path: list[tuple[str, int | None]] = []

    def tree(self, tree: ast.Module) -> Iterator[Mutant]:
        for index, node in enumerate(tree.body):
            self._path = [("body", index)]
            if isinstance(node, _Function):
                yield from self._in_function(node, node.name)
            elif isinstance(node, ast.ClassDef):
                for place, member in enumerate(node.body):
                    if isinstance(member, _Function):
                        self._path = [("body", index), ("body", place)]
                        yield from self._in_function(member, f"{node.name}.{member.name}")
            elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
                self._function, self._target, self._after = "", node.targets[0].id, 0
                if self._target != "__all__" and node.value is not None:
                    self._inside = range(0)
                    yield from self._at("value", None, self._table, node.value)

    def _in_function(self, node: _Function, name: str) -> Iterator[Mutant]:
        self._function, self._target, self._after = name, "", 0
        self._inside = range(0)
        yield from self._list("body", node.body)

    def _at(
        self,
        field: str,
        index: int | None,
        visit: Callable[[ast.AST], Iterator[Mutant]],
        node: ast.AST,
    ) -> Iterator[Mutant]:
        self._path.append((field, index))
        yield from visit(node)
        self._path.pop()

    def _becomes(self, node: ast.AST, new: ast.AST, what: str) -> Mutant:
        line: int = getattr(node, "lineno", 0)
        return Mutant(
            self._module, self._function, self._target, line, _until(node), self._inside,
            self._after,
            tuple(self._path), new, what,
        )  # fmt: skip

    def _visit(self, node: ast.AST) -> Iterator[Mutant]:
        if isinstance(node, ast.JoinedStr) or _is_text(node):
            return
        outer = self._inside
        yield from self._changes(node)
        if isinstance(node, ast.If):
            self._inside = _lines(node.body)
            yield from self._at("test", None, self._visit, node.test)
            self._inside = outer
            yield from self._list("body", node.body)
            yield from self._list("orelse", node.orelse)
            return
        if isinstance(node, ast.Raise):
            return
        for field, value in ast.iter_fields(node):
            if field in ("annotation", "returns", "decorator_list", "ctx"):
                continue
            if isinstance(value, list):
                yield from self._list(field, value)
            elif isinstance(value, ast.AST):
                yield from self._at(field, None, self._visit, value)

    def _list(self, field: str, values: Sequence[ast.AST]) -> Iterator[Mutant]:
        outer = self._after
        for index, value in enumerate(values):
            if isinstance(value, ast.stmt):
                following = values[index + 1 : index + 2]
                self._after = getattr(following[0], "lineno", 0) if following else outer
            if isinstance(value, ast.AST):
                yield from self._at(field, index, self._visit, value)
        self._after = outer

    def _changes(self, node: ast.AST) -> Iterator[Mutant]:
        text = _text(node)
        match node:
            case ast.Raise():
                yield self._becomes(node, ast.Pass(), f"no {text}")
                yield from self._code_of(node)
            case ast.Expr(value=ast.Call()) | ast.AugAssign():
                yield self._becomes(node, ast.Pass(), f"no {text}")
            case ast.Assign(targets=[ast.Attribute() | ast.Subscript()]) if not (
                self._function.endswith(".__init__")
            ):
                yield self._becomes(node, ast.Pass(), f"no {text}")
            case ast.If(test=test, body=body):
                self._inside = _lines(body)
                at = (*self._path, ("test", None))
                for value in (True, False):
                    if not value or not isinstance(test, ast.Compare | ast.UnaryOp):
                        mutant = self._becomes(
                            test, ast.Constant(value), f"if {_text(test)} -> {value}"
                        )
                        mutant.path = at
                        yield mutant
            case ast.IfExp(test=test):
                new = ast.IfExp(ast.UnaryOp(ast.Not(), test), node.body, node.orelse)
                yield self._becomes(node, new, f"{text} -> negated")
            case ast.Compare():
                yield from self._compared(node)
            case ast.BoolOp(op=op, values=values):
                for index in range(len(values)):
                    rest = [*values[:index], *values[index + 1 :]]
                    new_value = rest[0] if len(rest) == 1 else ast.BoolOp(op, rest)
                    yield self._becomes(
                        node, new_value, f"{text} -> without {_text(values[index])}"
                    )
            case ast.UnaryOp(op=ast.Not(), operand=operand):
                yield self._becomes(node, operand, f"{text} -> {_text(operand)}")
            case ast.Constant(value=bool() as value):
                yield self._becomes(node, ast.Constant(not value), f"{value} -> {not value}")
            case ast.Constant(value=int() as number):
                for other in (number - 1, number + 1):
                    yield self._becomes(node, ast.Constant(other), f"{number} -> {other}")
            case ast.comprehension(ifs=ifs) if ifs:
                for index, test in enumerate(ifs):
                    rest = [*ifs[:index], *ifs[index + 1 :]]
                    new_for = ast.comprehension(node.target, node.iter, rest, node.is_async)
                    mutant = self._becomes(node, new_for, f"{text} -> without if {_text(test)}")
                    mutant.line, mutant.until = test.lineno, _until(test)
                    yield mutant
            case ast.Name(id=name) if name in _OTHER_NAME and isinstance(node.ctx, ast.Load):
                yield self._becomes(
                    node, ast.Name(_OTHER_NAME[name], ast.Load()), f"{name} -> {_OTHER_NAME[name]}"
                )
            case ast.Attribute(attr="fullmatch", value=value):
                yield self._becomes(
                    node, ast.Attribute(value, "match", ast.Load()), f"{text} -> match"
                )
            case ast.ExceptHandler(type=ast.Tuple(elts=elts)):
                for index in range(len(elts)):
                    rest = [*elts[:index], *elts[index + 1 :]]
                    caught = ast.ExceptHandler(ast.Tuple(rest, ast.Load()), node.name, node.body)
                    yield self._becomes(
                        node, caught, f"except {_text(node.type)} -> without {_text(elts[index])}"
                    )
            case ast.ExceptHandler(type=ast.expr() as kind):
                caught = ast.ExceptHandler(ast.Tuple([], ast.Load()), node.name, node.body)
                yield self._becomes(
                    node, caught, f"no except {_text(kind)} of {_text(node.body[0])}"
                )

    def _compared(self, node: ast.Compare) -> Iterator[Mutant]:
        text = _text(node)
        for index, operator in enumerate(node.ops):
            for table in (_NEGATED, _WIDENED):
                if type(operator) in table:
                    ops = [*node.ops]
                    ops[index] = table[type(operator)]()
                    new = ast.Compare(node.left, ops, node.comparators)
                    yield self._becomes(node, new, f"{text} -> {_text(new)}")
        if len(node.ops) == 2:
            middle = node.comparators[0]
            first = ast.Compare(node.left, node.ops[:1], [middle])
            second = ast.Compare(middle, node.ops[1:], node.comparators[1:])
            for new in (first, second):
                yield self._becomes(node, new, f"{text} -> {_text(new)}")

    def _code_of(self, node: ast.Raise) -> Iterator[Mutant]:
        # the stable code of a fault
        match node.exc:
            case ast.Call(func=ast.Name(id="Fault") as name, args=[ast.Constant(), *rest]):
                new = ast.Raise(ast.Call(name, [ast.Constant("other"), *rest], []), node.cause)
                yield self._becomes(node, new, f"{_text(node)} -> another code")

    def _table(self, node: ast.AST) -> Iterator[Mutant]:
        match node:
            case ast.Tuple(elts=elts) | ast.Set(elts=elts) | ast.List(elts=elts):
                for index, element in enumerate(elts):
                    rest = [*elts[:index], *elts[index + 1 :]]
                    new = (
                        type(node)(rest, ast.Load())
                        if isinstance(node, ast.Tuple)
                        else (type(node)(elts=rest))
                    )
                    yield self._becomes(element, new, f"without {_text(element)}")
            case ast.Constant(value=bytes() as value):
                yield self._becomes(node, ast.Constant(value[:-1] + b"?"), f"{value!r} changed")
            case ast.Constant(value=str() as value) if self._target.isupper():
                for match in _IN_BRACES.finditer(value):
                    for by in (-1, 1):
                        number = str(int(match[0]) + by)
                        changed = value[: match.start()] + number + value[match.end() :]
                        yield self._becomes(
                            node, ast.Constant(changed), f"{value!r} -> {changed!r}"
                        )
            case ast.Constant(value=int() as number) if not isinstance(number, bool):
                for other in (number - 1, number + 1):
                    yield self._becomes(node, ast.Constant(other), f"{number} -> {other}")
            case ast.Call(args=args):
                for index, argument in enumerate(args):
                    yield from self._at("args", index, self._table, argument)
            case ast.BinOp(left=left, right=right):
                yield from self._at("left", None, self._table, left)
                yield from self._at("right", None, self._table, right)


def _is_text(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _until(node: ast.AST) -> int:
    # of a statement that holds others only the first line is its own
    line: int = getattr(node, "lineno", 0)
    if isinstance(node, ast.ExceptHandler | ast.If):
        return line
    return getattr(node, "end_lineno", None) or line


def _lines(body: list[ast.stmt]) -> range:
    return range(body[0].lineno, (body[-1].end_lineno or body[-1].lineno) + 1)


def _text(node: ast.AST | None) -> str:
    if node is None:
        return ""
    if isinstance(node, ast.comprehension):
        return f"for {ast.unparse(node.target)} in {ast.unparse(node.iter)}"
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 90 else text[:87] + "..."
