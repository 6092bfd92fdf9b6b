"""What the names in a document stand for, in the words that people call them by.

Rules: a list or drill is its title, a step its challenge (with its list, where another one may be
meant), a by-time, reading or counter its label, a value what was asked for it, a condition or
formula what the card says of it. Of a document that stands alone only its own steps are known:
another name is left as it is written, and never guessed.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from runner.engine.conditions import (
    ConditionFault,
    compile_condition,
    compile_formula,
)
from runner.flow.comparing import values
from runner.flow.comparing.spoken import called
from runner.flow.condition_text import ConditionText, formula_text
from runner.flow.documents import Documents, Procedure
from runner.flow.faults import Faults
from runner.flow.forms import Strict
from runner.flow.model import RestartDoc
from runner.flow.names import Scope
from runner.flow.parts import BranchDoc, ChoiceDoc, LimitDoc, PutOffDoc, TurnsDoc
from runner.flow.steps import AnsweredDoc

_FLOWS: Final = frozenset({"drill", "day", "drills", "list"})
_TIMERS: Final = frozenset({"timer", "within", "ends", "mutes"})
_VALUES: Final = frozenset({"drop from", "voids", "value"})
_COUNTERS: Final = frozenset({"adds", "clears"})
_CONDITIONS: Final = frozenset({"when", "only when"})


class Told:
    """The words of one side: an aircraft, or a single list or drill."""

    def __init__(self, documents: Documents | None, alone: Procedure | None = None) -> None:
        self._flows: dict[str, Procedure] = {}
        self._labels: dict[str, str] = {}
        self._timers: dict[str, str] = {}
        self._counters: dict[str, str] = {}
        self._scope: Scope | None = None
        self._conditions = ConditionText((), ())
        if documents is not None:
            aircraft = documents.aircraft
            self._flows = {**documents.lists, **documents.drills}
            self._labels = {name: one.label for name, one in aircraft.readings.items()}
            self._timers = {name: one.label for name, one in aircraft.timers.items()}
            self._counters = dict(aircraft.counters)
            self._conditions = ConditionText(aircraft.counters, aircraft.fit)
            self._scope = Scope(documents, Faults("meaning"))
        if alone is not None:
            self._flows[alone.id] = alone
        self._steps: dict[str, str] = {}
        self._noted: dict[str, str] = {}
        for flow in self._flows.values():
            for item in flow.items:
                self._steps[item.whole] = called(item, self._labels)
                for moment in item.doc.notes if isinstance(item.doc, AnsweredDoc) else ():
                    self._noted.setdefault(moment, self._steps[item.whole])

    def flow(self, name: str) -> str:
        """A list or drill: its title."""
        return self._flows[name].doc.title if name in self._flows else name

    def step(self, whole: str, here: str = "") -> str:
        """A step, `list.step`: its challenge, behind its list if that is not `here`."""
        if whole not in self._steps:
            return whole
        home = whole.partition(".")[0]
        return self._steps[whole] if home == here else f"{self.flow(home)}, {self._steps[whole]}"

    def reading(self, name: str) -> str:
        """A reading: the label of its instrument."""
        return self._labels.get(name, name)

    def text(self, key: str, value: Any, *, time: bool = False, here: str = "") -> str:
        """The value of a key as people read it; `here` is the list that it stands in."""
        if isinstance(value, str):
            return self._name(key, value, here)
        if isinstance(value, list | tuple) and value:
            return ", ".join(self.text(key, one, time=time, here=here) for one in value)
        if isinstance(value, Mapping) and value:
            return ", ".join(
                f"{self._name(key, name, here)} {_number(one)}" for name, one in value.items()
            )
        match value:
            case BranchDoc():
                return f"opens {self.flow(value.branch)}"
            case PutOffDoc(back_before=back) if back:
                return f"back before {self._here(back, here)}"
            case RestartDoc():
                return f"restart {self.flow(value.restart)}"
            case ChoiceDoc() | TurnsDoc() | LimitDoc() | PutOffDoc():
                return values.text(value, time=time)
            case Strict():
                return ", ".join(
                    f"{name} {self.text(name, one, time=values.is_time(spec), here=here)}"
                    for name, one, spec in values.given(value)
                )
        return values.text(value, time=time)

    def _here(self, step: str, here: str) -> str:
        """A step of the list itself: its challenge."""
        return self._steps.get(f"{here}.{step}", step)

    def _name(self, key: str, name: str, here: str) -> str:
        if key in _FLOWS or key.startswith("discontinue"):
            return self.flow(name)
        if key in _TIMERS:
            return self._timers.get(name, name)
        if key in _VALUES:
            return self._value(name, here)
        if key in _COUNTERS:
            return self._counters.get(name, name)
        if key in ("reading", "while"):
            return self.reading(name)
        if key == "since":
            return self._noted.get(name, name)
        if key in ("before", "step"):
            return self.step(name)
        if key == "back to":
            return self._here(name, here)
        if key in _CONDITIONS or key == "formula":
            return self._expression(name, formula=key == "formula")
        return name

    def _value(self, name: str, here: str) -> str:
        """A value: the step that gives it, or what is asked for it if several do."""
        if self._scope is None:
            return name
        givers = self._scope.givers.get(name, [])
        if len(givers) == 1:
            return self.step(givers[0].whole, here)
        known = self._scope.types.get(name)
        return known.label if known is not None and known.label else name

    def _expression(self, source: str, *, formula: bool) -> str:
        if self._scope is None:
            return source
        try:
            if formula:
                said = formula_text(compile_formula(source, self._scope.types, 0))
                return said.removeprefix("= ")
            return self._conditions.condition(compile_condition(source, self._scope.types))
        except ConditionFault:
            return source  # of another aircraft: its names are not known here


def _number(value: Any) -> str:
    return f"{value:+d}" if isinstance(value, int) else values.text(value)
