"""Every name that a document speaks of must exist, as the kind of thing it is spoken of as.

Rules: what is missing is a fault where it is named, with the nearest name that exists; what must
stand earlier or later in its list is checked in the order of the list.
"""

from __future__ import annotations

from collections.abc import Iterable

from runner.flow.documents import Documents, Item, Procedure
from runner.flow.faults import Faults, Place, quoted
from runner.flow.model import DrillDoc, ListDoc, RestartDoc
from runner.flow.names import CLEARED, Scope
from runner.flow.parts import BranchDoc, ChoiceDoc, PutOffDoc
from runner.flow.steps import (
    AnsweredDoc,
    AskedDoc,
    ByTimeDoc,
    ChooseDoc,
    ComputeDoc,
    ReadingDoc,
    RemarkDoc,
    WaitDoc,
)

HAPPENINGS: tuple[str, ...] = ("flight", "stopped over 30 min")
"""What ends a validity without being declared."""


class References:
    """Checks the references of one aircraft's documents."""

    def __init__(self, documents: Documents, scope: Scope, faults: Faults) -> None:
        self._documents = documents
        self._scope = scope
        self._faults = faults
        self._steps = {item.whole: item for item in documents.items()}
        self._starters: dict[str, list[Item]] = {}
        self._moments: dict[str, list[Item]] = {}
        for item in documents.items():
            if isinstance(item.doc, ByTimeDoc):
                self._starters.setdefault(item.doc.timer, []).append(item)
            if isinstance(item.doc, AnsweredDoc):
                for moment in item.doc.notes:
                    self._moments.setdefault(moment, []).append(item)

    def check(self) -> None:
        """Note every fault of reference."""
        self._aircraft()
        for flow in self._documents.all():
            self._flow(flow)
        for item in self._documents.items():
            self._item(item)

    def _known(self, word: str, known: Iterable[str], what: str, place: Place) -> bool:
        names = list(known)
        if word in names:
            return True
        self._faults.add(
            place, f"no {what} of this name", found=quoted(word), allowed=names, rule="unknown-name"
        )
        return False

    def _aircraft(self) -> None:
        documents, aircraft = self._documents, self._documents.aircraft
        for index, name in enumerate(aircraft.day):
            self._known(name, documents.lists, "list", documents.at("day", index))
        for index, name in enumerate(aircraft.drills):
            self._known(name, documents.drills, "drill", documents.at("drills", index))
        for way in ("airborne", "rotor", "engine", "nothing"):
            name = getattr(aircraft.discontinue, way)
            self._known(name, documents.lists, "list", documents.at("discontinue", way))
        for name, timer in aircraft.timers.items():
            if timer.drill is not None:
                place = documents.at("timers", name, "drill")
                self._known(timer.drill, documents.drills, "drill", place)
            if name not in self._starters:
                self._faults.add(
                    documents.key("timers", name),
                    f"no step starts the timer {quoted(name)}",
                    todo=f"give a by-time step timer: {name}, or delete the timer",
                    rule="used-before-read",
                )
        self._copied()
        for index, need in enumerate(aircraft.needs):
            before = self._step(need.before, documents.at("needs", index, "before"))
            if need.reading is not None:
                place = documents.at("needs", index, "reading")
                if self._known(need.reading, aircraft.readings, "reading", place):
                    self._is_read(need.reading, place)
            if need.step is not None:
                place = documents.at("needs", index, "step")
                step = self._step(need.step, place)
                if before and step and before.flow is step.flow:
                    if before.position <= step.position:
                        self._faults.add(
                            place,
                            "a need that stands behind its step",
                            found=quoted(need.step),
                            rule="placement",
                        )

    def _copied(self) -> None:
        """The entries of the copy page: each value known, none twice."""
        documents, seen = self._documents, set()
        for index, entry in enumerate(documents.aircraft.copy):
            key, word = ("value", entry.value) if entry.value else ("figure", entry.figure)
            place = documents.at("copy", index, key)
            if entry.value is not None:
                known = [*self._scope.givers, *documents.aircraft.counters]
                self._known(entry.value, known, "value that a step gives", place)
            if (key, word) in seen:
                self._faults.add(
                    place, "copied twice", found=quoted(str(word)), rule="duplicate-name"
                )
            seen.add((key, word))

    def _step(self, name: str, place: Place) -> Item | None:
        item = self._steps.get(name)
        if item is None:
            flow = name.partition(".")[0]
            own = [whole for whole in self._steps if whole.startswith(flow + ".")]
            self._known(name, own or self._steps, "step", place)
        elif isinstance(item.doc, RemarkDoc):
            self._faults.add(
                place, "a remark is never answered", found=quoted(name), rule="placement"
            )
        return item

    def _is_read(self, reading: str, place: Place) -> None:
        for item in self._steps.values():
            doc = item.doc
            if isinstance(doc, ReadingDoc) and doc.reading == reading:
                return
            if isinstance(doc, WaitDoc) and reading in doc.while_:
                return
        self._faults.add(
            place, "no step reads this", found=quoted(reading), rule="used-before-read"
        )

    def _flow(self, flow: Procedure) -> None:
        doc, documents = flow.doc, self._documents
        if isinstance(doc, ListDoc):
            allowed = [*documents.aircraft.happenings, *HAPPENINGS]
            for index, word in enumerate(doc.valid_until):
                self._known(word, allowed, "happening", flow.at("valid until", index))
            return
        phases = {one.doc.phase: None for one in documents.lists.values() if one.doc.phase}
        for index, phase in enumerate(doc.likely):
            self._known(phase, [str(p) for p in phases], "phase", flow.at("likely", index))
        for index, name in enumerate(doc.mutes):
            self._known(name, documents.aircraft.timers, "timer", flow.at("mutes", index))
        self._ends(flow, doc)

    def _ends(self, flow: Procedure, doc: DrillDoc) -> None:
        documents = self._documents
        for index, end in enumerate(doc.ends):
            for position, name in enumerate(end.voids):
                place = flow.at("ends", index, "voids", position)
                self._known(name, self._scope.givers, "value that a step gives", place)
            if not isinstance(end.leads_to, RestartDoc):
                continue
            place = flow.at("ends", index, "leads to", "restart")
            name = end.leads_to.restart
            if name in documents.drills:
                self._faults.add(
                    place,
                    "a drill that restarts a drill goes round in a circle",
                    found=quoted(name),
                    allowed="a list",
                    rule="circle",
                )
            else:
                self._known(name, documents.lists, "list", place)

    def _item(self, item: Item) -> None:
        doc, aircraft = item.doc, self._documents.aircraft
        if isinstance(doc, AnsweredDoc):
            self._counters(doc.adds, item, "adds")
            for index, name in enumerate(doc.clears):
                known = [*aircraft.counters, *CLEARED]
                self._known(name, known, "counter", item.at("clears", index))
            for index, name in enumerate(doc.ends):
                self._known(name, aircraft.timers, "timer", item.at("ends", index))
        if isinstance(doc, AskedDoc | ComputeDoc) and doc.drill is not None:
            self._known(doc.drill, self._documents.drills, "drill", item.at("drill"))
        if isinstance(doc, AskedDoc) and isinstance(doc.put_off, PutOffDoc):
            self._later(doc.put_off.back_before, item)
        match doc:
            case ReadingDoc():
                self._reading(item, doc)
                self._unmet(item, doc)
            case ComputeDoc():
                self._unmet(item, doc)
            case ChooseDoc():
                self._choices(item, doc)
            case ByTimeDoc():
                self._known(doc.timer, aircraft.timers, "timer", item.at("timer"))
            case WaitDoc():
                self._wait(item, doc)
            case _:
                pass

    def _counters(self, adds: dict[str, int], item: Item, *path: str | int) -> None:
        for name, by in adds.items():
            place = item.flow.key("steps", item.position, *path, name)
            self._known(name, self._documents.aircraft.counters, "counter", place)
            if not 1 <= by <= 1000:
                self._faults.add(
                    item.at(*path, name),
                    "a count out of range",
                    found=str(by),
                    allowed="1 to 1000",
                    rule="limit-form",
                )

    def _reading(self, item: Item, doc: ReadingDoc) -> None:
        aircraft = self._documents.aircraft
        self._known(doc.reading, aircraft.readings, "reading", item.at("reading"))
        if doc.within is not None:
            place = item.at("within")
            if self._known(doc.within, aircraft.timers, "timer", place):
                self._earlier(self._starters.get(doc.within, []), item, place, "starts")
        if doc.drop_from is not None:
            self._drop(item, doc, doc.drop_from)

    def _unmet(self, item: Item, doc: ReadingDoc | ComputeDoc) -> None:
        if isinstance(doc.unmet, BranchDoc):
            place = item.at("unmet", "branch")
            self._known(doc.unmet.branch, self._documents.drills, "drill", place)
        if doc.unmet is not None and doc.limit is None:
            self._faults.add(
                item.at("unmet"), "unmet without a limit", todo="add limit: {…}", rule="limit-form"
            )

    def _drop(self, item: Item, doc: ReadingDoc, base: str) -> None:
        place = item.at("drop from")
        numbers = [n for n in self._scope.givers if self._scope.types[n].kind == "number"]
        if not self._known(base, numbers, "number that a step gives", place):
            return
        reading = self._documents.aircraft.readings.get(doc.reading)
        if reading is not None and self._scope.types[base].unit != reading.unit:
            self._faults.add(
                place,
                "a drop from a value in another unit",
                found=f"{base} in {self._scope.types[base].unit}",
                allowed=reading.unit,
                rule="units",
            )

    def _choices(self, item: Item, doc: ChooseDoc) -> None:
        forward = 0
        for index, choice in enumerate(doc.choices):
            if not isinstance(choice, ChoiceDoc):
                forward += 1
                continue
            self._counters(choice.adds, item, "choices", index, "adds")
            if choice.drill is not None:
                place = item.at("choices", index, "drill")
                self._known(choice.drill, self._documents.drills, "drill", place)
            if choice.back_to is None:
                forward += 1
                continue
            earlier = {one.id: one for one in item.flow.items[: item.position]}
            place = item.at("choices", index, "back to")
            if choice.back_to == item.id:
                self._faults.add(
                    place,
                    "a choice that goes back to itself goes round in a circle",
                    found=quoted(choice.back_to),
                    allowed=earlier,
                    rule="circle",
                )
            else:
                self._known(choice.back_to, earlier, "earlier step of this list", place)
        if not forward:
            self._faults.add(
                item.at("choices"),
                "every choice goes back: the list goes round in a circle",
                todo="add a choice that leads on",
                rule="circle",
            )

    def _later(self, name: str, item: Item) -> None:
        later = [one.id for one in item.flow.items[item.position + 1 :] if one.doc.kind != "remark"]
        place = item.at("put off", "back before")
        self._known(name, later, "later step of this list", place)

    def _wait(self, item: Item, doc: WaitDoc) -> None:
        readings = self._documents.aircraft.readings
        for name in doc.while_:
            place = item.flow.key("steps", item.position, "while", name)
            self._known(name, readings, "reading", place)
        if doc.since is not None:
            place = item.at("since")
            if self._known(doc.since, self._moments, "moment that a step notes", place):
                self._earlier(self._moments[doc.since], item, place, "notes")

    def _earlier(self, givers: list[Item], item: Item, place: Place, verb: str) -> None:
        """Within one list, what a step relies on comes before it."""
        own = [one for one in givers if one.flow is item.flow]
        if own and own[0].position >= item.position and len(own) == len(givers):
            self._faults.add(
                place,
                f"the step that {verb} this comes later",
                found=quoted(own[0].id),
                todo=f"move it before {item.id}",
                rule="used-before-read",
            )
