"""A crew that does what is asked, and the runs that it leads to the first line of every list.

Rules: what it answers lies within limits; what it chooses is drawn from the run's own dice, so that
a run stays a function of its seed; a list or drill that no such run reaches is opened by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from runner.engine import events as ev
from runner.engine.draft import Draft
from runner.engine.effects import Prompt
from runner.engine.limits import Limit
from runner.engine.listening import listen
from runner.engine.people import responders
from runner.engine.session import Session
from runner.engine.table import Kind, Step, Table
from runner.engine.views import current
from tests.runner.engine.generator import Run, reading_limit


class Willing:
    """A crew that does what is asked, in limits; what it chooses is drawn."""

    def __init__(self, run: Run) -> None:
        self.run = run

    def event(self) -> ev.Event:
        """The next event that leads on."""
        run = self.run
        state, at, ask = run.state, run.at + 1000, run.state.ask
        prompt, found = state.question.prompt, current(run.table, state)
        if prompt is Prompt.FIRST_PAGE:
            return ev.PageRead(at, role=state.unread[0])
        if prompt is Prompt.STANDBY:
            return ev.Continue(at)
        if prompt is Prompt.MEMORY_ITEMS:
            return ev.MemoryDone(at)
        if prompt is Prompt.CHOOSING and state.choosing is not None:
            return ev.Answer(at, ask, "", value=self._option(state.choosing.options))
        if prompt is Prompt.WAITING:
            due = Session(run.table, state).next_deadline()
            return ev.SayAgain(at if due is None else due + 1)
        if found is None:
            return ev.SayAgain(at)
        step = found[2]
        right = responders(Draft(run.table, state, ev.Wake(at)), step)
        role = next((r for r in right if r not in state.seen), right[0])
        if prompt is Prompt.READ_BACK:
            return ev.Affirm(at, ask, role)
        if step.mark:
            return ev.Mark(at, what=step.mark, when=at)
        if step.kind is Kind.COMPUTED:
            return self._other_input(at, step)
        heard = listen(run.table, state)
        if heard.number:
            _, limit = reading_limit(run.table, state, step)
            value = self._inside(limit, heard.low, heard.high, heard.decimals)
            base = state.values.get(step.drop_from) if step.drop_from else None
            if isinstance(base, Decimal):
                value = str(base - run.dice.choice((55, 60)))
            if step.kind is Kind.READING and found[3].value and step.unmet == "stop":
                return ev.Correct(at, role, step=step.id, value=value)
            return ev.Answer(at, ask, role, value=value)
        options = heard.responses or ("CLOSED",)
        if step.kind is Kind.CHOICE:
            plain = [c.text for c in step.choices if not c.back_to and not c.drill]
            options = tuple(plain or options)
        return ev.Answer(at, ask, role, value=run.dice.choice(options))

    def _option(self, options: tuple[str, ...]) -> str:
        quiet = [o for o in options if o in ("WAIT ON", "GO BACK", "RESUME HERE")]
        return self.run.dice.choice(quiet or list(options))

    def _inside(
        self, limit: Limit | None, low: Decimal | None, high: Decimal | None, decimals: int
    ) -> str:
        unit = Decimal(1).scaleb(-decimals)
        floor, top = low or Decimal(0), high or Decimal(100)
        if limit is None:
            middle = floor + (top - floor) * self.run.dice.randrange(35, 65) / 100
            return str(middle.quantize(unit))
        lower = limit.low if limit.low is not None else max(floor, (limit.high or top) - 20)
        upper = limit.high if limit.high is not None else min(top, lower + 20)
        middle = ((max(lower, floor) + min(upper, top)) / 2).quantize(unit)
        return str(middle)

    def _other_input(self, at: int, step: Step) -> ev.Event:
        names = step.formula.names if step.formula is not None else ()
        inputs = [s for s in self.run.table.steps.values() if s.reading and s.gives in names]
        one = self.run.dice.choice(inputs)
        reading = self.run.table.readings[one.reading]
        value = self._inside(one.limit, reading.low, reading.high, reading.decimals)
        base = self.run.state.values.get(one.drop_from) if one.drop_from else None
        if isinstance(base, Decimal):
            value = str(base - self.run.dice.choice((40, 60)))
        return ev.Correct(at, step=one.id, value=value)


def starts(table: Table, seeds: range, most: int = 1200) -> Iterator[Run]:
    """Runs that stand at the first line of a list or drill, each list and drill once."""
    seen: set[str] = set()
    for seed in seeds:
        run = Run(table, seed)
        fit = tuple(f for f in table.fit if run.dice.random() < 0.7)
        run.open(fit)
        crew = Willing(run)
        for _ in range(most):
            fresh = [v.flow for v in run.state.visits if v.flow not in seen]
            if fresh:
                seen.update(fresh)
                yield run.fork(seed)
            ended = [i[1] for i in run.outcomes[-1] if i[0] == "list closed"]
            if run.state.flight < 3 and any(table.flows[flow].next_flight for flow in ended):
                pause = run.dice.choice((60_000, 1_200_000, 4_000_000))
                run.send(ev.NextFlight(run.at + pause))
            elif run.state.question.prompt is Prompt.CLOSED:
                break
            else:
                run.send(crew.event())
        if seen.issuperset(table.order):
            break
    for drill in table.drills:
        run = Run(table, 0).open()
        run.send(ev.OpenDrill(run.at + 1000, drill=drill))
        yield run
    for flow in table.order:
        if flow not in seen:
            yield Run(table, 0).open(only=flow)
