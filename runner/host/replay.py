"""A log through the engine: to resume a run, and to verify that its lists allowed it.

Rules: the documents are those whose exact bytes were logged; every logged outcome and digest must
come out again; no event lies ahead of the clock of its own line; a close stands only where no list
of the day was open, and names every acceptance; what cannot be replayed (other rules, a missing
document) is said, never guessed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from audit.errors import NotReplayed
from audit.line import Line
from audit.stamps import Stamp
from runner.engine.effects import Prompt
from runner.engine.errors import BadEvent
from runner.engine.events import Event, Opened, Recovered
from runner.engine.outcomes import Outcome
from runner.engine.state import State, initial
from runner.engine.table import Table
from runner.engine.wire import read_event
from runner.flow.faults import FlowErrors
from runner.flow.loader import Loaded, load_documents
from runner.host.clock import since
from runner.host.stepping import RULES, accepted, same, step

Finding = tuple[int, str, str]
Load = Callable[[Mapping[str, bytes]], Loaded]


def documents_of(opening: Mapping[str, Any], read: Callable[[str], bytes]) -> dict[str, bytes]:
    """The exact bytes of every document of a run, by name, read by hash."""
    return {entry["name"]: read(entry["sha256"]) for entry in opening["documents"]}


class Cache:
    """Compiled documents by their hashes, so that a thousand logs of one revision load once."""

    def __init__(self, load: Load = load_documents) -> None:
        self._load = load
        self._held: dict[tuple[tuple[str, str], ...], Loaded] = {}

    def table(self, opening: Mapping[str, Any], folder: Path) -> Table:
        """The table of a run's documents. Raises NotReplayed."""
        key = tuple(sorted((d["name"], d["sha256"]) for d in opening["documents"]))
        if key not in self._held:

            def stored(sha: str) -> bytes:
                try:
                    content = (folder / sha).read_bytes()
                except OSError:
                    raise NotReplayed(f"the document {sha[:12]} is missing") from None
                if hashlib.sha256(content).hexdigest() != sha:
                    raise NotReplayed(f"the document {sha[:12]} was changed")
                return content

            try:
                self._held[key] = self._load(documents_of(opening, stored))
            except FlowErrors as faults:
                raise NotReplayed(f"the documents do not load: {faults}") from None
        return self._held[key].table


class Replayer:
    """Runs the events of one log; `finding` is the first place where log and lists part."""

    def __init__(self, table: Table, opened: Line) -> None:
        self.table = table
        self.opening: Mapping[str, Any] = opened.data
        self.state: State = initial()
        self.acceptances: list[int] = []
        self.events = 0
        self.last_at = 0
        self.last_stamp = opened.stamp
        self._zero = opened.stamp.mono_ms
        self._resumed: int | None = None

    def line(self, line: Line) -> Finding | None:
        """The next line; what it says that the lists do not."""
        if line.type == "event":
            return self._event(line)
        if line.type == "resume":
            self._resumed = since(self.last_stamp, line.stamp)
            self._zero = line.stamp.mono_ms - self.last_at - (self._resumed or 0)
        elif line.type == "close":
            return self._close(line.seq, line.data)
        return None

    def _event(self, line: Line) -> Finding | None:
        data, stamp = line.data, line.stamp
        try:
            event = read_event(data["event"])
        except BadEvent as fault:
            return line.seq, "replay-event", f"the event could not have happened: {fault}"
        kind, at = type(event), event.at
        # What comes no later than what was taken before lies ahead of no clock.
        if at > self.last_at or kind is Recovered:
            found = self._clock(event, stamp)
            if found:
                return line.seq, "replay-clock", found
        if kind is Opened or self.events == 0:
            found = self._opening(event)
            if found:
                return line.seq, "replay-opening", found
        self.events += 1
        self.last_stamp = stamp
        if at > self.last_at:
            self.last_at = at
        self.state, outcome = step(self.table, self.state, event)
        if accepted(outcome):
            self.acceptances.append(line.seq)
        if not same(data, outcome, self.state):
            return line.seq, "replay-outcome", _parted(data, outcome, self.state)
        return None

    def _clock(self, event: Event, stamp: Stamp) -> str:
        """Time that passes in the lists must have passed on the clock that stamped the lines."""
        ahead = event.at - max(stamp.mono_ms - self._zero, self.last_at)
        if ahead > 0:
            return f"the event lies {ahead} ms ahead of the clock of its line"
        if isinstance(event, Recovered) and (
            event.gap != (self._resumed or 0) or event.certain != (self._resumed is not None)
        ):
            return f"it tells of a stop of {event.gap} ms, the clock of {self._resumed} ms"
        return ""

    def _opening(self, event: object) -> str:
        if not isinstance(event, Opened):
            return "the first event is not the opening of the run"
        if self.events:
            return ""
        if list(event.modes) != list(self.opening["modes"]):
            return "the run was opened in other modes than were signed"
        if [list(p) for p in event.crew] != [
            [p["role"], p["name"]] for p in self.opening["roster"]
        ]:
            return "the run was opened by another crew than signed"
        if [list(p) for p in event.carried] != self.opening["carried"].get("items", []):
            return "what was carried over is not what was signed"
        if list(event.fit) != self.opening["carried"].get("fit", []):
            return "the run was opened with other equipment than was signed"
        if event.only != self.opening["carried"].get("only", ""):
            return "the run was opened for other lists than was signed"
        return ""

    def _close(self, seq: int, data: Mapping[str, Any]) -> Finding | None:
        prompt = self.state.question.prompt
        if prompt is not Prompt.CLOSED or not self.state.flight:
            return seq, "replay-close", f"the log closes while the lists stand at {prompt.value}"
        if list(data["acceptances"]) != self.acceptances:
            return seq, "replay-acceptances", "the acceptances signed are not those that were made"
        return None


def _parted(data: Mapping[str, Any], outcome: Outcome, state: State) -> str:
    """Where the lists and a line of the log part, never as two texts that read equal."""
    ours, logged = [list(item) for item in outcome], list(data["outcome"])
    if ours == logged:
        return (
            "the outcome is the same and the state behind it is not: "
            f"the lists give the digest {state.digest()[:16]}, the log says {data['state']!s:.16}"
        )
    if _words(ours) != _words(logged):
        return f"the lists give {_words(ours)}, the log says {_words(logged)}"
    places = range(max(len(ours), len(logged)))
    at = next(i for i in places if ours[i : i + 1] != logged[i : i + 1])
    return (
        f"the outcomes part at their item {at + 1}: "
        f"the lists give {ours[at : at + 1]}, the log says {logged[at : at + 1]}"
    )[:400]


def _words(outcome: Iterable[Iterable[str]]) -> str:
    return "; ".join(" ".join(str(part) for part in item) for item in outcome)[:160] or "nothing"


def replayed(cache: Cache | None = None) -> Callable[[Iterator[Line], Path], Finding | None]:
    """The hook of `audit.verify.verify` for the level *replayed*."""
    held = cache or Cache()

    def hook(lines: Iterator[Line], documents: Path) -> Finding | None:
        player: Replayer | None = None
        finding: Finding | None = None
        for line in lines:
            if line.type == "open":
                if line.data["rules"] != RULES:
                    raise NotReplayed(
                        f"its rules are number {line.data['rules']}, this engine has {RULES}"
                    )
                player = Replayer(held.table(line.data, documents), line)
            elif player is not None and finding is None:
                # The rest is still read: a broken chain behind weighs more than what was found.
                finding = player.line(line)
        return finding

    return hook
