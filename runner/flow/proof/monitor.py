"""Judges a run by its events and outcomes alone, and by limits and needs as documents.

Rules: it shares no decision with the engine and its comparisons are exact fractions of its own;
what an outcome claims must follow from what was said. `Ledger` keeps what was said and read,
`Clock` knows the time of it, `Monitor` judges; each has at most 60 lines, and a test counts them.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from functools import cache, lru_cache
from typing import Any

from runner.engine.events import Accept, Affirm, Answer, Event, Opened
from runner.engine.outcomes import Item, Outcome
from runner.engine.table import AcceptClass, Kind, Step, Table, Who
from runner.flow.proof.arithmetic import computed

PLAIN = (Kind.CHALLENGE, Kind.TICK, Kind.CAUTION)
EMERGENCY, COMMANDER = AcceptClass.EMERGENCY, AcceptClass.COMMANDER
LONG_AGO = -(10**9)
JUST = Fraction(1, 10**9)
OPENS = ("unmet", "reopened", "put off", "back")


@lru_cache(maxsize=4096)
def exact(written: str | Decimal) -> Fraction:
    """A number of the documents, or of what was said."""
    return Fraction(written)


def inside(limit: Any, value: Fraction) -> bool:
    """Whether a value lies in a limit of the documents."""
    low, high = limit.low, limit.high
    if low is not None and (value < exact(low) or (limit.low_open and value == exact(low))):
        return False
    if high is None or value < exact(high):
        return True
    return bool(value == exact(high) and not limit.high_open)


def on_card(step: Step, ranges: list[tuple[int, int]]) -> bool:
    """Whether paper is enough for this step, and has it."""
    bound: list[object] = [step.limit, step.critical, step.timer, step.within, step.mark]
    bound += [step.turns, step.notes, step.adds, step.clears, step.ends]
    listed = any(first <= step.number <= last for first, last in ranges)
    return step.kind in PLAIN and not any(bound) and listed


def number(said: str, base: Fraction | None) -> Fraction:
    """The number that was said: a drop from its base, a threshold just beyond its bound."""
    word, _, rest = said.strip().lower().rpartition(" ")
    if word == "drop":
        return (base or Fraction(0)) - exact(rest)
    beyond = {"below": -JUST, "above": JUST}.get(word)
    return exact(rest) if beyond is None else exact(rest) + beyond


@cache
def judge_of(kind: str) -> str:
    """The name of what judges items of this kind."""
    return "on_" + kind.replace(" ", "_")


def nothing(*_: str) -> None:
    """What an item comes to that nothing judges."""


class Ledger:
    """What was said; `see` takes every event with its outcome and tells them on."""

    def __init__(self, table: Table) -> None:
        self.table, self.faults = table, list[str]()
        self.alone = self.airborne = self.only = False
        self.heard, self.heard_at, self.answered = "", 0, 0
        self.ok, self.kept = dict[str, bool](), dict[str, bool]()
        self.value: dict[str, tuple[Fraction | None, int]] = {}
        self.since, self.looks, self.newest = dict[str, int](), dict[str, str](), dict[str, str]()
        self.paper, self.reads = list[tuple[int, int]](), dict[str, tuple[int, ...]]()

    def note(self, event: Event, kind: str, item: Item) -> None:
        """Keeps what one item of an outcome says."""
        for known in (self.ok, self.kept) if kind in OPENS else ():
            known[item[0]] = False
        if kind == "read back":
            self.heard, self.heard_at = item[1], event.at
        elif kind in ("met", "accepted"):
            self.reads[item[0]] = (*self.reads.get(item[0], ()), self.read_at)
            self.since.update({f"moment {n}": event.at for n in self.table.steps[item[0]].notes})
        elif kind == "wait broken":
            self.since.pop(f"moment {getattr(self.table.steps[item[0]].wait, 'since', '')}", None)
        elif kind == "unmet" and item[1].lstrip("-").replace(".", "", 1).isdigit():
            self.keep(self.table.steps[item[0]], item[1], event.at)
        elif kind == "one of two":
            self.looks[item[0]] = item[1]
        elif kind in ("timer started", "wait started"):
            self.since[item[0]] = event.at
        elif kind == "entered":
            self.ok.update({step.id: False for step in self.table.flows[item[0]].steps})
        elif kind == "paper":
            self.paper.append((int(item[0]), int(item[1])))
        elif kind == "marked":
            self.airborne = item[0] == "take-off" or (self.airborne and item[0] != "landing")
            self.kept = {} if item[0].endswith("stop") else self.kept
        elif isinstance(event, Opened) and kind == "opened":
            self.only = bool(event.only)
            self.alone = not {"solo", "single-pilot"}.isdisjoint(event.modes)
        elif kind == "flight" or (kind == "left behind" and not self.table.flows[item[0]].drill):
            self.paper.clear()

    def see(self, event: Event, outcome: Outcome) -> None:
        self.event, self.read_at = event, self.heard_at if isinstance(event, Affirm) else event.at
        answered = {i[1] for i in outcome if i[0] == "met" and not self.table.steps[i[1]].mark}
        if len(answered) > 1:
            self.check(False, f"one event answered {sorted(answered)}")
        if isinstance(event, (Answer, Affirm)) and outcome and outcome[0][0] != "refused":
            self.check(event.ask > self.answered, "a question answered twice")
            self.answered = event.ask
        for kind, *item in outcome:
            self.note(event, kind, tuple(item))
            getattr(self, judge_of(kind), nothing)(*item)

    def check(self, holds: bool, fault: str) -> None:
        self.faults += [] if holds else [f"{self.event}: {fault}"]

    def keep(self, step: Step, said: str, at: int, newest: bool = True) -> Fraction:
        """Keeps the value of a reading under its name and, the newest, under its instrument's."""
        kept = number(said, self.value.get(step.drop_from, (None, 0))[0])
        self.newest.update({step.reading: step.id} if newest else {})
        self.value[step.gives] = (kept, at)
        if self.newest.setdefault(step.reading, step.id) == step.id:
            self.value["reading " + step.reading] = (kept, at)
        return kept


class Clock(Ledger):
    """By-times and waits, by when they began and when what they ask for was said."""

    def in_time(self, step: Step) -> bool:
        """Whether a step comes before its by-time; one that was met stays met until its next."""
        timer, began = self.table.timers.get(step.within), self.since.get(step.within, LONG_AGO)
        met = self.since.get(f"met {step.within}", LONG_AGO) >= began
        return timer is None or met or self.event.at < began + timer.length

    def waited(self, step: Step) -> bool:
        """Whether the length of a step's wait is over, and all was read again that it asks for."""
        if (rule := step.wait) is None:
            return True
        moment = "" if rule.conditions else f"moment {rule.since}"
        end = self.since.get(moment, self.since[step.id]) + rule.length
        read = sum(at >= end for at in self.reads.get(step.id, ()))
        return end <= self.event.at and read >= len(rule.conditions)


class Monitor(Clock):
    """`faults` tells what must not have happened; of a list practised alone, no need is judged."""

    def judge(self, step: Step, said: str, timely: bool = False, newest: bool = True) -> bool:
        value = self.keep(step, said, self.read_at, newest)
        good = timely or self.in_time(step)
        if good := good and (step.limit is None or inside(step.limit, value)):
            self.since[f"met {step.within}"] = self.event.at
        return good

    def passes(self, step: Step) -> None:
        self.ok[step.id] = self.kept[step.id] = True
        for need in (n for n in self.table.needs if n.before == step.id and not self.only):
            value, at = self.value.get("reading " + need.reading, (Fraction(10**9), 0))
            fresh = self.airborne or self.event.at - at <= (need.within or self.event.at)
            held = value is None or (fresh and inside(need.limit, value)) if need.reading else False
            self.check(held or self.ok.get(need.step, False), f"{step.id} before {need.what}")

    def on_met(self, key: str, text: str) -> None:
        step, said = self.table.steps[key], getattr(self.event, "value", self.heard)
        if step.kind is Kind.READING:
            self.check(self.judge(step, said), f"{key}: {said} met")
        if step.who is Who.BOTH and not self.alone and isinstance(self.event, Answer):
            self.check(self.looks.pop(key, self.event.role) != self.event.role, f"{key}: one look")
        if step.wait is None:
            self.passes(step)
        else:
            limits = [limit for _, limit in step.wait.conditions]
            self.check(any(inside(one, exact(said)) for one in limits), f"{key}: {said} kept")

    def on_wait_done(self, key: str) -> None:
        step = self.table.steps[key]
        self.check(self.waited(step), f"{key} done")
        self.passes(step)

    def on_corrected(self, key: str, old: str, new: str) -> None:
        if (step := self.table.steps[key]).kind is Kind.READING:
            met = self.judge(step, new, self.ok.get(key, False), newest=False)
            self.ok[key] = met and (self.alone or step.who is not Who.BOTH)

    def on_computed(self, key: str, text: str) -> None:
        if (step := self.table.steps[key]).formula is not None:
            found = computed(step.formula, {name: value for name, (value, _) in self.value.items()})
            self.value[step.gives] = (found, self.event.at)
            self.ok[key] = found is None or step.limit is None or inside(step.limit, found)

    def on_accepted(self, key: str, kind: str, value: str, reason: str) -> None:
        step, event = self.table.steps[key], self.event
        given = isinstance(event, Accept) and event.emergency and kind == EMERGENCY
        right = isinstance(event, Accept) and (event.role == "commander" or self.alone)
        self.check(right and step.accept is AcceptClass(kind), f"{key} accepted by nobody")
        self.check(given or (kind == COMMANDER and reason in self.table.reasons), f"{key}: why")
        self.value["reading " + step.reading] = (None, event.at)
        self.passes(step)

    def on_not_required(self, key: str, source: str) -> None:
        owner = self.table.steps.get(key) or self.table.flows[key]
        written = [getattr(owner, name, None) for name in ("when", "own_when")]
        self.ok[key] = any(c is not None and c.source == source for c in written)
        self.check(self.ok[key], f"{key} not required")
        # Of a list not asked again stands what was passed since anything last stopped.
        self.ok.update({s.id: self.kept.get(s.id, False) for s in getattr(owner, "steps", ())})

    def on_list_closed(self, key: str, *_: str) -> None:
        for step in self.table.flows[key].steps[:-1]:
            passed = step.kind is Kind.REMARK or self.ok.get(step.id) or on_card(step, self.paper)
            self.check(bool(passed), f"{key} closed with {step.id} open")

    on_drill_out = on_list_closed
