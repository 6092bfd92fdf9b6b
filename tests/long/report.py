"""What the long tier was last run on: a report kept in the tree, and what in it is out of date.

Rules: a part is a module of tests with tests marked `long`; its sources are the files of the rooms
in `COVERED` that it reaches: by imports, and by the names of programs that it starts (a file's name
or `a.dotted.module` in a string). The report keeps the SHA-256 of each. A part is stale when one of
these files is no longer what it was, so a change makes only those parts run again that reach it.
The screen, the words and the commands are not covered, nor the rooms of the author's desk in
`flow`: every change would make everything stale, and the tests of every day ask after them.
"""

from __future__ import annotations

import ast
import hashlib
import json
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
REPORT = Path("tests/long/report.json")
COVERED = ("audit", "runner/engine", "runner/flow", "runner/host", "tests")
DESK = tuple(f"runner/flow/{room}/" for room in ("card", "checks", "comparing", "drawing", "proof"))
COMMAND = "python tests/long/run.py --stale"
_ROOMS = ("audit", "runner", "tests")


@dataclass(frozen=True)
class Entry:
    """One part, as it was run: when and on what kind of machine, and what it did.

    `counts` is what its tests did, by kind ("kills of the writer"); `sources` the SHA-256 of every
    file, by its path from the root of the tree.
    """

    date: str
    machine: str
    seconds: int
    tests: int
    counts: dict[str, int] = field(default_factory=dict)
    sources: dict[str, str] = field(default_factory=dict)


def parts(root: Path = ROOT) -> list[str]:
    """The modules that have tests of the long tier, by their paths with slashes."""
    found = [
        path.relative_to(root).as_posix()
        for path in (root / "tests").rglob("test_*.py")
        if _is_long(path.read_text("utf-8"))
    ]
    return sorted(found)


def sources(part: str, root: Path = ROOT) -> dict[str, str]:
    """The SHA-256 of every covered file that a part reaches."""
    named: dict[str, list[Path]] = {}
    for room in _ROOMS:
        for path in sorted((root / room).rglob("*")):
            if path.suffix in (".py", ".sh"):
                named.setdefault(path.name, []).append(path)
    seen: set[Path] = set()
    ahead = [root / part, *_conftests(root, part)]
    while ahead:
        path = ahead.pop()
        if path in seen:
            continue
        seen.add(path)
        if path.suffix == ".py":
            ahead += _reached(path, root, named)
    return hashes((path.relative_to(root).as_posix() for path in seen), root)


def hashes(paths: Iterator[str], root: Path) -> dict[str, str]:
    """The SHA-256 of each covered file; of one that is gone, nothing."""
    return {
        path: hashlib.sha256((root / path).read_bytes()).hexdigest()
        for path in sorted(paths)
        if path.startswith(tuple(f"{room}/" for room in COVERED))
        and not path.startswith(DESK)
        and (root / path).is_file()
    }


def read(root: Path = ROOT) -> dict[str, Entry]:
    """The report's entries by part; none where there is no report yet."""
    if not (root / REPORT).exists():
        return {}
    kept = json.loads((root / REPORT).read_text("utf-8"))
    return {part: Entry(**entry) for part, entry in kept["parts"].items()}


def write(entries: Mapping[str, Entry], root: Path = ROOT) -> None:
    """Keep the entries of the parts that there are, and what all of them did together."""
    there = {part: asdict(entries[part]) for part in parts(root) if part in entries}
    totals: Counter[str] = Counter()
    for entry in there.values():
        totals.update(entry["counts"])
    kept = {"totals": dict(sorted(totals.items())), "parts": there}
    text = json.dumps(kept, indent=1, ensure_ascii=False)
    (root / REPORT).write_text(text + "\n", "utf-8", newline="\n")


def stale(root: Path = ROOT) -> dict[str, list[str]]:
    """The parts to be run again, each with the files that it was not run on as they are now."""
    entries = read(root)
    found: dict[str, list[str]] = {}
    for part in parts(root):
        entry = entries.get(part)
        if entry is None:
            found[part] = [part]
            continue
        now = hashes(iter(entry.sources), root)
        changed = [path for path, kept in entry.sources.items() if now.get(path) != kept]
        if changed:
            found[part] = changed
    return found


def complaint(root: Path = ROOT, *, missing: bool = True) -> str:
    """What is out of date and what to do about it, for people; empty if nothing is.

    `missing`: whether a part that was never run counts too, as it does before a release.
    """
    known = read(root)
    found = {part: paths for part, paths in stale(root).items() if missing or part in known}
    if not found:
        return ""
    files = sorted({path for paths in found.values() for path in paths})
    rows = [
        f"{REPORT.as_posix()} is older than {', '.join(files)}.",
        f"Run `{COMMAND}`, which runs again: {', '.join(sorted(found))}.",
    ]
    return "\n".join(rows)


def _is_long(text: str) -> bool:
    # only who has the words is read as a program: this is asked of every module of tests
    return "mark.long" in text and any(
        isinstance(node, ast.Attribute) and ast.unparse(node) == "pytest.mark.long"
        for node in ast.walk(ast.parse(text))
    )


def _conftests(root: Path, part: str) -> list[Path]:
    folders = (root / part).relative_to(root).parents
    return [path for folder in folders if (path := root / folder / "conftest.py").exists()]


def _reached(path: Path, root: Path, named: Mapping[str, list[Path]]) -> Iterator[Path]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        match node:
            case ast.Import(names=names):
                for name in names:
                    yield from _module(name.name, root)
            case ast.ImportFrom(module=str(module), names=names):
                yield from _module(module, root)
                for name in names:
                    yield from _module(f"{module}.{name.name}", root)
            case ast.Constant(value=str(text)) if text.endswith((".py", ".sh")):
                yield from named.get(text.rsplit("/", 1)[-1], ())
            case ast.Constant(value=str(text)):
                yield from _module(text, root)
                if text in _ROOMS and (main := root / text / "__main__.py").is_file():
                    yield main


def _module(name: str, root: Path) -> Iterator[Path]:
    """The file of a module of the tree, and of the packages around it."""
    names = name.split(".")
    if names[0] not in _ROOMS or not all(map(str.isidentifier, names)):
        return
    for count in range(1, len(names) + 1):
        place = root.joinpath(*names[:count])
        for path in (place.with_suffix(".py"), place / "__init__.py"):
            if path.is_file():
                yield path
