"""Nothing in the packages is of one system only, unless it is guarded by a question which system.

The yardstick for modules is the "Availability" note of the Python library reference
(docs.python.org, 3.11: fcntl, termios, pwd and their like are Unix; msvcrt, winreg and winsound
are Windows). Names inside modules that all systems have (`os.fdatasync`, `signal.SIGHUP`) are the
type checker's: it is run once for each system.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

UNIX = {
    "crypt", "curses", "fcntl", "grp", "nis", "ossaudiodev", "pipes", "posix", "pty", "pwd",
    "readline", "resource", "spwd", "syslog", "termios", "tty",
}  # fmt: skip
WINDOWS = {"_winapi", "msvcrt", "nt", "winreg", "winsound"}
ONE_SYSTEM = UNIX | WINDOWS

TEXT_WITHOUT_ENCODING = {"read_text", "write_text"}


def asks_the_system(test: ast.expr) -> bool:
    """True if a condition reads `sys.platform`, `os.name` or asks whether a module has a name."""
    for node in ast.walk(test):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            if (node.value.id, node.attr) in {("sys", "platform"), ("os", "name")}:
                return True
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            if node.func.id == "hasattr":
                return True
    return False


def catches_a_missing_module(node: ast.Try) -> bool:
    """True if a `try` takes ImportError, or what it is a kind of, by name."""
    for handler in node.handlers:
        for part in ast.walk(handler.type) if handler.type else ():
            if isinstance(part, ast.Name) and part.id in {"ImportError", "ModuleNotFoundError"}:
                return True
    return False


def unguarded(node: ast.AST, guarded: bool = False) -> Iterator[tuple[int, str]]:
    """Line and name of every import of a one-system module that no question stands before."""
    if isinstance(node, ast.Import):
        names = [alias.name for alias in node.names]
    elif isinstance(node, ast.ImportFrom) and node.level == 0:
        names = [node.module or ""]
    else:
        names = []
    for name in names:
        if name.split(".")[0] in ONE_SYSTEM and not guarded:
            yield node.lineno, name  # type: ignore[attr-defined]
    here = (isinstance(node, ast.If) and asks_the_system(node.test)) or (
        isinstance(node, ast.Try) and catches_a_missing_module(node)
    )
    sheltered = [*node.body] if isinstance(node, ast.If | ast.Try) else []
    if isinstance(node, ast.If):
        sheltered += node.orelse
    for below in ast.iter_child_nodes(node):
        yield from unguarded(below, guarded or (here and below in sheltered))


def guesses_an_encoding(node: ast.AST) -> Iterator[tuple[int, str]]:
    """Line and call of every text file opened in whatever encoding the machine has."""
    for call in ast.walk(node):
        if not isinstance(call, ast.Call):
            continue
        named = {keyword.arg for keyword in call.keywords}
        if isinstance(call.func, ast.Attribute):
            name = call.func.attr
            texts = name in TEXT_WITHOUT_ENCODING and len(call.args) < (
                1 if name == "read_text" else 2
            )
            # os.open takes flags, not a mode; the open of a class makes one of that class.
            opens = name == "open" and not (
                isinstance(call.func.value, ast.Name)
                and (call.func.value.id == "os" or call.func.value.id[0].isupper())
            )
            mode = call.args[0] if opens and call.args else None
        elif isinstance(call.func, ast.Name) and call.func.id == "open":
            name, texts, opens = "open", False, True
            mode = call.args[1] if len(call.args) > 1 else None
        else:
            continue
        for keyword in call.keywords:
            if keyword.arg == "mode":
                mode = keyword.value
        binary = isinstance(mode, ast.Constant) and "b" in str(mode.value)
        if (texts or (opens and not binary)) and "encoding" not in named:
            yield call.lineno, name


def sources(project: Path) -> list[Path]:
    """Every module of the two packages of code."""
    found = [*(project / "runner").rglob("*.py"), *(project / "audit").rglob("*.py")]
    assert len(found) > 50
    return sorted(found)


def test_no_module_of_one_system_is_imported_unguarded(project: Path) -> None:
    faults = [
        f"{path.relative_to(project)}:{line}: {name}"
        for path in sources(project)
        for line, name in unguarded(ast.parse(path.read_bytes()))
    ]
    assert faults == []


def test_no_text_file_is_opened_in_the_machines_own_encoding(project: Path) -> None:
    faults = [
        f"{path.relative_to(project)}:{line}: {name} without encoding"
        for path in sources(project)
        for line, name in guesses_an_encoding(ast.parse(path.read_bytes()))
    ]
    assert faults == []


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("import fcntl", ["fcntl"]),
        ("import os, termios", ["termios"]),
        ("def f():\n    import pwd", ["pwd"]),
        ("from msvcrt import getwch", ["msvcrt"]),
        ("from curses.ascii import isprint", ["curses.ascii"]),
        ("try:\n    import fcntl\nexcept OSError:\n    pass", ["fcntl"]),
        ("try:\n    pass\nexcept ImportError:\n    import fcntl", ["fcntl"]),
        ("if True:\n    import fcntl", ["fcntl"]),
        ("if sys.platform == 'win32':\n    import msvcrt\nelse:\n    import fcntl", []),
        ("if os.name == 'nt':\n    import msvcrt", []),
        ("try:\n    import fcntl\nexcept ImportError:\n    fcntl = None", []),
        ("from .tty import paint", []),
        ("import os", []),
    ],
)
def test_the_search_for_one_system_modules_sees_what_it_should(
    source: str, found: list[str]
) -> None:
    assert [name for _, name in unguarded(ast.parse(source))] == found


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("open('a')", ["open"]),
        ("open('a', 'w')", ["open"]),
        ("path.open()", ["open"]),
        ("path.open('a')", ["open"]),
        ("path.read_text()", ["read_text"]),
        ("path.write_text('x')", ["write_text"]),
        ("open('a', 'rb')", []),
        ("open('a', mode='wb')", []),
        ("path.open('rb')", []),
        ("os.open('a', 0)", []),
        ("Folder.open(path)", []),
        ("path.read_text('utf-8')", []),
        ("path.write_text('x', encoding='utf-8')", []),
    ],
)
def test_the_search_for_guessed_encodings_sees_what_it_should(
    source: str, found: list[str]
) -> None:
    assert [name for _, name in guesses_an_encoding(ast.parse(source))] == found
