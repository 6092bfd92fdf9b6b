"""Which steps another step hangs on: the closure of what feeds its values, clocks and ways back.

Rules: a step is fed by the steps that give a name it reads (its condition, the one of its list, its
formula, the base of its drop), that start or end the by-time it must meet, that note the moment its
wait counts from, that bring it back after it was put off, and by the one its choice leads back to.
What turns feeds a condition only within the list that reads it; other lists are taken as they are,
and the slice says so.
"""

from __future__ import annotations

from collections.abc import Iterable

from runner.engine.table import Flow, Step, Table

TURNING = {"engine_running": "engine", "rotor_turning": "rotor"}


class Feeders:
    """What feeds what in the documents of one aircraft; indexed once, asked for every slice."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self.flow_of: dict[str, Flow] = {}
        self.givers: dict[str, list[str]] = {}
        self.starters: dict[str, list[str]] = {}
        self.enders: dict[str, list[str]] = {}
        self.noters: dict[str, list[str]] = {}
        self.turners: dict[tuple[str, str], list[str]] = {}
        for flow in table.flows.values():
            for step in flow.steps:
                self.flow_of[step.id] = flow
                for index, names in (
                    (self.givers, (step.gives,)), (self.starters, (step.timer,)),
                    (self.enders, step.ends), (self.noters, step.notes),
                ):  # fmt: skip
                    for name in filter(None, names):
                        index.setdefault(name, []).append(step.id)
                for what, _ in step.turns:
                    self.turners.setdefault((flow.id, what), []).append(step.id)

    def read_by(self, step: Step) -> set[str]:
        """The names that decide this step: its condition and formula, its base, its list's, and
        those of its choices."""
        flow = self.flow_of[step.id]
        names: set[str] = {step.drop_from} if step.drop_from else set()
        for compiled in (step.when, step.formula, flow.when, *(c.when for c in step.choices)):
            if compiled is not None:
                names |= compiled.names
        return names

    def of(self, step: Step) -> set[str]:
        """The steps that feed this one directly; steps of drills do not feed steps of lists."""
        flow = self.flow_of[step.id]
        found: set[str] = set()
        for name in self.read_by(step):
            found.update(self.givers.get(name, ()))
            found.update(self.turners.get((flow.id, TURNING.get(name, "")), ()))
        if step.within:
            found.update(self.starters.get(step.within, ()), self.enders.get(step.within, ()))
        if step.wait is not None and step.wait.since:
            found.update(self.noters.get(step.wait.since, ()))
        found.update(filter(None, (step.back_before, *(c.back_to for c in step.choices))))
        return {
            one
            for one in found & self.flow_of.keys()
            if one != step.id and (not self.flow_of[one].drill or self.flow_of[one] is flow)
        }

    def closure(self, wanted: Iterable[str]) -> set[str]:
        """These steps with everything that they hang on."""
        found: set[str] = set()
        left = list(wanted)
        while left:
            step_id = left.pop()
            if step_id not in found:
                found.add(step_id)
                left += self.of(self.table.steps[step_id])
        return found
