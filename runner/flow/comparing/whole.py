"""Two aircraft, or two lists, compared: what was matched, and everything that differs.

Rules: names are matched before anything is compared, so that what merely follows a new name is no
difference; the parts of an aircraft come in the order of its document, then lists in the order of
the day, then drills. A document compared with itself gives nothing.
"""

from __future__ import annotations

from runner.flow.comparing import overall
from runner.flow.comparing.matching import match_flows, match_names, match_steps
from runner.flow.comparing.naming import Names, Realm
from runner.flow.comparing.shapes import Comparison, Difference, Side
from runner.flow.comparing.shifts import choice_pairs
from runner.flow.comparing.spoken import choice_text
from runner.flow.comparing.steps import Beside, differences, met, subject_of
from runner.flow.comparing.told import Told
from runner.flow.compile import numbered
from runner.flow.documents import Documents, Item, Procedure
from runner.flow.steps import AnsweredDoc, ChooseDoc, ComputeDoc, ReadingDoc


def compare_aircraft(old: Documents, new: Documents, *, in_words: bool = False) -> Comparison:
    """All that differs between the documents of two aircraft, or of two revisions of one.

    `in_words` tells what names stand for, for people; else names are told as they are written.
    """
    names = Names((Told(old), Told(new)) if in_words else None)
    pairs = match_flows(old.lists, new.lists) + match_flows(old.drills, new.drills)
    of = {b: a for a, b in pairs}
    both = {b: _beside(old, new, a, b) for a, b in pairs}
    _match(names, old, new, list(both.values()))
    found: list[Difference] = list(overall.differences(old.aircraft, new.aircraft, names))
    steps = []
    for flow in numbered(new):
        if flow.id in both:
            found += differences(both[flow.id], names)
            steps += list(met(both[flow.id]))
        else:
            found.append(_whole(flow, "added"))
    kept = set(of.values())
    found += [_whole(flow, "gone") for flow in numbered(old) if flow.id not in kept]
    sides = [Side(d.aircraft.aircraft, d.aircraft.title, d.aircraft.revision) for d in (old, new)]
    return Comparison(sides[0], sides[1], tuple(found), tuple(steps))


def compare_flows(
    old: Procedure,
    new: Procedure,
    aircraft: tuple[Documents | None, Documents | None] = (None, None),
    *,
    in_words: bool = False,
) -> Comparison:
    """All that differs between two lists or drills; of their aircraft only names are used."""
    a, b = aircraft
    names = Names((Told(a, old), Told(b, new)) if in_words else None)
    if a is not None and b is not None:
        flows = match_flows(a.lists, b.lists) + match_flows(a.drills, b.drills)
        _match(names, a, b, [_beside(a, b, *pair) for pair in flows if pair[1] != new.id])
    labels = (_labels(a), _labels(b))
    pairs = match_steps(old.items, new.items, labels[1] | labels[0])
    beside = Beside(old, new, pairs, (_first(a, old), _first(b, new)), labels)
    _match_steps(names, beside)
    sides = [
        Side(d.aircraft.aircraft, d.aircraft.title, d.aircraft.revision, flow.id)
        if d is not None
        else Side("", flow.doc.title, "", flow.id)
        for d, flow in ((a, old), (b, new))
    ]
    found = tuple(differences(beside, names))
    return Comparison(sides[0], sides[1], found, tuple(met(beside)))


def _labels(documents: Documents | None) -> dict[str, str]:
    if documents is None:
        return {}
    return {name: one.label for name, one in documents.aircraft.readings.items()}


def _first(documents: Documents | None, flow: Procedure) -> int:
    """The card number of the first step of a list; without its aircraft it has none."""
    number = 1
    for one in numbered(documents) if documents is not None else ():
        if one.id == flow.id:
            return number
        number += len(one.items)
    return 0


def _beside(old: Documents, new: Documents, a: str, b: str) -> Beside:
    before = {**old.lists, **old.drills}[a]
    after = {**new.lists, **new.drills}[b]
    labels = _labels(old), _labels(new)
    pairs = match_steps(before.items, after.items, labels[1] | labels[0])
    return Beside(before, after, pairs, (_first(old, before), _first(new, after)), labels)


def _match(names: Names, old: Documents, new: Documents, flows: list[Beside]) -> None:
    """Note everything that goes by another name now."""
    before, after = old.aircraft, new.aircraft
    matched: dict[Realm, list[tuple[str, str]]] = {
        "reading": overall.readings(before, after),
        "timer": overall.timers(before, after),
        "counter": match_names(before.counters, after.counters),
        "value": match_names(before.fit, after.fit),
    }
    for realm, pairs in matched.items():
        for a, b in pairs:
            names.match(realm, a, b)
    for both in flows:
        names.match("flow", *both.ids)
        _match_steps(names, both)


def _match_steps(names: Names, both: Beside) -> None:
    for a, b in both.pairs:
        old, new = both.old.items[a], both.new.items[b]
        names.match("step", f"{both.old.id}.{old.id}", f"{both.new.id}.{new.id}")
        names.match("value", _gives(old), _gives(new))
        if isinstance(old.doc, AnsweredDoc) and isinstance(new.doc, AnsweredDoc):
            if len(old.doc.notes) == len(new.doc.notes):
                for one, other in zip(old.doc.notes, new.doc.notes, strict=True):
                    names.match("moment", one, other)
        if isinstance(old.doc, ChooseDoc) and isinstance(new.doc, ChooseDoc):
            for pair in choice_pairs(old.doc, new.doc):
                texts = old.doc.choices[pair.old], new.doc.choices[pair.new]
                names.match("answer", choice_text(texts[0]), choice_text(texts[1]))


def _gives(item: Item) -> str:
    """The name by which conditions know the value that a step gives."""
    match item.doc:
        case ReadingDoc(as_=name, reading=reading):
            return name or reading
        case ChooseDoc(as_=name) | ComputeDoc(compute=name):
            return name
    return ""


def _whole(flow: Procedure, what: str) -> Difference:
    """A list or drill that stands in one of the two only; its steps go with it."""
    count = f"{len(flow.items)} steps"
    title = flow.doc.title
    if what == "added":
        return Difference(
            subject_of(flow), ("added",), title, flow.id, title, "", flow.id, answer=count
        )
    return Difference(subject_of(flow), ("gone",), title, flow.id, title, flow.id, answer=count)
