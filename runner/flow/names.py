"""The names that conditions and formulas may use, with the type of each.

Rules: one name means one thing over all documents of an aircraft: a reading, an answer of a choice,
a computed value, a counter, a piece of equipment, or one of the engine's own. The same name may be
given by several steps if what they give is the same; a second meaning is refused where it stands.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final, NamedTuple

from runner.engine.conditions import ConditionFault, NameType, check_name
from runner.flow.documents import Documents, Item
from runner.flow.faults import Faults, Place, quoted
from runner.flow.parts import ChoiceDoc
from runner.flow.steps import ChooseDoc, ComputeDoc, ReadingDoc

BUILT_IN: Final[dict[str, NameType]] = {
    "flight": NameType("number", label="flight"),
    "first_flight": NameType("truth", label="first flight"),
    "engine_running": NameType("truth", label="engine running"),
    "rotor_turning": NameType("truth", label="rotor turning"),
    "airborne": NameType("truth", label="airborne"),
    "stopped_minutes": NameType("number", unit="min", label="engine stop"),
    "open_defects": NameType("number", label="open defects"),
    "grounding_defects": NameType("number", label="defects that ground"),
    "open_snags": NameType("number", label="snags noted"),
    "accepted_items": NameType("number", label="items accepted in this flight"),
}
"""What the engine itself knows."""
CLEARED: Final = ("open_snags",)
"""What the engine counts and a step may set to zero, as it does a counter of the aircraft."""


class _Meaning(NamedTuple):
    what: str
    place: Place


class Scope:
    """The names of one aircraft. `types` is what conditions compile against; `givers` holds, for
    each value name, the steps that give it."""

    def __init__(self, documents: Documents, faults: Faults) -> None:
        self.types: dict[str, NameType] = dict(BUILT_IN)
        self.givers: dict[str, list[Item]] = {}
        self._faults = faults
        here = documents.node.place
        self._meanings = {name: _Meaning("a name of the engine's own", here) for name in BUILT_IN}
        aircraft = documents.aircraft
        for name, reading in aircraft.readings.items():
            kind = NameType("number", reading.decimals, reading.unit, reading.label)
            self._declare(name, kind, f"the reading {name}", documents.key("readings", name))
        for name, label in aircraft.fit.items():
            kind = NameType("truth", label=label)
            self._declare(name, kind, f"the equipment {name}", documents.key("fit", name))
        for name, label in aircraft.counters.items():
            kind = NameType("number", label=label)
            self._declare(name, kind, f"the counter {name}", documents.key("counters", name))
        for item in documents.items():
            self._step(documents, item)

    def _step(self, documents: Documents, item: Item) -> None:
        doc = item.doc
        match doc:
            case ReadingDoc():
                reading = documents.aircraft.readings.get(doc.reading)
                if reading is None:
                    return
                name = doc.as_ or doc.reading
                label = doc.challenge or reading.label
                kind = NameType("number", reading.decimals, reading.unit, label)
                what = f"the reading {doc.reading}"
                place = item.at("as" if doc.as_ else "reading")
            case ChooseDoc():
                name, place = doc.as_, item.at("as")
                answers = tuple(c.answer if isinstance(c, ChoiceDoc) else c for c in doc.choices)
                kind = NameType("text", label=doc.choose, allowed=answers)
                what = "an answer"
            case ComputeDoc():
                name, place = doc.compute, item.at("compute")
                kind = NameType("number", doc.decimals, doc.unit, doc.challenge)
                what = f"a value in {doc.unit} with {doc.decimals} decimals"
            case _:
                return
        if self._declare(name, kind, what, place):
            self.givers.setdefault(name, []).append(item)

    def _declare(self, name: str, kind: NameType, what: str, place: Place) -> bool:
        before = self._meanings.get(name)
        if before is not None:
            if before.what != what:
                since = (
                    ""
                    if name in BUILT_IN
                    else f" (line {before.place.line} of {before.place.file})"
                )
                self._faults.add(
                    place,
                    f"the name {quoted(name)} means two things",
                    found=f"{what}, and {before.what}{since}",
                    todo="give one of them a name of its own",
                    rule="duplicate-name",
                )
                return False
            if kind.kind == "text":
                known = self.types[name]
                more = [answer for answer in kind.allowed if answer not in known.allowed]
                self.types[name] = replace(known, allowed=(*known.allowed, *more))
            return True
        try:
            check_name(name)
        except ConditionFault as fault:
            self._faults.add(
                place,
                fault.what,
                allowed=fault.allowed,
                nearest=fault.suggestion,
                rule="reserved-name",
            )
            return False
        self._meanings[name] = _Meaning(what, place)
        self.types[name] = kind
        return True
