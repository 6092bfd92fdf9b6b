"""A run's log as text for whoever supervises it: one row a line of the log.

Rules: every row has the number of its line and its time in UTC; people are named with their role;
a step is its challenge with its id behind it, a value has its unit; where the documents are not
beside the log, or do not load, their ids stand for the words, and the head says so; a log may hold
any text, so nothing here trusts its shape. Writes nothing, decides nothing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from audit.errors import NotReplayed
from audit.line import Line
from audit.stamps import wall_text
from runner.engine import units
from runner.engine.conditions import explain
from runner.engine.outcomes import OUTCOMES, Item, sentence
from runner.engine.state import Marked
from runner.engine.table import Step, Table
from runner.host.opening import registration_of
from runner.host.replay import Cache
from runner.words.calls import tell
from runner.words.timing import clock_text

NO_WORDS = "(ids stand for the words of the lists: {0})"
_VALUE = re.compile(r"(?:(?:below|above|drop) )?-?[0-9]+(?:\.[0-9]+)?")
_SIGNED = {
    "open-sig": "the opening", "resume-sig": "what came before it was taken up again",
    "close-sig": "the whole log",
}  # fmt: skip
_OPENED = {
    "gap", "crew", "modes", "only", "carried", "certain", "fit", "kind", "at", "ask", "role",
    "source", "sure",
}  # fmt: skip
"""What of an event without words is told by its outcome, or by the row of its opening."""


def utc(wall_ms: int) -> str:
    """A time of the clock on the wall, to the second."""
    return f"{wall_text(wall_ms)[11:19]} UTC"


class Timeline:
    """The rows of one log, read in order; `marks` and `last` are what its events came to."""

    def __init__(self, documents: Path) -> None:
        self._documents = documents
        self._table: Table | None = None
        self._aboard: dict[str, str] = {}
        self.marks: list[Marked] = []
        self.last = 0

    def rows(self, line: Line) -> list[str]:
        """The rows of one line. Raises Fault, KeyError and their like for what no run writes."""
        head = f"{line.seq:>5} {utc(line.stamp.wall_ms)} "
        return [f"{head} {text}" for text in self._texts(line)]

    def _texts(self, line: Line) -> list[str]:
        data = line.data
        if line.type == "open":
            return self._open(data)
        if line.type in _SIGNED:
            return [f"SIGNED  {data['name']}, for {_SIGNED[line.type]} (line {data['line']})"]
        if line.type == "resume":
            gap = "nobody knows how long" if data["gap"] is None else clock_text(data["gap"])
            return [f"RESUMED  after line {data['line']}, away for {gap}"]
        if line.type == "close":
            count = len(data["acceptances"])
            accepted = f"accepted by the commander {count} times" if count else "nothing accepted"
            return [f"CLOSE  {data['count']} lines, {accepted}"]
        if line.type != "event":
            return [f"{line.type.upper()}  {data.get('name', '')}"]
        at = data["event"].get("at", 0)
        self.last = max(self.last, at)
        zero = line.stamp.wall_ms - at
        outcome = [tuple(item) for item in data["outcome"]]
        texts = [self._told(item, zero) for item in outcome]
        for item in outcome:
            if item[0] == "marked":
                self.marks.append(Marked(item[1], int(item[2]) if len(item) > 2 else at, 0))
            if item[0] == "crew":
                self._aboard[item[1]] = item[2]
        return [f"{self._said(data)}  ->  {'; '.join(texts)}"]

    def _open(self, data: Mapping[str, Any]) -> list[str]:
        self._aboard = {one["role"]: one["name"] for one in data["roster"]}
        why = ""
        try:
            self._table = Cache().table(data, self._documents)
        except NotReplayed as fault:
            why = str(fault)
        crew = ", ".join(f"{role} {name}" for role, name in self._aboard.items())
        rows = [f"OPEN  {', '.join(data['modes'])}; {crew}; run {data['run_seq']} of device"]
        title = self._table.title if self._table is not None else ""
        if aircraft := f"{title} {registration_of(data)}".strip():
            rows.append(f"AIRCRAFT  {aircraft}")
        rows.append(f"APPROVAL  {_approval(data['documents'])}")
        carried = data["carried"]
        if fit := carried.get("fit"):
            rows.append(f"FITTED  {', '.join(fit)}")
        rows += [f"FROM BEFORE  {self._left(key, text)}" for key, text in carried.get("items", [])]
        if only := carried.get("only"):
            rows.append(f"ONLY  {self._flow(only)}: every other list of the day is not done")
        return [*rows, NO_WORDS.format(why)] if why else rows

    def _left(self, key: str, text: str) -> str:
        """What the run before left, of its keys `counter:`, `moment:`, `defect:`, `grounded:`."""
        what, _, name = key.partition(":")
        if what == "counter":
            known = self._table.counters.get(name) if self._table is not None else None
            return f"{known.label if known is not None else name} {text}"
        if what == "moment":
            return f"{name.replace('_', ' ')} {clock_text(int(text))} ago"
        return f"{'defect, aircraft grounded' if what == 'grounded' else what}: {text}"

    def _said(self, data: Mapping[str, Any]) -> str:
        """Who said what: by name and role, where the speaker was told."""
        event = data["event"]
        kind, role = event["kind"].upper(), event.get("role", "")
        heard = data.get("heard")
        if heard is None:
            # No words came with it: it was the clock, or the program itself.
            heard = " ".join(str(value) for key, value in event.items() if key not in _OPENED)
        if role and heard.casefold().startswith(f"{role.casefold()}:"):
            # What was heard may name its speaker already.
            heard = heard[len(role) + 1 :].strip()
        name = self._aboard.get(role, "")
        who = f"{role} {name}".strip()
        return f"{kind}  {who}: {heard}" if who else f"{kind}  {heard}".rstrip()

    def _flow(self, flow_id: str) -> str:
        flow = self._table.flows.get(flow_id) if self._table is not None else None
        return f"{flow.title} ({flow_id})" if flow is not None else flow_id

    def _value(self, step: Step, value: str) -> str:
        """A value with the unit of its reading, a response as the list has it."""
        if not _VALUE.fullmatch(value):
            return value
        reading = self._table.readings.get(step.reading) if self._table is not None else None
        unit = reading.unit if reading is not None else step.limit.unit if step.limit else ""
        return f"{value} {units.shown(unit)}" if unit and unit != "count" else value

    def _told(self, item: Item, zero: int) -> str:
        """One item of an outcome in words; `zero` is the wall time of run time 0."""
        kind, *rest = item
        if kind == "refused":
            return "REFUSED: " + sentence(item[1], item[2:])
        if kind == "marked":
            at = f" {utc(zero + int(rest[1]))}" if len(rest) > 1 else ""
            return f"{rest[0].upper()} MARKED{at}"
        if self._table is None:
            return " ".join((OUTCOMES[kind], *(part for part in rest if part)))
        if rest and rest[0] in self._table.steps:
            return self._of_step(self._table.steps[rest[0]], kind, rest[1:])
        if rest and rest[0] in self._table.readings and kind == "noted":
            reading = self._table.readings[rest[0]]
            return f"NOTED, {reading.label}: {rest[1]} {units.shown(reading.unit)}"
        if kind == "entered":
            return f"ENTERED: {self._flow(rest[0])}"
        said = tell(self._table, item)
        return said.text if said is not None else OUTCOMES[kind]

    def _of_step(self, step: Step, kind: str, more: list[str]) -> str:
        """What became of a step: what, which step, its value."""
        name = f"{step.number} {step.challenge} ({step.id})"
        values = [self._value(step, part) for part in more]
        if kind == "met":
            return f"ANSWERED: {name}: {values[0] if values and values[0] else 'DONE'}"
        if kind == "unmet":
            late = ", TOO LATE" if more[1:] == ["late"] else ""
            limit = f", limit {step.limit.text()}" if step.limit is not None else ""
            return f"NOT MET: {name}: {values[0]}{late}{limit}"
        if kind == "corrected":
            return f"CORRECTED: {name}: was {values[0] or 'nothing'}, now {values[1]}"
        if kind == "not required":
            why = explain(step.when, False) if step.when is not None else ""
            return f"NOT REQUIRED: {name}" + (f", {why}" if why else "")
        if kind == "one of two":
            return f"{more[0].upper()} HAS LOOKED: {name}: {', '.join(values[1:])}"
        label = _STEP_WORDS.get(kind, OUTCOMES[kind].upper())
        told = ", ".join(part for part in values if part)
        return f"{label}: {name}" + (f": {told}" if told else "")


_STEP_WORDS = {
    "read back": "READ BACK",
    "put off": "PUT OFF",
    "back": "BACK FROM PUT OFF",
    "computed": "COMPUTED",
    "accepted": "COMMANDER ACCEPTS",
    "reopened": "REOPENED",
    "wait started": "WAIT RUNS",
    "wait kept": "WAIT GOES ON",
    "wait broken": "CONDITION LOST, WAIT STARTS AGAIN",
    "wait done": "WAIT OVER",
    "so now": "CORRECTED, WAS NOT SO",
    "plateau": "STOPPED MOVING SHORT OF ITS LIMIT",
}


def _approval(documents: list[dict[str, Any]]) -> str:
    """By whom the documents of a run were approved, as its opening says."""
    people = sorted({one["approval"]["name"] for one in documents if one["approval"]})
    count = sum(one["approval"] is not None for one in documents)
    by = f" by {', '.join(people)}" if people else ""
    return f"{count} of {len(documents)} documents approved{by}"
