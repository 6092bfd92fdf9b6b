"""What the runs before leave to the next one: counters, ages of moments, open defects.

Rules: taken from the logs by replaying them, newest first; a run in which nothing happened hands on
what it was opened with; where a run cannot be replayed, the defects of the runs before it still
count, and nothing else does: the lists then ask as for an aircraft that stood long; ages that no
clock can tell are left out; what could not be read is said; a defect that grounds still grounds.
"""

from __future__ import annotations

from audit.errors import AuditError, NotReplayed
from audit.folder import LogFolder, RunInfo
from audit.line import Line, parse
from audit.reader import pieces
from audit.stamps import Stamp
from runner.host.clock import since
from runner.host.replay import Cache, Replayer

Pairs = tuple[tuple[str, str], ...]
Age = int | None
"""Milliseconds since something, or None where no clock can tell."""


def left_before(
    folder: LogFolder, now: Stamp, cache: Cache | None = None, runs: list[RunInfo] | None = None
) -> tuple[Pairs, tuple[str, ...]]:
    """What is carried over, and a sentence for each run that could not be read. `runs` are those of
    the folder, where they have been listed already."""
    held = cache or Cache()
    trouble: list[str] = []
    for info in reversed(folder.runs() if runs is None else runs):
        try:
            pairs = _left_by(folder, info.run, now, held)
        except (AuditError, OSError) as fault:
            trouble.append(
                f"{info.run} cannot be replayed ({fault}): of what it left nothing is known"
            )
            continue
        if trouble:
            pairs = tuple(p for p in pairs if p[0].startswith(("defect:", "grounded:")))
        return pairs, tuple(trouble)
    return (), tuple(trouble)


def _left_by(folder: LogFolder, run: str, now: Stamp, held: Cache) -> Pairs:
    player: Replayer | None = None
    opened: Line | None = None
    with folder.path_of(run).open("rb") as stream:
        for piece in pieces(stream):
            if not piece.raw.endswith(b"\n"):
                break
            line = parse(piece.raw)
            if line.type == "open":
                opened = line
                player = Replayer(held.table(line.data, folder.documents), line)
            elif player is not None and (found := player.line(line)) is not None:
                raise NotReplayed(f"line {line.seq}: {found[2]}")
    if player is None or opened is None:
        raise NotReplayed("it has no opening")
    passed = since(player.last_stamp, now)
    if player.events == 0:
        return _handed_on(opened, passed)
    return _carried(player, passed)


def _handed_on(opened: Line, passed: Age) -> Pairs:
    """What a run was opened with, when nothing happened in it."""
    pairs = []
    for key, text in opened.data["carried"].get("items", []):
        if not key.startswith("moment:"):
            pairs.append((key, text))
        elif passed is not None and text.isascii() and text.isdigit():
            pairs.append((key, str(int(text) + passed)))
    return tuple(pairs)


def _carried(player: Replayer, passed: Age) -> Pairs:
    state = player.state
    pairs = [
        (f"counter:{name}", str(state.values[name]))
        for name in sorted(player.table.counters)
        if name in state.values
    ]
    if passed is not None:
        for moment, at in sorted(state.moments.items()):
            pairs.append((f"moment:{moment}", str(max(0, player.last_at - at) + passed)))
    pairs += [
        (f"{'grounded' if d.grounding else 'defect'}:{d.where}", d.text)
        for d in state.defects
        if d.open
    ]
    return tuple(pairs)
