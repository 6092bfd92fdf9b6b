"""One step of the engine's table as a line of the card.

Rules: limits and times are the engine's and the author's words for them, conditions what a pilot
would write of them; another step,
list or drill is named by its title and the number where it begins; what the program would do by
itself (time, count, subtract) is written out, since paper does nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from runner.engine.conditions import Condition
from runner.engine.steplines import unit_of
from runner.engine.table import Choice, EndKind, Kind, Step, Table, Unmet
from runner.engine.table import End as Ending
from runner.engine.units import shown
from runner.flow.card.shapes import End, Line, Reply
from runner.flow.comparing.values import time_text
from runner.flow.condition_text import ConditionText, formula_text


class Wording:
    """The words of one aircraft; what steps refer to is looked up once."""

    def __init__(self, table: Table) -> None:
        self._table = table
        self._conditions = ConditionText(table.counters, table.fit)
        self._noted: dict[str, list[int]] = {}
        self._given: dict[str, list[Step]] = {}
        for step in table.steps.values():
            for moment in step.notes:
                self._noted.setdefault(moment, []).append(step.number)
            if step.gives:
                self._given.setdefault(step.gives, []).append(step)

    def line(self, step: Step) -> Line:
        """A step."""
        asked = step.kind not in (Kind.REMARK, Kind.COMPUTED)
        return Line(
            number=step.number,
            kind=step.kind,
            words=step.challenge,
            who=step.who.value if asked else "",
            accept=step.accept.value if step.accept else "",
            replies=tuple(self._replies(step)),
            when=self.condition(step.own_when),
            notes=tuple(self._notes(step)),
            memory=step.memory,
        )

    def end(self, end: Ending) -> End:
        """One way in which a drill ends."""
        leads = {
            EndKind.CONTINUE: "continue here",
            EndKind.DISCONTINUE: "discontinue",
            EndKind.UNSERVICEABLE: "aircraft unserviceable",
        }.get(end.kind) or f"{self.place(end.flow)} again from its first line"
        said = [leads]
        if end.voids:
            names = sorted({self._value(name) for name in end.voids})
            said.append(f"Ask again: {', '.join(names)}")
        if end.defect:
            said.append(f"Enter the defect: {end.defect}")
        return End(end.label, self.condition(end.when), tuple(said))

    def condition(self, condition: Condition | None) -> str:
        """What must hold, as it is written on paper; empty if it is asked in every case."""
        return "" if condition is None else self._conditions.condition(condition)

    def place(self, flow_id: str) -> str:
        """A list or drill as it is found on the card: "drill Fire in start, 801"."""
        flow = self._table.flows[flow_id]
        kind = "drill" if flow.drill else "list"
        return f"{kind} {flow.title}, {flow.steps[0].number}"

    def timers(self, names: Iterable[str]) -> str:
        """The names of by-times."""
        return ", ".join(self._table.timers[name].label for name in names)

    def _value(self, name: str) -> str:
        given = self._given.get(name)
        return f"{given[0].challenge} ({given[0].number})" if given else name.replace("_", " ")

    def _replies(self, step: Step) -> Iterator[Reply]:
        unit = shown(unit_of(self._table, step))
        match step.kind:
            case Kind.CHOICE:
                for choice in step.choices:
                    yield Reply(choice.text, box=True, aside=self._aside(choice))
            case Kind.READING | Kind.COMPUTED:
                if step.limit is not None:
                    yield Reply(step.limit.text())
                yield Reply("" if step.limit else unit, blank=True)
                if step.drop_from:
                    yield Reply(f"{unit} drop", blank=True)
            case Kind.WAIT if step.wait is not None:
                yield Reply(time_text(step.wait.length))
                yield Reply("UTC", blank=True)
            case Kind.CAUTION | Kind.REMARK:
                return
            case _:
                yield Reply(step.response)
                if step.mark:
                    yield Reply("UTC", blank=True)

    def _aside(self, choice: Choice) -> str:
        """When an answer is possible, and what it leads to."""
        said = []
        if choice.when is not None:
            said.append(f"only if {self.condition(choice.when)}")
        if choice.back_to:
            said.append(f"back to {self._table.steps[choice.back_to].number}")
        if choice.drill:
            said.append(self.place(choice.drill))
        said += self._counted(choice.adds)
        return "; ".join(said)

    def _counted(self, adds: Iterable[tuple[str, int]]) -> list[str]:
        return [f"count {self._table.counters[name].label} plus {n}" for name, n in adds]

    def _notes(self, step: Step) -> Iterator[str]:
        yield from self._times(step)
        if step.drop_from:
            yield f"Drop from {self._value(step.drop_from)}"
        if step.formula is not None:
            yield formula_text(step.formula)
        if step.adds:
            yield from (f"C{one[1:]}" for one in self._counted(step.adds))
        cleared = [name for name in step.clears if name in self._table.counters]
        if cleared:
            yield f"Count from 0: {', '.join(self._table.counters[n].label for n in cleared)}"
        if step.meanwhile:
            yield "During the wait before it"
        if step.may_put_off:
            back = self._table.steps[step.back_before].number if step.back_before else 0
            yield (
                f"May be put off, until before {back}"
                if back
                else ("May be put off, until the end of this list")
            )
        if step.unmet is Unmet.STOP:
            yield "Not met: the list stops"
        if step.branch:
            yield f"Not met: {self.place(step.branch)}"
        if step.drill and step.drill != step.branch:
            yield f"Not so: {self.place(step.drill)}"

    def _times(self, step: Step) -> Iterator[str]:
        if step.wait is not None:
            if step.wait.since:
                since = ", ".join(map(str, self._noted.get(step.wait.since, [])))
                yield f"Counted from {since}" if since else "Counted from its start"
            for name, limit in step.wait.conditions:
                yield f"Meanwhile {self._table.readings[name].label} {limit.text()}"
            if step.wait.conditions:
                yield "Outside of that, the time begins again"
        if step.timer:
            rule = self._table.timers[step.timer]
            yield f"Time from here: {rule.label}, at most {time_text(rule.length)}"
            if rule.calls:
                yield f"Call at {', '.join(map(time_text, rule.calls))}"
            over = [rule.says] if rule.says else []
            over += [self.place(rule.drill)] if rule.drill else []
            if over:
                yield f"Time over: {'; '.join(over)}"
        if step.within:
            rule = self._table.timers[step.within]
            yield f"Within the time {rule.label}, {time_text(rule.length)}"
        if step.ends:
            yield f"Ends the time {self.timers(step.ends)}"
