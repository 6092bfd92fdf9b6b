"""Every state of a slice that a run can come to, and what is wrong in any of them.

Rules: breadth first, so that the first way to a fault is a shortest one; every transition is the
engine's own and judged by the monitor; a fault's way is kept as events, and not gone on from; a
state is *stuck* if no way without an acceptance leads from it to the end of its lists. From every
state `discontinue` is tried, and must lead to the list that the documents name.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from runner.engine import events as ev
from runner.engine.effects import Prompt
from runner.engine.interruptions import FACTS
from runner.engine.outcomes import Outcome
from runner.engine.session import transition
from runner.engine.state import Marked, State, initial
from runner.engine.table import Table
from runner.engine.views import current
from runner.engine.waking import next_deadline
from runner.flow.proof.alphabet import BREAKS_IN, SECOND, Alphabet
from runner.flow.proof.keys import Key, Keys, fork
from runner.flow.proof.monitor import Monitor
from runner.flow.proof.slices import Slice
from runner.flow.proof.values import Regions

CREW = (("commander", "A Holt"), ("copilot", "R Byrne"), ("ground", "S Ivey"))
LATER = ("first_flight", "flight", "stopped_minutes")
MOST_WAKES = 50
MOST_IN_DRILL = 400
ASKED = -1
"""No deadline: it is asked for."""


_Within = tuple[tuple[ev.Event, ...], State, Monitor, list[Outcome]]


@dataclass
class Fault:
    """What went wrong, and the shortest way to it from that beginning."""

    what: str
    way: tuple[ev.Event, ...]
    beginning: State


@dataclass
class Explored:
    """What one slice came to."""

    states: int = 0
    transitions: int = 0
    faults: list[Fault] = field(default_factory=list)
    reached: set[tuple[str, str]] = field(default_factory=set)
    stuck: list[tuple[ev.Event, ...]] = field(default_factory=list)
    dead_ends: dict[str, int] = field(default_factory=dict)
    whole: bool = True


def step(
    table: Table, state: State, monitor: Monitor, event: ev.Event, due: int | None = ASKED
) -> tuple[State, Monitor, list[Outcome]]:
    """One event with everything that is due before it; a refusal gives the very same state.
    `due` is the next deadline of the state, where it is known."""
    told: list[Outcome] = []
    judge = monitor
    if not isinstance(event, (ev.Opened, ev.Recovered)):
        for turn in range(MOST_WAKES):
            if turn or due == ASKED:
                due = next_deadline(table, state)
            if due is None or due > event.at:
                break
            wake = ev.Wake(due)
            state, outcome = transition(table, state, wake)
            judge = fork(judge) if judge is monitor else judge
            judge.see(wake, outcome)
            told.append(outcome)
    after, outcome = transition(table, state, event)
    if after is state and isinstance(event, ev.SayAgain) and event.at > state.at + SECOND:
        # Time has passed, of which the engine knows nothing before it is told anything.
        after = State(state, at=event.at)
    if after is not state:
        judge = fork(judge) if judge is monitor else judge
        judge.see(event, outcome)
    told.append(outcome)
    return after, judge, told


class Explorer:
    """Goes through one slice."""

    def __init__(self, piece: Slice, most: int = 20_000) -> None:
        self.piece, self.table, self.most = piece, piece.table, most
        self.home = {s.split(".", 1)[0] for s in piece.goal.steps}
        self.drills = frozenset(f for f in self.home if piece.table.flows[f].drill)
        self.regions = Regions(piece.table, self.drills)
        self.keys = Keys(piece.table, self.regions, frozenset(self.home))
        # What is said in a drill from beside decides its end, and nothing after it.
        self.within: dict[str, Keys] = {}
        for drill in (d for d in piece.beside if d in piece.table.flows):
            beside = Regions(piece.table, self.drills | {drill})
            self.within[drill] = Keys(piece.table, beside, frozenset(self.home))
        self.seen_within: dict[str, set[Key]] = {drill: set() for drill in self.within}
        self.alphabet = Alphabet(piece.table, self.regions, piece.beside, self.drills)
        self.no_way_back = self._no_way_back()
        self.result = Explored()
        self.parents: list[tuple[int, tuple[ev.Event, ...]]] = []
        self.edges: list[list[tuple[int, type[ev.Event]]]] = []
        self.held: list[str] = []
        self.closed: list[bool] = []
        self.ended: list[bool] = []
        self.spent: list[bool] = []
        self.numbers: dict[tuple[bool, Key], int] = {}
        self.beginning = initial()
        self.queue: deque[tuple[int, State, Monitor, bool]] = deque()

    def explore(self) -> Explored:
        """Every state from the opening on."""
        fit = tuple(self.table.fit)
        opened = ev.Opened(0, modes=("crew",), crew=CREW, fit=fit)
        for before in self._beginnings():
            state, monitor, _ = step(self.table, before, Monitor(self.table), opened)
            self.beginning = before
            self._take(-1, (opened,), state, monitor, False)
            self._go()
            if not self.regions.used.isdisjoint({"engine_running", "rotor_turning"}):
                self._begin_turning(opened, state, monitor)
                self._go()
        self.result.states = len(self.numbers)
        self._find_stuck()
        return self.result

    def _go(self) -> None:
        """Goes on from every state that is not gone on from yet."""
        while self.queue:
            number, state, monitor, spent = self.queue.popleft()
            if len(self.numbers) > self.most:
                self.result.whole = False
                break
            self._from(number, state, monitor, spent)

    def _beginnings(self) -> list[State]:
        """The run's beginning, and a later flight's where anything hangs on which one it is."""
        first = initial()
        flights = {f.flights for f in self.table.flows.values()}
        if flights == {"every"} and self.regions.used.isdisjoint(LATER):
            return [first]
        stopped = first.moments.having("engine stopped", 0)
        return [first, State(first, marks=(Marked("take-off", 0, 0),), moments=stopped)]

    def _begin_turning(self, opened: ev.Event, state: State, monitor: Monitor) -> None:
        """A beginning with engine and rotor turning: what a stop of the run makes known."""
        way = [opened]

        def send(event: ev.Event) -> None:
            nonlocal state, monitor
            way.append(event)
            state, monitor, told = step(self.table, state, monitor, event)
            self._keep(monitor, told)

        while state.unread:
            send(ev.PageRead(state.at + SECOND, role=state.unread[0]))
        send(ev.Recovered(state.at + SECOND, gap=SECOND))
        while state.choosing is not None and state.choosing.kind in FACTS:
            said = FACTS[state.choosing.kind][state.choosing.kind != "airborne"]
            send(ev.Answer(state.at + SECOND, state.ask, "commander", value=said))
            if state.pending is not None:
                send(ev.Affirm(state.at + SECOND, state.ask, "commander"))
        self._take(-1, tuple(way), state, monitor, False)

    def _keep(self, judge: Monitor, told: list[Outcome]) -> None:
        """What a later flight finds turning, of which the slice does not know since when, has been
        through what an earlier flight asked first."""
        need = self.piece.goal.need
        if need is not None and need.step and self.beginning.marks:
            found = [item[1] for outcome in told for item in outcome if item[0] == "marked"]
            if any(what.endswith("start") for what in found):
                judge.kept[need.step] = True

    def _from(self, number: int, state: State, monitor: Monitor, spent: bool) -> None:
        due = next_deadline(self.table, state)
        for event in self.alphabet.moves(state, due, spent):
            after, judge, told = step(self.table, state, monitor, event, due)
            self.result.transitions += 1
            if after is state:
                if isinstance(event, ev.Discontinue):
                    self._fault(number, (event,), "discontinue is refused")
                continue
            self._tally(told)
            if isinstance(event, ev.Affirm):
                self._keep(judge, told)
            if len(judge.faults) > len(monitor.faults):
                self._fault(number, (event,), judge.faults[-1].split("): ", 1)[-1])
                continue
            goal = self._take(number, (event,), after, judge, spent or isinstance(event, BREAKS_IN))
            self.edges[number].append((goal, type(event)))
        if not spent and state.drill is None:
            for drill, keys in self.within.items():
                self._through(drill, keys, number, state, monitor)

    def _through(self, drill: str, keys: Keys, number: int, state: State, monitor: Monitor) -> None:
        """Opens a drill that stands beside the slice, and goes on from each of its ends.

        What is asked within it is gone through plainly: its own rules are goals of their own; what
        another state has led to within it is not gone through again. None of its ends is a way on
        that may be counted on.
        """
        seen = self.seen_within[drill]
        begun = len(seen)
        opening = ev.OpenDrill(state.at + SECOND, drill=drill)
        queue: deque[_Within] = deque()
        queue.append(((opening,), *step(self.table, state, monitor, opening)))
        while queue:
            if len(seen) - begun > MOST_IN_DRILL:
                self.result.whole = False
                return
            way, now, judge, told = queue.popleft()
            self.result.transitions += 1
            self._tally(told)
            if len(judge.faults) > len(monitor.faults):
                self._fault(number, way, judge.faults[-1].split("): ", 1)[-1])
                continue
            if now.drill is None:
                self._take(number, way, now, judge, True)
                continue
            key = keys.of(now, judge)
            if key in seen:
                continue
            seen.add(key)
            due = next_deadline(self.table, now)
            for event in self.alphabet.plain(now, due):
                after, other, news = step(self.table, now, judge, event, due)
                if after is not now:
                    queue.append(((*way, event), after, other, news))

    def _take(
        self,
        parent: int,
        way: tuple[ev.Event, ...],
        state: State,
        monitor: Monitor,
        spent: bool,
    ) -> int:
        key = self.keys.of(state, monitor)
        known = self.numbers.get((spent, key))
        if known is None and spent:
            # With less to happen to it, it comes to nothing that the other does not come to.
            known = self.numbers.get((False, key))
        if known is not None:
            return known
        number = self.numbers[spent, key] = len(self.numbers)
        self.parents.append((parent, way))
        self.edges.append([])
        over = not self._matters(state, spent)
        self.spent.append(spent)
        self.ended.append(over or state.question.prompt is Prompt.CLOSED)
        self.held.append(self._held(state))
        self.closed.append(any(v.flow in self.home and not v.left for v in state.archive))
        if not over:
            self.queue.append((number, state, monitor, spent))
        return number

    def _no_way_back(self) -> bool:
        """Whether nothing but a stop leads back to the goal's lists once they are behind: no way
        down is one of them, no flight follows, no other list opens a drill."""
        table = self.table
        others = [f for f in table.flows.values() if not f.drill and f.id not in self.home]
        drills = {d for f in others for s in f.steps
                  for d in (s.drill, s.branch, *(c.drill for c in s.choices))}  # fmt: skip
        return (
            self.home.isdisjoint(table.discontinue.values())
            and drills.isdisjoint(table.drills)
            and not any(f.next_flight for f in table.flows.values())
        )

    def _held(self, state: State) -> str:
        """The step that holds a list of the goal; empty where none of them is in hand."""
        found = current(self.table, state) if state.flight else None
        return found[2].id if found is not None and found[0].flow in self.home else ""

    def _matters(self, state: State, spent: bool) -> bool:
        """Whether the goal may still be met or missed from here: its lists stand or lie ahead, or
        something may lead back to them."""
        need = self.piece.goal.need is not None
        if state.drill is not None:
            return state.drill.flow in self.drills
        if need and not (spent and self.no_way_back):
            return True
        if self.drills and not any(v.flow in self.drills for v in state.archive):
            return True
        return bool(state.unread) or any(
            f in self.home for f in (*state.plan, *(v.flow for v in state.visits))
        )

    def _tally(self, told: list[Outcome]) -> None:
        for outcome in told:
            for item in outcome:
                if len(item) > 1:
                    self.result.reached.add((item[0], item[1]))

    def way(self, number: int) -> tuple[ev.Event, ...]:
        """The events that lead to a state."""
        events: list[ev.Event] = []
        while number >= 0:
            number, way = self.parents[number]
            events[:0] = way
        return tuple(events)

    def _fault(self, number: int, way: tuple[ev.Event, ...], what: str) -> None:
        if all(fault.what != what for fault in self.result.faults):
            self.result.faults.append(Fault(what, (*self.way(number), *way), self.beginning))

    def _find_stuck(self) -> None:
        """What no way without an acceptance leads out of, and what only *discontinue* leads out
        of: by the step that holds the list, with the number of its states."""
        if not self.result.whole:
            return
        out = self._leading_to(self.ended, (ev.Accept, *BREAKS_IN))
        self.result.stuck = [self.way(n) for n, found in enumerate(out) if not found]
        if not self.drills:
            on = self._leading_to(self.closed, (ev.Accept, ev.Discontinue, *BREAKS_IN))
            for number, held in enumerate(self.held):
                if held and not on[number] and not self.spent[number]:
                    self.result.dead_ends[held] = self.result.dead_ends.get(held, 0) + 1

    def _leading_to(self, goals: list[bool], without: tuple[type[ev.Event], ...]) -> list[bool]:
        """From which states a way without these events leads to one of the goals."""
        back: list[list[int]] = [[] for _ in goals]
        for number, edges in enumerate(self.edges):
            for goal, kind in edges:
                if kind not in without:
                    back[goal].append(number)
        seen = list(goals)
        left = [n for n, good in enumerate(goals) if good]
        while left:
            for before in back[left.pop()]:
                if not seen[before]:
                    seen[before] = True
                    left.append(before)
        return seen
