"""Puts one mutant into the program that is running: for a child process that ends after it.

Rules: a function gets the changed function's code, so whoever has imported it runs the change; what
is made at import is made again from the changed source and takes the place of the old under its
name wherever that was imported to. Nothing is undone.
"""

from __future__ import annotations

import ast
import functools
import importlib
import sys
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

from tests.audit.mutants.changes import Mutant


class Unplantable(Exception):
    """The change gives no program."""


def plant(mutant: Mutant, source: Path) -> None:
    """Make the running program the mutant; `source` is the module's file."""
    tree = ast.parse(source.read_text("utf-8"))
    mutant.apply(tree)
    try:
        code = compile(tree, str(source), "exec", dont_inherit=True)
    except (SyntaxError, ValueError, TypeError) as error:
        raise Unplantable(str(error)) from None
    module = importlib.import_module(mutant.module)
    if mutant.function:
        _function(module, mutant.function, code)
    else:
        _name(module, mutant.target, code)


def _function(module: Any, name: str, code: CodeType) -> None:
    *owners, last = name.split(".")
    holder = module
    for owner in owners:
        holder = getattr(holder, owner)
    function = _bare(vars(holder)[last])
    wanted = [one for one in _all(code) if one.co_qualname == name]
    (found,) = [one for one in wanted if one.co_firstlineno == function.__code__.co_firstlineno]
    try:
        function.__code__ = found
    except ValueError as error:
        raise Unplantable(str(error)) from None


def _bare(member: Any) -> FunctionType:
    if isinstance(member, property):
        member = member.fget
    if isinstance(member, classmethod | staticmethod):
        member = member.__func__
    if isinstance(member, functools._lru_cache_wrapper):
        member.cache_clear()
    while hasattr(member, "__wrapped__"):
        member = member.__wrapped__
    assert isinstance(member, FunctionType)
    return member


def _all(code: CodeType) -> Iterator[CodeType]:
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield constant
            yield from _all(constant)


def _name(module: Any, name: str, code: CodeType) -> None:
    old = vars(module)[name]
    fresh: dict[str, Any] = {"__name__": module.__name__, "__file__": module.__file__}
    try:
        exec(code, fresh)  # noqa: S102 - our own source, changed in one place
    except Exception as error:
        raise Unplantable(str(error)) from None
    for other in list(sys.modules.values()):
        if getattr(other, "__name__", "").startswith("audit") and vars(other).get(name) is old:
            setattr(other, name, fresh[name])
