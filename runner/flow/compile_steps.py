"""One step, or one end of a drill, into what the engine works with.

Rules: identifiers become whole (`list.step`); conditions and formulas are compiled here and nowhere
else, each text once; a condition's fault is placed at the character it speaks of where the text
stands on one line without quotes that move it.
"""

from __future__ import annotations

from functools import partial
from typing import Any

from runner.engine.conditions import (
    Condition,
    ConditionFault,
    Formula,
    compile_condition,
    compile_formula,
)
from runner.engine.limits import Limit
from runner.engine.table import (
    AcceptClass,
    Choice,
    End,
    EndKind,
    Kind,
    Reading,
    Step,
    Unmet,
    WaitRule,
    Who,
)
from runner.flow.documents import Documents, Item, Procedure
from runner.flow.faults import Faults, quoted
from runner.flow.model import EndDoc, ListDoc, RestartDoc
from runner.flow.names import Scope
from runner.flow.parts import BranchDoc, ChoiceDoc, LimitDoc, PutOffDoc, TurnsDoc
from runner.flow.quantities import check_reach, limit_in
from runner.flow.steps import (
    AnsweredDoc,
    AskedDoc,
    ByTimeDoc,
    CautionDoc,
    ChallengeDoc,
    ChooseDoc,
    CloseDoc,
    ComputeDoc,
    ReadingDoc,
    TickDoc,
    WaitDoc,
)

_KINDS = {
    "challenge": Kind.CHALLENGE,
    "reading": Kind.READING,
    "choose": Kind.CHOICE,
    "wait": Kind.WAIT,
    "by-time": Kind.BY_TIME,
    "compute": Kind.COMPUTED,
    "caution": Kind.CAUTION,
    "remark": Kind.REMARK,
    "tick": Kind.TICK,
    "close": Kind.CLOSING,
}


class Steps:
    """Compiles the steps of one aircraft."""

    def __init__(
        self, documents: Documents, scope: Scope, readings: dict[str, Reading], faults: Faults
    ) -> None:
        self._documents = documents
        self._scope = scope
        self._readings = readings
        self._faults = faults
        self._conditions: dict[str, Condition] = {}

    def condition(
        self, source: str | None, procedure: Procedure, *path: str | int
    ) -> Condition | None:
        """A condition, or None where there is none or it cannot be compiled."""
        if source is None:
            return None
        if source not in self._conditions:
            try:
                self._conditions[source] = compile_condition(source, self._scope.types)
            except ConditionFault as fault:
                self._refuse(source, fault, procedure, path)
                return None
        return self._conditions[source]

    def compile(self, item: Item, number: int, list_condition: str | None) -> Step:
        """One step with its card number; `list_condition` is the condition of the whole list."""
        doc = item.doc
        own = self.condition(doc.when, item.flow, *item.path, "when")
        fields: dict[str, Any] = {
            "id": item.whole,
            "number": number,
            "kind": _KINDS[doc.kind],
            "challenge": doc.words,
            "who": Who(doc.who) if isinstance(doc, AnsweredDoc) else Who.HANDLING,
            "section": doc.section or "",
            "when": self._joined(list_condition, doc.when if own else None, own, item),
            "own_when": own,
            "memory": bool(doc.memory),
            "place": str(item.at()),
        }
        if isinstance(doc, AnsweredDoc):
            fields |= _answered(doc)
        if isinstance(doc, AskedDoc):
            fields |= _asked(doc, item)
        fields |= self._by_kind(item)
        return Step(**fields)

    def end(self, procedure: Procedure, index: int, doc: EndDoc) -> End:
        """One end of a drill."""
        restart = isinstance(doc.leads_to, RestartDoc)
        return End(
            label=doc.end,
            kind=EndKind.RESTART if restart else EndKind(str(doc.leads_to)),
            flow=doc.leads_to.restart if isinstance(doc.leads_to, RestartDoc) else "",
            when=self.condition(doc.when, procedure, "ends", index, "when"),
            voids=tuple(doc.voids),
            defect=doc.defect or "",
            grounding=bool(doc.grounds),
        )

    def _joined(
        self, outer: str | None, inner: str | None, own: Condition | None, item: Item
    ) -> Condition | None:
        if outer is None or inner is None or outer == inner:
            return own if outer is None else self.condition(outer, item.flow, *item.path)
        return self.condition(f"({outer}) && ({inner})", item.flow, *item.path)

    def _by_kind(self, item: Item) -> dict[str, Any]:
        doc = item.doc
        match doc:
            case ChallengeDoc() | TickDoc() | ByTimeDoc():
                return {
                    "response": doc.answer,
                    "variants": tuple(doc.also),
                    "timer": doc.timer if isinstance(doc, ByTimeDoc) else "",
                    "mark": (doc.mark or "") if isinstance(doc, ChallengeDoc) else "",
                }
            case CautionDoc():
                return {"key_words": tuple(doc.key_words)}
            case CloseDoc():
                return {"challenge": _called(item, doc.close), "response": "CLOSED"}
            case ChooseDoc():
                made = tuple(self._choice(item, n, c) for n, c in enumerate(doc.choices))
                return {"choices": made, "gives": doc.as_}
            case ReadingDoc():
                return self._reading(doc, item)
            case WaitDoc():
                return {"wait": self._wait(doc, item)}
            case ComputeDoc():
                return self._compute(doc, item)
            case _:
                return {}

    def _choice(self, item: Item, number: int, doc: ChoiceDoc | str) -> Choice:
        if isinstance(doc, str):
            return Choice(doc)
        return Choice(
            text=doc.answer,
            variants=tuple(doc.also),
            back_to=f"{item.flow.id}.{doc.back_to}" if doc.back_to else "",
            drill=doc.drill or "",
            adds=tuple(doc.adds.items()),
            when=self.condition(doc.when, item.flow, *item.path, "choices", number, "when"),
            turns=_turns(doc.turns),
        )

    def _reading(self, doc: ReadingDoc, item: Item) -> dict[str, Any]:
        reading = self._readings.get(doc.reading)
        if reading is None:
            return {}
        return {
            "challenge": doc.challenge or reading.label,
            "reading": reading.name,
            "gives": doc.as_ or reading.name,
            "limit": self._limit(doc.limit, reading, item, "limit"),
            "unmet": _unmet(doc.unmet),
            "branch": _branch(doc.unmet),
            "within": doc.within or "",
            "drop_from": doc.drop_from or "",
        }

    def _wait(self, doc: WaitDoc, item: Item) -> WaitRule:
        conditions = []
        for name, limit_doc in doc.while_.items():
            reading = self._readings.get(name)
            if reading is None:
                continue
            limit = self._limit(limit_doc, reading, item, "while", name)
            if limit is not None:
                conditions.append((name, limit))
        return WaitRule(doc.for_, doc.since or "", tuple(conditions), doc.ask_every)

    def _compute(self, doc: ComputeDoc, item: Item) -> dict[str, Any]:
        formula: Formula | None = None
        try:
            formula = compile_formula(doc.formula, self._scope.types, doc.decimals)
        except ConditionFault as fault:
            self._refuse(doc.formula, fault, item.flow, (*item.path, "formula"))
        if formula is not None and formula.unit not in (None, _plain_unit(doc.unit)):
            self._faults.add(
                item.at("unit"),
                "the formula gives another unit",
                found=f"{formula.unit or 'a count'}, declared {doc.unit}",
                todo="declare the unit that the formula gives, or convert in the formula",
                rule="units",
            )
        limit = None
        if doc.limit is not None:
            limit = limit_in(doc.limit, doc.unit, partial(item.at, "limit"), self._faults)
        return {
            "gives": doc.compute,
            "formula": formula,
            "limit": limit,
            "unmet": _unmet(doc.unmet),
            "branch": _branch(doc.unmet),
            "drill": doc.drill or "",
            "accept": AcceptClass(doc.accept) if doc.accept else None,
        }

    def _limit(
        self, doc: LimitDoc | None, reading: Reading, item: Item, *path: str
    ) -> Limit | None:
        if doc is None:
            return None
        limit = limit_in(doc, reading.unit, partial(item.at, *path), self._faults)
        if limit is not None and reading.low < reading.high:
            check_reach(limit, reading.low, reading.high, item.at(*path), self._faults)
        return limit

    def _refuse(
        self, source: str, fault: ConditionFault, procedure: Procedure, path: tuple[str | int, ...]
    ) -> None:
        found = quoted(source)
        self._faults.add(
            procedure.inside(fault.offset, *path),
            fault.what,
            found="" if found in fault.what else found,
            allowed=fault.allowed,
            nearest=fault.nearest,
            todo=f"write {fault.suggestion}" if fault.suggestion not in ("", fault.nearest) else "",
            rule="condition",
        )


def _plain_unit(unit: str) -> str:
    return "" if unit == "count" else unit


def _answered(doc: AnsweredDoc) -> dict[str, Any]:
    return {
        "ends": tuple(doc.ends),
        "turns": _turns(doc.turns),
        "adds": tuple(doc.adds.items()),
        "clears": tuple(doc.clears),
        "notes": tuple(doc.notes),
    }


def _asked(doc: AskedDoc, item: Item) -> dict[str, Any]:
    put_off = doc.put_off
    back = put_off.back_before if isinstance(put_off, PutOffDoc) else ""
    return {
        "accept": AcceptClass(doc.accept) if doc.accept else None,
        "critical": bool(doc.critical),
        "may_put_off": put_off is not None,
        "back_before": f"{item.flow.id}.{back}" if back else "",
        "meanwhile": bool(doc.meanwhile),
        "drill": doc.drill or "",
    }


def _turns(doc: TurnsDoc | None) -> tuple[tuple[str, bool], ...]:
    if doc is None:
        return ()
    made = []
    if doc.engine is not None:
        made.append(("engine", doc.engine == "running"))
    if doc.rotor is not None:
        made.append(("rotor", doc.rotor == "turning"))
    return tuple(made)


def _unmet(doc: BranchDoc | str | None) -> Unmet:
    return Unmet.BRANCH if isinstance(doc, BranchDoc) else Unmet(doc or "wait")


def _branch(doc: BranchDoc | str | None) -> str:
    return doc.branch if isinstance(doc, BranchDoc) else ""


def _called(item: Item, name: str) -> str:
    """The closing call: the name of the list or drill, and which of the two it is."""
    kind = "list" if isinstance(item.flow.doc, ListDoc) else "drill"
    return name if name.casefold().endswith(kind) else f"{name} {kind}"
