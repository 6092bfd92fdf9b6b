"""The engine sees nothing of the world: what its modules import, and in which direction."""

from __future__ import annotations

import ast
from pathlib import Path

import runner.engine

ALLOWED = {
    "__future__", "ast", "bisect", "collections.abc", "dataclasses", "decimal", "difflib", "enum",
    "fractions", "functools", "hashlib", "itertools", "json", "math", "operator", "re", "types",
    "typing", "unicodedata", "cel_expr_python", "cel_expr_python.ext",
}  # fmt: skip


def test_the_engine_imports_nothing_that_could_see_the_world() -> None:
    # An allow list: the engine has no clock, thread, event loop, file, socket, terminal or audio.
    found = set()
    for path in Path(runner.engine.__file__ or "").parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {(alias.name, path.name) for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 0, path
                found.add((node.module or "", path.name))
    strange = {
        (name, path) for name, path in found
        if name not in ALLOWED and not name.startswith("runner.engine")
    }  # fmt: skip
    assert strange == set()


def test_the_engine_imports_in_one_direction_at_the_top_of_its_modules() -> None:
    for path in Path(runner.engine.__file__ or "").parent.glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        inner = [
            node for function in ast.walk(tree)
            if isinstance(function, ast.FunctionDef | ast.ClassDef)
            for node in ast.walk(function) if isinstance(node, ast.ImportFrom)
            and (node.module or "").startswith("runner")
        ]  # fmt: skip
        assert inner == [], path.name
