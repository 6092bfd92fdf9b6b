"""What steps, lists and drills came to in a set of logs, for the diagram they are laid over.

Rules: logs are run again through the documents that they were made with, and counted only where
every document that is drawn is the same: the one of a list, or all of an aircraft. What was left
out is said on standard error; of a run that fails nothing is counted.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Final

from audit.chain import distinct
from audit.errors import Fault, NotReplayed
from audit.line import parse
from audit.reader import pieces
from runner.engine.state import How
from runner.engine.table import Kind, Table
from runner.flow.drawing.counts import PASSED, Counts
from runner.host.places import PlaceFault
from runner.host.replay import Cache, Replayer
from runner.host.stepping import RULES

_OF_A_LIST: Final = {
    "list closed": "closed", "not required": "not required", "left behind": "left",
    "drill in": "opened", "drill out": "ended", "drill undone": "opened by mistake",
}  # fmt: skip
"""What an outcome says of the list or drill that it names first."""

_Latches = dict[int, tuple[str, tuple[tuple[How, int], ...]]]


def coverage(paths: Iterable[Path], drawn: Mapping[str, str], aircraft: str = "") -> Counts:
    """What became of the steps in the logs that paths name, and of an `aircraft`, if one is named,
    of its lists and drills. `drawn` has the SHA-256 of each document that is drawn, by its name."""
    paths = list(paths)
    logs = distinct(paths)
    if not logs:
        raise PlaceFault(f"there is no log in {', '.join(map(str, paths))}")
    found: dict[str, Counter[str]] = {}
    passed: Counter[str] = Counter()
    inner: dict[str, tuple[int, int]] = {}
    cache, runs = Cache(), 0
    for log in logs:
        try:
            run = _Run(log, cache, drawn)
        except (Fault, NotReplayed, KeyError, TypeError, ValueError) as fault:
            print(f"{log}: left out, {fault}", file=sys.stderr)
            continue
        if run.table is None:
            what = "its documents are others" if aircraft else "its list is another document"
            print(f"{log}: left out, {what}", file=sys.stderr)
            continue
        runs += 1
        counted = {**run.steps}
        if aircraft:
            counted |= {f"{aircraft}.{flow}": counter for flow, counter in run.lists.items()}
        for name, counter in counted.items():
            found.setdefault(name, Counter()).update(counter)
            passed[name] += any(counter[word] for word in PASSED)
        if aircraft:
            inner = {f"{aircraft}.{k}": v for k, v in _inner(run.table, passed).items()}
    return Counts(runs, found, dict(passed), inner)


def _inner(table: Table, passed: Mapping[str, int]) -> dict[str, tuple[int, int]]:
    """How many steps of each list and drill some run passed, and of how many."""
    return {
        name: (sum(bool(passed.get(step.id)) for step in flow.steps), len(flow.steps))
        for name, flow in table.flows.items()
    }


class _Run:
    """One log: what its `steps` and `lists` came to; without a `table` its documents are others."""

    def __init__(self, log: Path, cache: Cache, drawn: Mapping[str, str]) -> None:
        self.table: Table | None = None
        self.steps: dict[str, Counter[str]] = {}
        self.lists: dict[str, Counter[str]] = {}
        self._flows = {Path(name).stem for name in drawn if "/" in name}
        player: Replayer | None = None
        with log.open("rb") as stream:
            for piece in pieces(stream):
                if not piece.raw.endswith(b"\n"):
                    break
                line = parse(piece.raw)
                if line.type == "open":
                    if line.data["rules"] != RULES:
                        raise NotReplayed(f"its rules are number {line.data['rules']}, not {RULES}")
                    logged = {one["name"]: one["sha256"] for one in line.data["documents"]}
                    if not drawn.items() <= logged.items():
                        return
                    table = cache.table(line.data, log.parent / "documents")
                    player = Replayer(table, line)
                elif player is not None:
                    before = self._latches(player)
                    finding = player.line(line)
                    if finding is not None:
                        raise NotReplayed(f"line {finding[0]}: {finding[2]}")
                    now = self._latches(player)
                    self._add(player.table, before, now)
                    if line.type == "event":
                        self._add_closed(player.table, before, now, line.data["outcome"])
                        self._add_lists(line.data["outcome"])
        self.table = player.table if player is not None else None

    def _latches(self, player: Replayer) -> _Latches:
        """What each step of every visit has come to, and when that changed."""
        state = player.state
        return {
            visit.number: (visit.flow, tuple((one.how, one.entry) for one in visit.latches))
            for visit in (*state.visits, state.drill)
            if visit is not None and visit.flow in self._flows
        }

    def _add(self, table: Table, before: _Latches, after: _Latches) -> None:
        """Count what became of steps at this line."""
        for number, (flow, now) in after.items():
            was = before[number][1] if number in before else ((How.OPEN, 0),) * len(now)
            if was == now:
                continue
            for step, old, new in zip(table.flows[flow].steps, was, now, strict=True):
                if new != old and new[0] is not How.OPEN:
                    self.steps.setdefault(step.id, Counter())[new[0].value] += 1

    def _add_closed(
        self, table: Table, before: _Latches, after: _Latches, outcome: Iterable[Sequence[str]]
    ) -> None:
        """Count the closing call, whose answer ends the visit, so that no latch of it is left."""
        closed = {item[1] for item in outcome if item[0] in ("list closed", "drill out")}
        for number in before.keys() - after.keys():
            flow, was = before[number]
            last = table.flows[flow].steps[-1]
            if flow in closed and last.kind is Kind.CLOSING and was[-1][0] is How.OPEN:
                self.steps.setdefault(last.id, Counter())[How.ANSWERED.value] += 1

    def _add_lists(self, outcome: Iterable[Sequence[str]]) -> None:
        """Count what became of whole lists and drills."""
        for item in outcome:
            said = _OF_A_LIST.get(item[0])
            if said is not None and item[1] in self._flows:
                self.lists.setdefault(item[1], Counter())[said] += 1
