"""What stands where: the lists of a day, the steps of a list, the ends of a drill.

Rules: every list and drill has its place in the order of the day or of the drills page; a list
ends with its closing call and has no other; memory items come first; what is offered meanwhile
has a wait to be offered in; a drill's ends cover every case.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from runner.engine.words import plain
from runner.flow.answers import normal
from runner.flow.documents import Documents, Procedure
from runner.flow.faults import Faults, Place, quoted
from runner.flow.model import DrillDoc, ListDoc
from runner.flow.references import HAPPENINGS
from runner.flow.steps import AskedDoc, CloseDoc, TickDoc, WaitDoc


def check_order(documents: Documents, faults: Faults) -> None:
    """Note every fault of order."""
    _day(documents, faults)
    _groups(documents, faults)
    _texts(documents, faults)
    _timers(documents, faults)
    for flow in documents.all():
        _steps(flow, faults)
        if isinstance(flow.doc, DrillDoc):
            _ends(flow, flow.doc, faults)


def _twice(words: Iterable[tuple[str, Place]], what: str, faults: Faults) -> None:
    seen: dict[str, Place] = {}
    for word, place in words:
        if word in seen:
            faults.add(
                place,
                f"{what} stands twice",
                found=quoted(word),
                todo=f"first in {seen[word]}",
                rule="duplicate-name",
            )
        seen.setdefault(word, place)


def _day(documents: Documents, faults: Faults) -> None:
    aircraft = documents.aircraft
    for key, names, flows in (
        ("day", aircraft.day, documents.lists),
        ("drills", aircraft.drills, documents.drills),
    ):
        kind = "list" if key == "day" else "drill"
        _twice(((n, documents.at(key, i)) for i, n in enumerate(names)), f"this {kind}", faults)
        for flow in flows.values():
            if flow.id not in names:
                faults.add(
                    flow.at(kind),
                    f"this {kind} has no place in the order",
                    found=quoted(flow.id),
                    todo=f"name it under {key}: in aircraft.yaml",
                    rule="placement",
                )
        titles = [(plain(f.doc.title), f.at("title")) for f in flows.values()]
        own = {plain(f.doc.title): f.id for f in flows.values()}
        ids = [(plain(f.id), f.at(kind)) for f in flows.values() if own.get(plain(f.id)) != f.id]
        _twice([*titles, *ids], f"the title or name of a {kind}", faults)
    later = [f for f in documents.lists.values() if _list(f).flights == "later"]
    if later and not any(_list(f).next_flight for f in documents.lists.values()):
        faults.add(
            later[0].at("flights"),
            "a list for later flights, and no list after which one may begin",
            todo="add next flight: true to the list that ends a flight",
            rule="placement",
        )


def _list(flow: Procedure) -> ListDoc:
    if not isinstance(flow.doc, ListDoc):
        raise TypeError(flow.id)
    return flow.doc


def _groups(documents: Documents, faults: Faults) -> None:
    """The lists of one group stand together in the day."""
    order = [documents.lists[name] for name in documents.aircraft.day if name in documents.lists]
    ended: set[str] = set()
    for before, flow in pairwise([None, *order]):
        group = _list(flow).group if flow else None
        was = _list(before).group if before else None
        if was is not None and was != group:
            ended.add(was)
        if flow is not None and group is not None and group in ended:
            faults.add(
                flow.at("group"),
                "the lists of this group do not stand together in the day",
                found=quoted(group),
                todo="move them together under day: in aircraft.yaml, or name two groups",
                rule="placement",
            )


def _texts(documents: Documents, faults: Faults) -> None:
    aircraft, at = documents.aircraft, documents.at
    _twice(
        ((normal(reason), at("reasons", i)) for i, reason in enumerate(aircraft.reasons)),
        "this reason",
        faults,
    )
    _twice(
        ((plain(r.label), at("readings", name, "label")) for name, r in aircraft.readings.items()),
        "the label of a reading",
        faults,
    )
    _twice(
        ((plain(t.label), at("timers", name, "label")) for name, t in aircraft.timers.items()),
        "the label of a timer",
        faults,
    )
    happenings = [(word, at("happenings", i)) for i, word in enumerate(aircraft.happenings)]
    _twice(happenings, "this happening", faults)
    for word, place in happenings:
        if word in HAPPENINGS:
            faults.add(
                place,
                "this happening is built in",
                found=quoted(word),
                todo="delete it",
                rule="placement",
            )


def _timers(documents: Documents, faults: Faults) -> None:
    for name, timer in documents.aircraft.timers.items():
        calls = timer.call_at
        if any(a >= b for a, b in pairwise(calls)) or (calls and calls[-1] >= timer.within):
            faults.add(
                documents.at("timers", name, "call at"),
                "the calls of a timer are out of order",
                allowed="rising times, all before its end",
                rule="placement",
            )


def _steps(flow: Procedure, faults: Faults) -> None:
    last = len(flow.items) - 1
    drill = isinstance(flow.doc, DrillDoc)
    station = isinstance(flow.doc, ListDoc) and bool(flow.doc.any_order)
    waited = False
    memory_over = False
    for item in flow.items:
        doc = item.doc
        if isinstance(doc, CloseDoc) != (item.position == last):
            faults.add(
                item.at(),
                "steps behind the closing call"
                if isinstance(doc, CloseDoc)
                else f"the {'drill' if drill else 'list'} does not end with its closing call",
                todo=f"end it with close: {flow.doc.title}",
                rule="list-end",
            )
        if isinstance(doc, CloseDoc) and (doc.when or doc.memory):
            faults.add(
                item.at("when" if doc.when else "memory"),
                "a closing call is always required, and last",
                todo="give the list only when: if all of it depends on something",
                rule="placement",
            )
        if isinstance(doc, TickDoc) and not station:
            faults.add(
                item.at(),
                "a tick outside a station",
                todo="add any order: true to the list, or make it a challenge",
                rule="placement",
            )
        if station and not isinstance(doc, TickDoc | CloseDoc):
            faults.add(
                item.at(),
                "a station has ticks only",
                found=doc.kind,
                allowed="tick, then close",
                rule="placement",
            )
        if doc.memory:
            if not drill:
                faults.add(item.at("memory"), "a memory item outside a drill", rule="placement")
            elif memory_over:
                faults.add(
                    item.at("memory"),
                    "a memory item behind other steps",
                    todo="memory items come first",
                    rule="placement",
                )
        memory_over = memory_over or not doc.memory
        if isinstance(doc, AskedDoc) and doc.meanwhile and not waited:
            faults.add(item.at("meanwhile"), "no wait before it to be offered in", rule="placement")
        if isinstance(doc, WaitDoc):
            if doc.meanwhile:
                faults.add(
                    item.at("meanwhile"),
                    "a wait cannot be offered during another",
                    rule="placement",
                )
            waited = True
    if station:
        _twice(
            ((normal(i.doc.words), i.at("tick")) for i in flow.items if i.doc.kind == "tick"),
            "this item of the station",
            faults,
        )
    if last == 0 and isinstance(flow.items[0].doc, CloseDoc):
        faults.add(flow.at("steps"), "nothing before the closing call", rule="placement")


def _ends(flow: Procedure, doc: DrillDoc, faults: Faults) -> None:
    _twice(
        ((normal(end.end), flow.at("ends", i, "end")) for i, end in enumerate(doc.ends)),
        "this end",
        faults,
    )
    for index, end in enumerate(doc.ends):
        if end.leads_to == "unserviceable" and end.defect is None:
            faults.add(
                flow.at("ends", index, "leads to"),
                "unserviceable without a defect",
                todo="add defect: with the text of the defect that it opens",
                rule="drill-end",
            )
        if end.grounds and end.defect is None:
            faults.add(
                flow.at("ends", index, "grounds"),
                "grounds without a defect",
                todo="add defect: with the text of the defect that grounds the aircraft",
                rule="drill-end",
            )
