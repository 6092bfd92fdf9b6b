"""A crew for tests: it answers in one line, waits by the clock, and reads what came of it."""

from __future__ import annotations

from runner.engine import events as ev
from runner.engine.draft import Draft
from runner.engine.effects import Prompt
from runner.engine.outcomes import Item, Outcome
from runner.engine.people import responders
from runner.engine.state import How, Latch
from runner.engine.views import current
from tests.runner.engine.generator import Run, aircraft
from tests.runner.engine.willing import Willing


class Crew:
    """A run of an aircraft, opened, its first page read; times in whole seconds of run time."""

    def __init__(
        self, name: str = "probe", only: str = "", fit: tuple[str, ...] = (), mode: str = "crew",
        carried: tuple[tuple[str, str], ...] = (), read: bool = True,
    ) -> None:  # fmt: skip
        self.table = aircraft(name)
        self.run = Run(self.table, 1)
        people = (("commander", "A Holt"), ("copilot", "R Byrne"), ("ground", "S Ivey"))
        crew = people if mode == "crew" else people[:1]
        self.run.send(ev.Opened(0, (mode,), crew, fit, carried, only))
        while read and self.run.state.unread:
            self.send(ev.PageRead(self.at, role=self.run.state.unread[0]))

    @property
    def at(self) -> int:
        """One second later."""
        return self.run.at + 1000

    @property
    def asked(self) -> str:
        """The id of the step in question, or an empty text."""
        found = current(self.table, self.run.state)
        return found[2].id if found is not None else ""

    def stands(self, prompt: Prompt) -> bool:
        """Whether this kind of question stands."""
        return self.run.state.question.prompt is prompt

    def send(self, event: ev.Event) -> Outcome:
        """Sends an event."""
        return self.run.send(event)

    def say(
        self, value: str, role: str | None = None, *, item: str = "", sure: bool = True,
        source: str = "key", after: float = 1,
    ) -> Outcome:  # fmt: skip
        """Answers what is asked, as the one who may, `after` so many seconds."""
        at = self.run.at + int(after * 1000)
        self.wait_until(at)
        who = self._who() if role is None else role
        return self.send(ev.Answer(at, self.run.state.ask, who, source, sure, value, item))

    def _who(self) -> str:
        found = current(self.table, self.run.state)
        if found is None:
            return ""
        right = responders(Draft(self.table, self.run.state, ev.Wake(self.run.at)), found[2])
        return next((role for role in right if role not in self.run.state.seen), right[0])

    def both(self, value: str) -> Outcome:
        """Both pilots give the same answer."""
        self.say(value, "commander")
        return self.say(value, "copilot")

    def affirm(self) -> Outcome:
        """Affirms what was read back."""
        return self.send(ev.Affirm(self.at, self.run.state.ask, self._who()))

    def taken(self, value: str, **how: object) -> Outcome:
        """Says a value and affirms it if it is read back."""
        outcome = self.say(value, **how)  # type: ignore[arg-type]
        return self.affirm() if self.stands(Prompt.READ_BACK) else outcome

    def correct(self, step: str, value: str, role: str = "") -> Outcome:
        """Corrects an earlier answer."""
        return self.send(ev.Correct(self.at, role, step=step, value=value))

    def accept(self, reason: str = "Needed for safety", **how: object) -> Outcome:
        """The commander accepts what is asked."""
        fields: dict[str, object] = {"role": "commander", "reason": reason, **how}
        return self.send(ev.Accept(self.at, self.run.state.ask, **fields))  # type: ignore[arg-type]

    def put_off(self) -> Outcome:
        """Puts off what is asked."""
        return self.send(ev.PutOff(self.at, self.run.state.ask, self._who()))

    def not_so(self, item: str = "", role: str | None = None) -> Outcome:
        """What is asked is not so."""
        who = self._who() if role is None else role
        return self.send(ev.NotSo(self.at, self.run.state.ask, who, item=item))

    def unable(self) -> Outcome:
        """Opens the choice of what to do instead."""
        return self.send(ev.Unable(self.at, self.run.state.ask, self._who()))

    def drill(self, drill: str) -> Outcome:
        """Opens a drill."""
        return self.send(ev.OpenDrill(self.at, drill=drill))

    def pause(self, seconds: float) -> None:
        """Lets time pass, waking the engine at what is due."""
        self.wait_until(self.run.at + int(seconds * 1000))

    def wait_until(self, at: int) -> None:
        """Lets time pass up to a run time in milliseconds."""
        self.run.send(ev.Snag(at, text="")) if at >= self.run.at else None
        self.run.at = max(self.run.at, at)

    def until(self, step: str, most: int = 900) -> Crew:
        """A willing crew goes on until this step is asked; `list` alone: until it is entered."""
        crew = Willing(self.run)
        for _ in range(most):
            if step == self.asked or any(v.flow == step for v in self.run.state.visits):
                return self
            self.run.send(crew.event())
        raise LookupError(f"{step} is never asked; last {self.asked}")

    def latch(self, step: str) -> Latch:
        """The latch of a live step, else of its newest visit that is over."""
        flow = step.split(".", 1)[0]
        state = self.run.state
        drill = (state.drill,) if state.drill is not None else ()
        for visit in (*drill, *state.visits, *reversed(state.archive)):
            if visit.flow == flow:
                found: Latch = visit.latches[self.table.flows[flow].index(step)]
                return found
        raise LookupError(step)

    def how(self, step: str) -> How:
        """The status of a step."""
        return self.latch(step).how


def kinds(outcome: Outcome) -> list[str]:
    """The kinds of an outcome's items."""
    return [item[0] for item in outcome]


def item(outcome: Outcome, kind: str) -> Item:
    """The first item of this kind; an empty one if there is none."""
    return next((one for one in outcome if one[0] == kind), ())


def refused(outcome: Outcome) -> str:
    """The code of a refusal, or an empty text."""
    return outcome[0][1] if outcome and outcome[0][0] == "refused" else ""
