"""`check` and `explain`: what is wrong with documents, and the page of each rule.

Rules: a list is judged within its aircraft, wherever the path points; a document without one is
judged alone, and that is said. What other documents of the aircraft are wrong in is told only where
it keeps a look at the ones asked for from being whole. Findings go to standard output, what is said
about them to standard error.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple

from runner.flow.characters import MOST_BYTES
from runner.flow.checks import report
from runner.flow.checks.collection import (
    Report,
    check_alone,
    check_documents,
    every_rule,
    of_errors,
)
from runner.flow.checks.findings import ERROR, Finding
from runner.flow.faults import FlowErrors, nearest_word
from runner.flow.loader import AIRCRAFT, documents_in
from runner.host.places import PlaceFault

FOUND: Final = 1
UNREADABLE: Final = 4
_FOLDERS: Final = ("lists", "drills")
_YAML: Final = (".yaml", ".yml")


class Target(NamedTuple):
    """What one look is at: the folder of an aircraft and which of its documents (none: all), or a
    document alone."""

    path: Path
    only: frozenset[str]
    alone: bool = False


class Looked(NamedTuple):
    """What a look gave: findings with paths that can be opened, the bytes by the same paths."""

    findings: tuple[Finding, ...]
    documents: dict[str, bytes]
    omitted: int


def check(paths: Iterable[Path], form: str, *, strict: bool) -> int:
    """Print what is found in documents; 1 if that is an error, or with `strict` anything."""
    looked = [_look(target) for target in targets(paths)]
    findings = sorted({one for each in looked for one in each.findings})
    documents = {name: data for each in looked for name, data in each.documents.items()}
    omitted = sum(each.omitted for each in looked)
    if form == "json":
        print(report.as_json(findings, len(documents), omitted))
    elif form == "github":
        for one in findings:
            print(report.as_annotation(one))
    else:
        for one in findings:
            print(report.text(one, report.line_of(documents, one.file, one.line)), end="\n\n")
        print(report.summary(findings, len(documents), omitted), file=sys.stderr)
        if findings:
            print("latchword explain RULE has the page of each rule", file=sys.stderr)
    if any(one.rule == "unreadable" for one in findings):
        return UNREADABLE
    grave = [one for one in findings if strict or one.level == ERROR]
    return FOUND if grave else 0


def explain(name: str) -> int:
    """Print the page of a rule, or without a name every rule with its first line."""
    known = every_rule()
    if not name:
        widest = max(map(len, known))
        for rule in known.values():
            print(f"{rule.name:{widest}}  {rule.level:7}  {rule.title}")
        return 0
    found = known.get(name.strip().casefold().replace("_", "-").strip("[]"))
    if found is None:
        near = nearest_word(name, known)
        hint = f" Did you mean {near}?" if near else ""
        raise PlaceFault(f"there is no rule {name[:40]!r}.{hint} All of them: latchword explain", 2)
    print(f"{found.name} ({found.level})\nwhy: {found.reason}\n\n{found.page}", end="")
    return 0


def targets(paths: Iterable[Path]) -> list[Target]:
    """What there is to look at; documents of one aircraft are looked at together."""
    found: dict[tuple[Path, bool], Target] = {}
    for path in paths:
        for one in _targets(path):
            key = (one.path, one.alone)
            before = found.get(key)
            if before is None:
                found[key] = one
            elif before.only:
                only = before.only | one.only if one.only else frozenset[str]()
                found[key] = before._replace(only=only)
    return list(found.values())


def _targets(path: Path) -> list[Target]:
    if path.is_dir():
        return _in_folder(path)
    around = path.parent
    if path.name == AIRCRAFT:
        return [Target(around, frozenset({AIRCRAFT}))]
    home = around.resolve()
    if home.name in _FOLDERS and (home.parent / AIRCRAFT).is_file():
        root = around.parent if around.name in _FOLDERS else home.parent
        return [Target(root, frozenset({f"{home.name}/{path.name}"}))]
    return [Target(path, frozenset(), alone=True)]


def _in_folder(path: Path) -> list[Target]:
    if (path / AIRCRAFT).exists():
        return [Target(path, frozenset())]
    entries = sorted(path.iterdir())
    inside = [Target(one, frozenset()) for one in entries if (one / AIRCRAFT).is_file()]
    if inside:
        return inside
    files = [one for one in entries if one.suffix.casefold() in _YAML and one.is_file()]
    if files:
        return [target for one in files for target in _targets(one)]
    # an aircraft without its first document, or nothing at all: the loader says which
    return [Target(path, frozenset())]


def _look(target: Target) -> Looked:
    if target.alone:
        return _alone(target.path)
    try:
        documents = documents_in(target.path)
        made = check_documents(documents)
    except FlowErrors as errors:
        documents, made = {}, of_errors(errors)
    missing = target.only - documents.keys()
    wanted = made.whole and target.only
    kept = [one for one in made.findings if not wanted or one.file in target.only]
    findings = [replace(one, file=_opened(target.path, one.file)) for one in kept]
    if missing and made.whole:
        findings += [_unread(target.path / name) for name in sorted(missing)]
    shown = (
        documents
        if not target.only or not made.whole
        else {name: documents[name] for name in target.only & documents.keys()}
    )
    return Looked(
        tuple(findings),
        {_opened(target.path, name): data for name, data in shown.items()},
        made.omitted,
    )


def _alone(path: Path) -> Looked:
    """A document that belongs to no aircraft here."""
    name = str(path)
    try:
        if not path.is_file():
            return Looked((_unread(path),), {}, 0)
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError:
        return Looked((_unread(path),), {}, 0)
    made: Report = check_alone(name, data)
    print(
        f"{name}: looked at alone, since no {AIRCRAFT} stands with it: names, limits and what the "
        "rules say of a whole aircraft were not judged",
        file=sys.stderr,
    )
    return Looked(made.findings, {name: data}, made.omitted)


def _unread(path: Path) -> Finding:
    rule = every_rule()["unreadable"]
    message = "this document cannot be read" if path.exists() else "no such document or folder"
    near = ""
    if path.parent.is_dir():
        near = nearest_word(path.name, [one.name for one in path.parent.iterdir()])
    todo = "give the folder of an aircraft, or a document within it"
    return Finding(str(path), 1, 1, rule.name, rule.level, message, rule.reason, todo, near)


def _opened(root: Path, name: str) -> str:
    """The path by which a document can be opened from here; a fault of the folder names that."""
    return name if name == str(root) else str(root / name)
