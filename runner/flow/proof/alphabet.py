"""What may happen in a state of a slice: every event that can matter to it, well and badly given.

Rules: each step is answered with every text it takes and with one value of every region, by those
who may and once by one who may not, surely and unsurely, in time and under an old number; every
free event is tried in every state where it could do something; time passes by one second with each
event, up to the next deadline, or beyond everything that ages. What is refused costs nothing.
After a stop the facts of what turns are answered as known where nothing in the slice hangs on them,
and nothing else is tried until it is said how to go on.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from runner.engine import events as ev
from runner.engine.draft import Draft
from runner.engine.effects import Prompt
from runner.engine.interruptions import FACTS
from runner.engine.people import responders
from runner.engine.state import How, Latch, Scalar, State
from runner.engine.table import AcceptClass, Kind, Step, Table
from runner.engine.views import current
from runner.flow.proof.behind import THIRTY_MINUTES
from runner.flow.proof.makers import Makers
from runner.flow.proof.values import Regions

SECOND = 1000
INTERRUPTED, PAPER = "an interruption", "the paper card"
BREAKS_IN = (ev.Standby, ev.Recovered, ev.OnPaper)
ROLES = ("commander", "copilot", "ground")


class Alphabet:
    """The events of one slice; `beside` is what may break in, `own` are the drills that the goal
    itself is in."""

    def __init__(
        self,
        table: Table,
        regions: Regions,
        beside: tuple[str, ...] = (),
        own: frozenset[str] = frozenset(),
    ) -> None:
        self.table, self.regions, self.beside, self.own = table, regions, beside, own
        # What a drill brings along that restarts a list is gone through with what is said well.
        self.badly = not beside or INTERRUPTED in beside
        lists = [f for f in table.flows.values() if not f.drill]
        self.alone = bool(own) and all(s.kind is Kind.CLOSING for f in lists for s in f.steps)
        numbers = [s.number for s in table.steps.values()]
        self.first, self.last = min(numbers), max(numbers)
        ages = [n.within for n in table.needs] + [r.fresh_for for r in table.readings.values()]
        ages += [THIRTY_MINUTES] if "stopped_minutes" in regions.used else []
        self.age = max([a for a in ages if a] or [0]) + SECOND
        self.happenings = sorted(
            {h for f in table.flows.values() for h in f.valid_until} & set(table.happenings)
        )
        self.maintenance = any(s.accept is AcceptClass.MAINTENANCE for s in table.steps.values())
        self.marks = any(s.mark for s in table.steps.values()) or "airborne" in regions.used
        self.timers = [t for t in table.timers if any(s.timer == t for s in table.steps.values())]
        self.turning = self._turning()
        self.values = {
            s.id: [
                str(v)
                for v in regions.values(
                    s.reading, (s.gives or f"own {s.id}", f"reading {s.reading}")
                )
            ]
            for s in table.steps.values()
            if s.kind is Kind.READING
        }
        self.corrected = {
            f.id: [(n, s) for n, s in enumerate(f.steps)
                   if s.kind in (Kind.READING, Kind.CHOICE, Kind.COMPUTED)]
            for f in table.flows.values()
        }  # fmt: skip
        # What is the same in many states is made once.
        self.make = Makers()
        self.right: dict[tuple[str, str], tuple[str, ...]] = {}
        self.texts: dict[tuple[object, ...], list[str]] = {}

    def moves(self, state: State, due: int | None, spent: bool) -> Iterator[ev.Event]:
        """Every event to try in this state; `due` is its next deadline; what stands beside the
        slice is tried unless it is `spent`."""
        at = state.at + SECOND
        prompt = state.question.prompt
        if prompt is Prompt.FIRST_PAGE:
            yield from (ev.PageRead(at, role=r) for r in state.unread)
            return
        kind = "" if state.choosing is None else state.choosing.kind
        if kind in FACTS and state.standby is None:
            yield from self._fact(state, kind, at)
            return
        if spent and kind == "resume" and state.standby is None:
            yield from self._offered(state, at)
        elif self.alone and state.drill is None and prompt is not Prompt.CHOOSING:
            yield from self._into(state, at)
        else:
            yield from self._asked(state, at)
            yield from self._free(state, at)
        if not spent:
            if self.badly and state.pending is None and state.choosing is None:
                yield from self._badly(state, at)
            yield from self._beside(state, at)
        if due is not None:
            yield self.make.now(ev.SayAgain, max(at, due + 1))
        if self.age > SECOND:
            yield self.make.now(ev.SayAgain, at + self.age)

    def _responders(self, state: State, step: Step) -> tuple[str, tuple[str, ...]]:
        """Who answers a step now, and all who may."""
        place = (step.id, state.handling)
        right = self.right.get(place)
        if right is None:
            right = responders(Draft(self.table, state, ev.Wake(state.at)), step)
            self.right[place] = right
        seen = state.seen if state.looks else ()
        return next((r for r in right if r not in seen), right[0]), right

    def _turning(self) -> frozenset[str]:
        """Which of engine and rotor anything here hangs on: by a name, by a step that turns it, or
        by where *discontinue* leads; on whether it flies the engine's own rules hang everywhere."""
        table, used, ways = self.table, self.regions.used, self.table.discontinue
        # After a stop nothing opens a drill from beside.
        steps = [s for f in table.flows.values() if f.id not in self.beside for s in f.steps]
        turned = {what for s in steps for what, _ in s.turns}
        turned |= {what for s in steps for c in s.choices for what, _ in c.turns}
        turned |= {"engine"} if {"engine_running", "stopped_minutes"} & used else set()
        turned |= {"rotor"} if "rotor_turning" in used else set()
        if not set(ways.values()).isdisjoint(table.order):
            # One of them will do where both lead to the same list.
            turned |= {"engine", "rotor"} if ways["engine"] != ways["rotor"] else set()
            turned = turned or {"engine"}
        return frozenset(turned | {"airborne"})

    def _fact(self, state: State, kind: str, at: int) -> Iterator[ev.Event]:
        ask, options = state.ask, FACTS[kind]
        if state.pending is not None:
            yield self.make.said(ev.Affirm, at, ask, "commander")
            yield self.make.said(ev.Disregard, at, ask, "commander")
            return
        known = {"engine": state.engine, "rotor": state.rotor, "airborne": state.airborne}[kind]
        told = options if kind in self.turning else options[known : known + 1]
        yield from (self.make.answer(at, ask, "commander", option) for option in told)
        yield self.make.now(ev.Discontinue, at)

    def _offered(self, state: State, at: int) -> Iterator[ev.Event]:
        """How to go on after a stop: what is offered, and an answer that nobody has asked for."""
        ask, choosing, found = state.ask, state.choosing, current(self.table, state)
        options = () if choosing is None else choosing.options
        yield from (self.make.answer(at, ask, "commander", option) for option in options)
        yield self.make.said(ev.Disregard, at, ask, "commander")
        yield self.make.now(ev.Discontinue, at)
        for text in self._texts(state, found[2])[:1] if found is not None else []:
            yield self.make.answer(at, ask, "commander", text)
            yield self.make.answer(at, ask - 1, "commander", text)

    def plain(self, state: State, due: int | None) -> Iterator[ev.Event]:
        """The events that lead on: what is asked is answered, what waits is waited for."""
        at, ask, prompt = state.at + SECOND, state.ask, state.question.prompt
        if prompt is Prompt.MEMORY_ITEMS:
            yield self.make.now(ev.MemoryDone, at)
        elif prompt is Prompt.CHOOSING and state.choosing is not None:
            yield from (self.make.answer(at, ask, "commander", o) for o in state.choosing.options)
        elif prompt is Prompt.WAITING:
            yield self.make.now(ev.SayAgain, at if due is None else max(at, due + 1))
        elif (found := current(self.table, state)) is not None:
            role, _ = self._responders(state, found[2])
            if prompt is Prompt.READ_BACK:
                yield self.make.said(ev.Affirm, at, ask, role)
            for text in self._texts(state, found[2]):
                yield self.make.answer(at, ask, role, text)

    def _asked(self, state: State, at: int) -> Iterator[ev.Event]:
        prompt, ask = state.question.prompt, state.ask
        if prompt in (Prompt.STANDBY, Prompt.CLOSED):
            return
        if prompt is Prompt.CHOOSING and state.choosing is not None:
            yield from (self.make.answer(at, ask, "commander", o) for o in state.choosing.options)
            yield self.make.said(ev.Disregard, at, ask, "commander")
        found = current(self.table, state)
        if found is None:
            return
        step = found[2]
        role, right = self._responders(state, step)
        if prompt is Prompt.READ_BACK:
            yield self.make.said(ev.Affirm, at, ask, role)
            yield self.make.said(ev.Disregard, at, ask, role)
        texts = self._texts(state, step)
        for text in texts:
            yield self.make.answer(at, ask, role, text)
        if texts:
            yield self.make.answer(at, ask - 1, role, texts[0])
            for other in right[1:]:
                yield self.make.answer(at, ask, other, texts[0])
        if prompt is Prompt.STATION:
            for tick in found[1].steps:
                if tick.kind is Kind.TICK and tick.id != step.id:
                    yield ev.Answer(at, ask, role, value=tick.response, item=tick.challenge)
        yield self.make.said(ev.NotSo, at, ask, role)
        yield self.make.said(ev.PutOff, at, ask, role)
        if self.table.reasons:
            yield self.make.accept(at, ask, "commander", self.table.reasons[0], False)
            yield self.make.accept(at, ask, "copilot", self.table.reasons[0], False)
        yield self.make.accept(at, ask, "commander", "Needed now", True)

    def _badly(self, state: State, at: int) -> Iterator[ev.Event]:
        """What is said to a step by the wrong one, not surely, or not at all: before anything has
        broken in, and one at a time."""
        prompt, ask, found = state.question.prompt, state.ask, current(self.table, state)
        if found is None or prompt in (Prompt.STANDBY, Prompt.CLOSED):
            return
        role, right = self._responders(state, found[2])
        for text in self._texts(state, found[2])[:1]:
            wrong = next((r for r in ROLES if r not in right), "")
            yield ev.Answer(at, ask, wrong, value=text)
            yield ev.Answer(at, ask, role, "voice", False, text)
        yield self.make.said(ev.Unable, at, ask, role)

    def _texts(self, state: State, step: Step) -> list[str]:
        """What may be said to a step: each response, choice, region of its instrument, drop."""
        sub = state.question.sub
        base = state.values.get(step.drop_from) if step.drop_from else None
        place = (step.id, sub, str(base))
        texts = self.texts.get(place)
        if texts is None:
            texts = self.texts[place] = self._texts_of(step, sub, base)
        return texts

    def _texts_of(self, step: Step, sub: int, base: Scalar | None) -> list[str]:
        if sub >= 0 and step.wait is not None:
            name, _ = step.wait.conditions[sub]
            return [str(v) for v in self.regions.values(name, (f"reading {name}",))]
        if step.kind is Kind.READING:
            texts = list(self.values[step.id])
            if isinstance(base, Decimal):
                texts += [
                    f"drop {base - Decimal(v)}" for v in self.values[step.id] if Decimal(v) <= base
                ][:2]
            if step.limit is not None:
                for word, bound in (("below", step.limit.high), ("above", step.limit.low)):
                    texts += [f"{word} {bound}"] if bound is not None else []
            return texts
        if step.kind is Kind.CHOICE:
            return [c.text for c in step.choices]
        if step.kind is Kind.CAUTION:
            return ["ROGER"]
        if step.kind in (Kind.WAIT, Kind.COMPUTED, Kind.REMARK):
            return []
        return [step.response] if step.response else ["CLOSED"]

    def _free(self, state: State, at: int) -> Iterator[ev.Event]:
        prompt = state.question.prompt
        yield self.make.now(ev.Discontinue, at)
        if state.drill is None:
            yield from (ev.OpenDrill(at, drill=d) for d in sorted(self.own))
        for visit in state.visits if state.drill is None else (*state.visits, state.drill):
            for index, step in self.corrected[visit.flow]:
                latch = visit.latches[index]
                if latch.value:
                    yield from self._corrections(at, step, latch)
        if prompt is Prompt.MEMORY_ITEMS:
            yield self.make.now(ev.MemoryDone, at)
        if prompt is Prompt.STANDBY:
            yield self.make.now(ev.Continue, at)
        if prompt is Prompt.WAITING:
            yield self.make.now(ev.ConditionLost, at)
        if self.marks:
            what = "landing" if state.airborne else "take-off"
            yield ev.Mark(at, what=what, when=at)
        yield from (ev.StartTimer(at, timer=t) for t in self.timers)
        yield from (ev.Happened(at, what=h) for h in self.happenings)
        if self.maintenance:
            yield ev.Happened(at, "commander", what="maintenance", note="put right")
        yield self.make.now(ev.NextFlight, at)
        if len(state.visits) > 1:
            yield from (ev.TurnTo(at, flow=v.flow) for v in state.visits if v.number != state.focus)

    def _into(self, state: State, at: int) -> Iterator[ev.Event]:
        """The ways into the goal's own drill, where nothing of the lists decides anything in it."""
        yield from (ev.OpenDrill(at, drill=d) for d in sorted(self.own))
        if self.marks:
            yield ev.Mark(at, what="landing" if state.airborne else "take-off", when=at)
        yield self.make.now(ev.Discontinue, at)
        if state.question.prompt is Prompt.STANDBY:
            yield self.make.now(ev.Continue, at)

    def _beside(self, state: State, at: int) -> Iterator[ev.Event]:
        """What breaks in from beside the lists, once in a run."""
        if INTERRUPTED in self.beside:
            if state.standby is None:
                yield self.make.now(ev.Standby, at)
            yield ev.Recovered(at, gap=SECOND)
        if PAPER in self.beside:
            first, last = self.first, self.last
            yield ev.OnPaper(at, "commander", "key", first, last, self.table.revision)

    def _corrections(self, at: int, step: Step, latch: Latch) -> Iterator[ev.Event]:
        standing = latch.value
        said = self.values.get(step.id) or [c.text for c in step.choices] or [standing]
        said = [v for v in said if v != standing]
        if latch.how is How.ACCEPTED and step.kind is Kind.READING:
            # Another number of the same region: it was not the one that was accepted.
            said += self._beside_it(step, standing)
        yield from (self.make.correct(at, step, v) for v in said)

    def _beside_it(self, step: Step, standing: str) -> list[str]:
        reading, of_step = self.table.readings[step.reading], self.regions.of_step
        unit = Decimal(1).scaleb(-reading.decimals)
        near = [v for v in (Decimal(standing) + unit, Decimal(standing) - unit)
                if reading.low <= v <= reading.high]  # fmt: skip
        return [str(v) for v in near if of_step(step, str(v)) == of_step(step, standing)][:1]
