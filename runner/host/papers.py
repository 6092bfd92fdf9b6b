"""The documents of a run as its first page lists them, and for whom of the crew each has changed.

Rules: what somebody has read is what stood in the signed opening of the last run of this log folder
that has them, by name and key, on its roster, and whose first page they have read (ground reads
none: being on the roster will do); whoever has none such, or only behind the newest `MOST_RUNS`,
has read nothing; only the first lines of a run are read, newest run first, and no further back than
the last of the crew is found; a run that cannot be read is said and passed over, so that doubt
always means *new*. What a log says of the past is taken as it stands; `verify` judges it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import islice
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from audit.errors import AuditError
from audit.folder import RunInfo
from audit.line import parse
from audit.reader import pieces
from runner.engine.table import Table
from runner.terminal.shell import Document

MOST_RUNS = 200
"""How many runs back are looked at: somebody away for longer reads everything anew."""
MOST_LINES = 40
"""How far into a run its first page is looked for: a page not read by then was left unread."""
CODE = 8
"""Digits of a document's SHA-256 that are shown."""

Hashes = Mapping[str, str]
Approvals = Mapping[str, tuple[str, str]]
"""By whom each document was approved and on what day, by its name."""
Told = Callable[[str], None]


class Person(NamedTuple):
    """Somebody on the roster; `key` is their public key as a roster has it."""

    role: str
    name: str
    key: str


def on_roster(opening: Mapping[str, Any]) -> list[Person]:
    """The people of an opening."""
    return [Person(p["role"], p["name"], p["key"]) for p in opening["roster"]]


def hashes_of(opening: Mapping[str, Any]) -> dict[str, str]:
    """SHA-256 of each document of an opening, by name."""
    return {d["name"]: d["sha256"] for d in opening["documents"]}


def approved_in(opening: Mapping[str, Any]) -> Approvals:
    """Who approved each document of an opening; when is not in it."""
    return {d["name"]: (d["approval"]["name"], "") for d in opening["documents"] if d["approval"]}


def papers(
    table: Table, hashes: Hashes, crew: Sequence[Person], before: Iterable[RunInfo], told: Told,
    approved: Approvals = MappingProxyType({}),
) -> tuple[Document, ...]:  # fmt: skip
    """The aircraft's document, the lists in the order of the day, the drills. `before` are the runs
    before this one, oldest first; `told` hears of those that could not be read."""
    known = _known(crew, list(before)[-MOST_RUNS:], told)
    found = []
    for name, title in _in_order(table, hashes):
        sha = hashes[name]
        changed = tuple(
            one.name for one in crew if known.get((one.name, one.key), {}).get(name) != sha
        )
        by, on = approved.get(name, ("", ""))
        found.append(Document(title, table.revision, sha[:CODE], changed, by, on))
    return tuple(found)


def _in_order(table: Table, hashes: Hashes) -> list[tuple[str, str]]:
    """Names of documents with their titles."""
    order = [("aircraft.yaml", table.title)]
    lists = [f for f in (*table.order, *table.flows) if not table.flows[f].drill]
    drills = [f for f in (*table.drills, *table.flows) if table.flows[f].drill]
    order += [(f"lists/{flow}.yaml", table.flows[flow].title) for flow in lists]
    order += [(f"drills/{flow}.yaml", table.flows[flow].title) for flow in drills]
    return [(name, title) for name, title in dict(order).items() if name in hashes]


def _known(
    crew: Sequence[Person], runs: list[RunInfo], told: Told
) -> dict[tuple[str, str], dict[str, str]]:
    """What each of the crew has read last, by name and key."""
    missing = {(one.name, one.key) for one in crew}
    found: dict[tuple[str, str], dict[str, str]] = {}
    for info in reversed(runs):
        if not missing:
            break
        try:
            hashes, readers = _read(info.path)
        except (AuditError, OSError, KeyError, TypeError, ValueError) as fault:
            told(f"{info.run} cannot be read ({fault}): who read its first page is not known")
            continue
        for person in readers & missing:
            found[person] = hashes
        missing -= readers
    return found


def _read(path: Path) -> tuple[dict[str, str], set[tuple[str, str]]]:
    """The documents of a run, and who of its roster has read its first page."""
    with path.open("rb") as stream:
        lines = (parse(piece.raw) for piece in islice(pieces(stream), MOST_LINES))
        opening = next(lines).data
        roster = {one.role: (one.name, one.key) for one in on_roster(opening)}
        readers = {person for role, person in roster.items() if role == "ground"}
        for line in lines:
            if len(readers) == len(roster):
                break
            for item in line.data["outcome"] if line.type == "event" else ():
                if item[0] == "page read" and item[1] in roster:
                    readers.add(roster[item[1]])
    return hashes_of(opening), readers
