"""`draw`: a list, a drill or the day of an aircraft as a diagram, with the coverage of logs.

Rules: logs are run again through the documents that they were made with, and counted only for a
list whose document is the one drawn; what was left out is said on standard error. The diagram goes
to standard output, or page by page to files.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

from audit.chain import distinct
from audit.errors import Fault, NotReplayed
from audit.line import parse
from audit.reader import pieces
from runner.engine.state import How
from runner.engine.table import Kind
from runner.flow.documents import Documents, Procedure
from runner.flow.drawing import dot, paper, plain
from runner.flow.drawing.counts import Counts
from runner.flow.drawing.diagram import Diagram, of_aircraft, of_flow
from runner.flow.faults import nearest_word
from runner.flow.loader import AIRCRAFT, load_aircraft
from runner.host.places import PlaceFault
from runner.host.replay import Cache, Replayer
from runner.host.stepping import RULES

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
    if given and flow is None:
        raise PlaceFault("--logs: laid over a list or drill, not over a whole aircraft", USAGE)
    hashes = {one.name: one.sha256 for one in loaded.documents}
    counts = coverage(given, flow.file, hashes[flow.file]) if given and flow else None
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


def coverage(paths: Iterable[Path], file: str, sha256: str) -> Counts:
    """What the steps came to in the logs that paths name, where the list is the same document."""
    logs = distinct(paths)
    if not logs:
        raise PlaceFault(f"there is no log in {', '.join(map(str, paths))}")
    found: dict[str, Counter[str]] = {}
    cache, runs = Cache(), 0
    for log in logs:
        try:
            counted = _count(log, cache, file, sha256, found)
        except (Fault, NotReplayed, KeyError, TypeError, ValueError) as fault:
            print(f"{log}: left out, {fault}", file=sys.stderr)
            continue
        if counted:
            runs += 1
        else:
            print(f"{log}: left out, its list is another document", file=sys.stderr)
    return Counts(runs, found)


def _count(
    log: Path, cache: Cache, file: str, sha256: str, found: dict[str, Counter[str]]
) -> bool:  # fmt: skip
    """Add one run; False if its list is another document. Nothing is added of a run that fails."""
    player: Replayer | None = None
    mine: dict[str, Counter[str]] = {}
    flow_id = Path(file).stem
    with log.open("rb") as stream:
        for piece in pieces(stream):
            if not piece.raw.endswith(b"\n"):
                break
            line = parse(piece.raw)
            if line.type == "open":
                if line.data["rules"] != RULES:
                    raise NotReplayed(f"its rules are number {line.data['rules']}, not {RULES}")
                if {d["name"]: d["sha256"] for d in line.data["documents"]}.get(file) != sha256:
                    return False
                table = cache.table(line.data, log.parent / "documents")
                player = Replayer(table, line)
            elif player is not None:
                before = _latches(player, flow_id)
                finding = player.line(line)
                if finding is not None:
                    raise NotReplayed(f"line {finding[0]}: {finding[2]}")
                _add(player, flow_id, before, mine)
                if line.type == "event":
                    _add_closed(player, flow_id, before, line.data["outcome"], mine)
    for step, counter in mine.items():
        found.setdefault(step, Counter()).update(counter)
    return player is not None


def _latches(player: Replayer, flow: str) -> dict[int, tuple[tuple[How, int], ...]]:
    """What each step of every visit of a list has come to, and when that changed."""
    state = player.state
    return {
        visit.number: tuple((latch.how, latch.entry) for latch in visit.latches)
        for visit in (*state.visits, state.drill)
        if visit is not None and visit.flow == flow
    }


def _add(
    player: Replayer, flow: str, before: dict[int, tuple[tuple[How, int], ...]],
    counts: dict[str, Counter[str]],
) -> None:  # fmt: skip
    """Count what became of steps at this line."""
    steps = player.table.flows[flow].steps
    for number, now in _latches(player, flow).items():
        was = before.get(number, ((How.OPEN, 0),) * len(now))
        for step, old, new in zip(steps, was, now, strict=True):
            if new != old and new[0] is not How.OPEN:
                counts.setdefault(step.id, Counter())[new[0].value] += 1


def _add_closed(
    player: Replayer, flow: str, before: dict[int, tuple[tuple[How, int], ...]],
    outcome: Iterable[Sequence[str]], counts: dict[str, Counter[str]],
) -> None:  # fmt: skip
    """Count the closing call, whose answer ends the visit, so that no latch of it is left."""
    ended = before.keys() - _latches(player, flow).keys()
    closed = any(
        tuple(item[:2]) == ("list closed", flow) or item[0] == "drill out" for item in outcome
    )
    last = player.table.flows[flow].steps[-1]
    if closed and last.kind is Kind.CLOSING:
        for number in ended:
            if before[number][-1][0] is How.OPEN:
                counts.setdefault(last.id, Counter())[How.ANSWERED.value] += 1
