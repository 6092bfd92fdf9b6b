"""What a diagram shows, before anybody knows how it is drawn: a spine of rows with side branches.

Rules: everything that decides is written out (condition, limit, time, who may accept), with the
names that people know it by; a row's sides say when the way leaves it and where to. The same
documents give the same diagram. Nothing is measured here.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from runner.flow.comparing.spoken import answer_of, called, choice_text
from runner.flow.comparing.values import text, time_text
from runner.flow.compile import numbered
from runner.flow.documents import Documents, Item, Procedure
from runner.flow.model import DrillDoc, EndDoc, ListDoc, RestartDoc
from runner.flow.parts import BranchDoc, ChoiceDoc, PutOffDoc
from runner.flow.steps import (
    AnsweredDoc,
    AskedDoc,
    ByTimeDoc,
    ChooseDoc,
    ComputeDoc,
    ReadingDoc,
    StepDoc,
    WaitDoc,
)

_KINDS: Final = {
    "caution": "CAUTION",
    "remark": "REMARK",
    "wait": "WAIT",
    "compute": "COMPUTED",
    "close": "CLOSES",
}


class Side(NamedTuple):
    """A way that leaves the spine: `when` says in which case, `target` to what, in words.

    `node` is the id of a row, list or drill that it leads to, empty where it leads to none.
    """

    when: str
    target: str
    node: str


class Row(NamedTuple):
    """One thing on the spine. `number` is what stands at the left, `when` its condition."""

    id: str
    number: str
    words: str
    answer: str = ""
    section: str = ""
    when: str = ""
    mark: str = ""
    notes: tuple[str, ...] = ()
    sides: tuple[Side, ...] = ()


class Diagram(NamedTuple):
    """A spine of rows; `ends` is what is reached behind the last one."""

    id: str
    title: str
    subtitle: str
    rows: tuple[Row, ...]
    ends: tuple[Side, ...] = ()


def of_flow(documents: Documents, flow: Procedure) -> Diagram:
    """The diagram of a list or drill."""
    number = 1
    for one in numbered(documents):
        if one.id == flow.id:
            break
        number += len(one.items)
    at = {item.id: str(number + n) for n, item in enumerate(flow.items)}
    rows = tuple(_row(documents, item, at) for item in flow.items)
    rows = _returns(rows, flow, at)
    aircraft = documents.aircraft
    said = [f"{aircraft.title}, revision {aircraft.revision}", flow.doc.method]
    if isinstance(flow.doc, ListDoc) and flow.doc.only_when:
        said.append(f"only if {flow.doc.only_when}")
    return Diagram(
        flow.id, flow.doc.title, "; ".join(said), rows, tuple(_ends(documents, flow))
    )  # fmt: skip


def of_aircraft(documents: Documents) -> Diagram:
    """The diagram of a whole aircraft: the lists of the day, then the drills with their ends."""
    rows: list[Row] = []
    number = 1
    headed: set[str] = set()
    for flow in numbered(documents):
        doc, last = flow.doc, number + len(flow.items) - 1
        section = "The day" if isinstance(doc, ListDoc) else "Drills"
        notes: list[str] = []
        sides: list[Side] = []
        if isinstance(doc, ListDoc):
            if doc.flights != "every":
                notes.append(f"{doc.flights} flight only")
            if doc.group:
                notes.append(f"open together: {doc.group}")
            if doc.valid_until:
                notes.append(f"valid until {', '.join(doc.valid_until)}")
            if doc.next_flight:
                notes.append("after it the next flight may begin")
        opened = [s for item in flow.items for s in _sides(documents, item, {})]
        for side in opened:
            if side.node in documents.drills and side.node not in {s.node for s in sides}:
                sides.append(Side("may open", side.target, side.node))
        if isinstance(doc, DrillDoc):
            sides += list(_ends(documents, flow))
        only = doc.only_when if isinstance(doc, ListDoc) else None
        heading = "" if section in headed else section
        headed.add(section)
        rows.append(
            Row(flow.id, f"{number}-{last}", doc.title, "", heading, only or "", "",
                tuple(notes), tuple(sides))
        )  # fmt: skip
        number = last + 1
    turning = documents.aircraft.discontinue
    ends = [
        Side(f"discontinued, {word}", _title(documents, name), name)
        for word, name in (
            ("airborne", turning.airborne), ("rotor turning", turning.rotor),
            ("engine running", turning.engine), ("nothing turning", turning.nothing),
        )
    ]  # fmt: skip
    aircraft = documents.aircraft
    about = f"{aircraft.operator}, revision {aircraft.revision}"
    return Diagram(aircraft.aircraft, aircraft.title, about, tuple(rows), tuple(ends))


def _title(documents: Documents, name: str) -> str:
    if name in documents.drills:
        return f"drill {documents.drills[name].doc.title}"
    if name in documents.lists:
        return f"list {documents.lists[name].doc.title}"
    return name


def _row(documents: Documents, item: Item, at: dict[str, str]) -> Row:
    labels = {name: one.label for name, one in documents.aircraft.readings.items()}
    doc = item.doc
    mark = "MEMORY" if doc.memory else _KINDS.get(doc.kind, "")
    return Row(
        item.id, at[item.id], called(item, labels), answer_of(doc), doc.section or "",
        doc.when or "", mark, tuple(_notes(documents, doc, labels)),
        tuple(_sides(documents, item, at)),
    )  # fmt: skip


def _notes(documents: Documents, doc: StepDoc, labels: dict[str, str]) -> Iterable[str]:
    timers = documents.aircraft.timers
    if isinstance(doc, AnsweredDoc):
        yield f"{doc.who} answers" if doc.who != "both" else "both look"
        for name in doc.ends:
            yield f"stops the time: {timers[name].label}"
    if isinstance(doc, ByTimeDoc):
        timer = timers[doc.timer]
        calls = f", called at {text(timer.call_at, time=True)}" if timer.call_at else ""
        yield f"starts the time: {timer.label}, at most {time_text(timer.within)}{calls}"
    if isinstance(doc, ReadingDoc) and doc.within:
        yield f"while the time runs: {timers[doc.within].label}"
    if isinstance(doc, ReadingDoc) and doc.drop_from:
        yield f"drop from {doc.drop_from}"
    if isinstance(doc, ComputeDoc):
        yield f"= {doc.formula}"
    if isinstance(doc, WaitDoc):
        if doc.since:
            yield f"counted from {doc.since}"
        for name, limit in doc.while_.items():
            yield f"while {labels.get(name, name)} {text(limit)}"
    if isinstance(doc, AskedDoc):
        if doc.critical:
            yield "critical"
        if doc.meanwhile:
            yield "offered during the wait before it"
    if isinstance(doc, AskedDoc | ComputeDoc) and doc.accept:
        yield f"may be accepted: {doc.accept}"


def _sides(documents: Documents, item: Item, at: dict[str, str]) -> Iterable[Side]:
    doc = item.doc
    if isinstance(doc, ChooseDoc):
        for choice in doc.choices:
            if isinstance(choice, ChoiceDoc):
                said = choice_text(choice) + (f", if {choice.when}" if choice.when else "")
                if choice.drill:
                    yield Side(said, _title(documents, choice.drill), choice.drill)
                if choice.back_to:
                    target = f"back to {at.get(choice.back_to, choice.back_to)}"
                    yield Side(said, target, choice.back_to)
    if isinstance(doc, ReadingDoc | ComputeDoc) and doc.unmet == "stop":
        yield Side("not met", "the list stops", "")
    branch = doc.unmet if isinstance(doc, ReadingDoc | ComputeDoc) else None
    if isinstance(branch, BranchDoc):
        yield Side("not met", _title(documents, branch.branch), branch.branch)
    if isinstance(doc, ByTimeDoc):
        late = documents.aircraft.timers[doc.timer].drill
        if late:
            yield Side("time over", _title(documents, late), late)
    if isinstance(doc, AskedDoc | ComputeDoc) and doc.drill:
        if not (isinstance(branch, BranchDoc) and branch.branch == doc.drill):
            yield Side("not so", _title(documents, doc.drill), doc.drill)
    if isinstance(doc, AskedDoc) and doc.put_off is not None:
        back = doc.put_off.back_before if isinstance(doc.put_off, PutOffDoc) else ""
        where = f"before {at.get(back, back)}" if back else "at the end of this list"
        yield Side("put off", f"comes back {where}", back or item.flow.items[-1].id)


def _returns(rows: tuple[Row, ...], flow: Procedure, at: dict[str, str]) -> tuple[Row, ...]:
    """The rows with what comes back before them."""
    back: dict[str, list[str]] = {}
    for item in flow.items:
        if isinstance(item.doc, AskedDoc) and item.doc.put_off is not None:
            off = item.doc.put_off
            name = off.back_before if isinstance(off, PutOffDoc) else flow.items[-1].id
            back.setdefault(name, []).append(at[item.id])
    return tuple(
        row._replace(notes=(f"comes back before this if put off: {', '.join(back[row.id])}",
                            *row.notes)) if row.id in back else row
        for row in rows
    )  # fmt: skip


def _ends(documents: Documents, flow: Procedure) -> Iterable[Side]:
    if isinstance(flow.doc, DrillDoc):
        for end in flow.doc.ends:
            said = end.end + (f", if {end.when}" if end.when else "")
            yield Side(said, _leads(documents, end), _node(end))
        return
    day = documents.aircraft.day
    if flow.id in day and day.index(flow.id) + 1 < len(day):
        after = day[day.index(flow.id) + 1]
        yield Side("closed", f"next in the day: {_title(documents, after)}", after)
    else:
        yield Side("closed", "the end of the day", "")


def _leads(documents: Documents, end: EndDoc) -> str:
    leads = end.leads_to
    said = (
        f"{_title(documents, leads.restart)} from its first line"
        if isinstance(leads, RestartDoc)
        else {"unserviceable": "aircraft unserviceable"}.get(leads, leads)
    )
    if end.voids:
        said += f"; asked again: {', '.join(end.voids)}"
    return said + (f"; defect: {end.defect}" if end.defect else "")


def _node(end: EndDoc) -> str:
    return end.leads_to.restart if isinstance(end.leads_to, RestartDoc) else ""
