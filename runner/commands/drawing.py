"""`draw`: a list, a drill or the day of an aircraft as a diagram, with the coverage of logs.

Rules: the diagram goes to standard output, or page by page to files, none of which is written over.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

from runner.commands.coverage import coverage
from runner.flow.documents import Documents, Procedure
from runner.flow.drawing import dot, paper, plain
from runner.flow.drawing.counts import Counts
from runner.flow.drawing.diagram import Diagram, of_aircraft, of_flow
from runner.flow.faults import nearest_word
from runner.flow.loader import AIRCRAFT, load_aircraft
from runner.host.places import PlaceFault

USAGE = 2


def draw(
    path: Path, form: str, logs: Iterable[Path], size: paper.Paper, out: Path | None
) -> int:  # fmt: skip
    """Draw what `path` names: the folder of an aircraft, or a list or drill in it."""
    folder, name = named(path)
    loaded = load_aircraft(folder)
    flow = _flow(loaded.parts, name) if name else None
    diagram = of_flow(loaded.parts, flow) if flow else of_aircraft(loaded.parts)
    given = list(logs)
    hashes = {one.name: one.sha256 for one in loaded.documents}
    counts = None
    if given:
        drawn = {flow.file: hashes[flow.file]} if flow else hashes
        counts = coverage(given, drawn, "" if flow else loaded.parts.aircraft.aircraft)
    if out is not None and form == "svg":
        return _write(paper.svg(diagram, size, counts), out)
    text = _text(diagram, form, size, counts)
    if out is None:
        print(text, end="")
        return 0
    return _write([text], out)


def _text(diagram: Diagram, form: str, size: paper.Paper, counts: Counts | None) -> str:
    if form == "svg":
        return paper.together(diagram, size, counts)
    return dot.draw(diagram, counts) if form == "dot" else plain.draw(diagram, counts)


def _write(texts: list[str], out: Path) -> int:
    """One file, or one for each page, numbered; no file is written over."""
    names = [out]
    if len(texts) > 1:
        names = [out.with_stem(f"{out.stem}-{number}") for number in range(1, len(texts) + 1)]
    for name, text in zip(names, texts, strict=True):
        try:
            with name.open("x", encoding="utf-8") as stream:
                stream.write(text)
        except FileExistsError:
            raise PlaceFault(f"{name} is there already; name another file, or move it") from None
        print(name, file=sys.stderr)
    return 0


def named(path: Path) -> tuple[Path, str]:
    """The folder of an aircraft, and the list or drill in it that a path names; empty: all."""
    if path.is_dir():
        return path, ""
    if path.name == AIRCRAFT:
        return path.parent, ""
    home = path.resolve().parent
    if home.name in ("lists", "drills"):
        return home.parent, path.stem
    raise PlaceFault(
        f"{path}: no list of an aircraft; give its folder, or a document in lists/ or drills/",
        USAGE,
    )


def _flow(documents: Documents, name: str) -> Procedure:
    every = {**documents.lists, **documents.drills}
    if name not in every:
        near = nearest_word(name, every)
        hint = f"; did you mean {near}?" if near else ""
        raise PlaceFault(f"there is no list or drill {name!r}{hint}")
    return every[name]
