"""The differences of one list or drill: its own, its headings, its steps, its ends.

Rules: a step that was matched is told of once, with everything that it is not as before; the card's
numbers follow from the order and are no difference; a heading is told of once, not at each step
below it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal, NamedTuple

from runner.flow.comparing.matching import Pair, best_texts, moved
from runner.flow.comparing.naming import Names
from runner.flow.comparing.shapes import Difference, Met, Shift, Subject, What
from runner.flow.comparing.shifts import shifts
from runner.flow.comparing.spoken import answer_of, called
from runner.flow.documents import Item, Procedure
from runner.flow.model import DrillDoc, EndDoc, ListDoc, RestartDoc

_TOP = "at the top"


class Beside(NamedTuple):
    """A list or drill that stands in both, with the pairs of its steps.

    `numbers` are the card numbers of the first steps; `labels` name the readings of each.
    """

    old: Procedure
    new: Procedure
    pairs: list[Pair]
    numbers: tuple[int, int]
    labels: tuple[Mapping[str, str], Mapping[str, str]]

    @property
    def ids(self) -> tuple[str, str]:
        """The names of the two."""
        return self.old.id, self.new.id


def subject_of(flow: Procedure) -> Subject:
    """Whether it is a list or a drill."""
    return "list" if isinstance(flow.doc, ListDoc) else "drill"


def differences(both: Beside, names: Names) -> Iterator[Difference]:
    """Everything that differs within a list, in the order of the newer one."""
    yield from _itself(both, names)
    yield from _headings(both)
    if isinstance(both.old.doc, DrillDoc) and isinstance(both.new.doc, DrillDoc):
        yield from _ends(both, names)
    yield from _steps(both, names)


def met(both: Beside) -> Iterator[Met]:
    """Every step that stands in both."""
    for a, b in both.pairs:
        item = both.new.items[b]
        name = called(item, both.labels[1])
        number = both.numbers[1] + b if both.numbers[1] else 0
        yield Met(
            both.new.id, both.new.doc.title, both.old.items[a].id, item.id, number, name,
            answer_of(item.doc),
        )  # fmt: skip


def _itself(both: Beside, names: Names) -> Iterator[Difference]:
    old, new = both.old, both.new
    what: list[What] = []
    found = shifts(old.doc, new.doc, names, both.ids, ("list", "drill", "steps", "ends"))
    if old.id != new.id:
        what.append("renamed")
        found.insert(0, Shift("name", old.id, new.id, "document"))
    if len(found) > len(what):
        what.append("changed")
    if found:
        yield Difference(
            subject_of(new), tuple(what), new.doc.title, new.id, new.doc.title, old.id, new.id,
            shifts=tuple(found),
        )  # fmt: skip


def _sections(flow: Procedure) -> list[str]:
    """The heading that each step stands under."""
    under, found = "", []
    for item in flow.items:
        under = item.doc.section or under
        found.append(under)
    return found


def _row(sections: list[str]) -> list[str]:
    return [one for n, one in enumerate(sections) if one and (n == 0 or sections[n - 1] != one)]


def _headings(both: Beside) -> Iterator[Difference]:
    old, new = both.old, both.new
    before, after = _sections(old), _sections(new)
    rows = _row(before), _row(after)
    pairs = best_texts(*rows)

    def told(what: What, a: str, b: str) -> Difference:
        here = Shift("section", a or "none", b or "none")
        return Difference(
            "section", (what,), b or a, new.id, new.doc.title, shifts=(here,)
        )  # fmt: skip

    for a, b in pairs:
        if rows[0][a] != rows[1][b]:
            yield told("renamed", rows[0][a], rows[1][b])
    for n, one in enumerate(rows[0]):
        if n not in {pair.old for pair in pairs}:
            yield told("gone", one, "")
    for n, one in enumerate(rows[1]):
        if n not in {pair.new for pair in pairs}:
            yield told("added", "", one)
    out = moved([pair.new for pair in sorted(pairs)])
    for n in sorted(out):
        pair = sorted(pairs)[n]
        yield told("moved", rows[0][pair.old], rows[1][pair.new])


def _steps(both: Beside, names: Names) -> Iterator[Difference]:
    old, new = both.old, both.new
    in_old_order = sorted(both.pairs)
    out = {in_old_order[n].new for n in moved([pair.new for pair in in_old_order])}
    of_new = {pair.new: pair.old for pair in both.pairs}
    kept = {pair.old for pair in both.pairs}
    sections = _sections(old), _sections(new)
    heads = dict(_renamed(sections))
    gone = [n for n in range(len(old.items)) if n not in kept]
    for b, item in enumerate(new.items):
        if b not in of_new:
            yield _alone(both, item, "added")
            continue
        a = of_new[b]
        while gone and gone[0] < a:
            yield _alone(both, old.items[gone.pop(0)], "gone")
        found = _one(both, a, b, names)
        under = sections[0][a], sections[1][b]
        if b not in out and under[0] in heads and under[1] in heads.values():
            if heads[under[0]] != under[1]:
                found.append(Shift("section", under[0] or "none", under[1] or "none"))
        if found or b in out:
            yield _changed(both, a, b, found, is_moved=b in out)
    for a in gone:
        yield _alone(both, old.items[a], "gone")


def _renamed(sections: tuple[list[str], list[str]]) -> list[tuple[str, str]]:
    rows = _row(sections[0]), _row(sections[1])
    return [(rows[0][a], rows[1][b]) for a, b in best_texts(*rows)] + [("", "")]


def _one(both: Beside, a: int, b: int, names: Names) -> list[Shift]:
    """What differs in one step that stands in both."""
    old, new = both.old.items[a], both.new.items[b]
    words = called(old, both.labels[0]), called(new, both.labels[1])
    found: list[Shift] = []
    if old.doc.kind != new.doc.kind:
        found.append(Shift("kind", old.doc.kind, new.doc.kind))
    labelled = words[0] != words[1] and not (old.doc.words or new.doc.words)
    if words[0] != words[1] and not labelled:
        found.append(Shift("called", *words))
    if old.id != new.id and (old.doc.id or new.doc.id):
        found.append(Shift("id", old.id, new.id, "document"))
    leave = {"id", "section", "challenge", old.doc.kind, new.doc.kind} - {"reading", "compute"}
    found += shifts(old.doc, new.doc, names, both.ids, leave)
    return found


def _changed(both: Beside, a: int, b: int, found: list[Shift], *, is_moved: bool) -> Difference:
    old, new = both.old.items[a], both.new.items[b]
    what: list[What] = ["moved"] if is_moved else []
    named = [one for one in found if one.key == "id"]
    what += ["renamed"] if named else []
    what += ["changed"] if len(found) > len(named) else []
    return Difference(
        "step", tuple(what), called(new, both.labels[1]), both.new.id, both.new.doc.title,
        old.id, new.id, *_numbers(both, a, b),
        place=place(both.new, b, both.labels[1]) if is_moved else "",
        was=place(both.old, a, both.labels[0]) if is_moved else "",
        shifts=tuple(found),
    )  # fmt: skip


def _numbers(both: Beside, a: int | None, b: int | None) -> tuple[int, int]:
    first = both.numbers
    return (
        first[0] + a if a is not None and first[0] else 0,
        first[1] + b if b is not None and first[1] else 0,
    )


def _alone(both: Beside, item: Item, what: What) -> Difference:
    is_new = what == "added"
    labels = both.labels[is_new]
    number = _numbers(both, None if is_new else item.position, item.position if is_new else None)
    here = place(item.flow, item.position, labels)
    return Difference(
        "step", (what,), called(item, labels), both.new.id, both.new.doc.title,
        "" if is_new else item.id, item.id if is_new else "", *number, answer_of(item.doc),
        here if is_new else "", "" if is_new else here,
    )  # fmt: skip


def place(flow: Procedure, position: int, labels: Mapping[str, str]) -> str:
    """Where a step stands: behind which, and under which heading."""
    under = _sections(flow)[position]
    heading = f', under "{under}"' if under else ""
    if position == 0:
        return _TOP + heading
    return f"after {called(flow.items[position - 1], labels)}{heading}"


def _ends(both: Beside, names: Names) -> Iterator[Difference]:
    old, new = both.old.doc, both.new.doc
    if not isinstance(old, DrillDoc) or not isinstance(new, DrillDoc):
        return
    pairs = best_texts([one.end for one in old.ends], [one.end for one in new.ends])
    in_old_order = sorted(pairs)
    out = {in_old_order[n].new for n in moved([pair.new for pair in in_old_order])}

    def told(what: tuple[What, ...], one: EndDoc, *found: Shift) -> Difference:
        return Difference("end", what, one.end, both.new.id, new.title, shifts=found)

    for a, b in pairs:
        before, after = old.ends[a], new.ends[b]
        found = shifts(before, after, names, both.ids, ("leads to",))
        if not _leads_same(before, after, names):
            found.append(
                Shift("leads to", _leads_text(before, names, 0), _leads_text(after, names, 1))
            )
        what: list[What] = ["moved"] if b in out else []
        what += ["changed"] if found else []
        if what:
            yield told(tuple(what), after, *found)
    for n, one in enumerate(old.ends):
        if n not in {pair.old for pair in pairs}:
            yield told(("gone",), one)
    for n, one in enumerate(new.ends):
        if n not in {pair.new for pair in pairs}:
            yield told(("added",), one)


def _leads_text(end: EndDoc, names: Names, side: Literal[0, 1]) -> str:
    """Where the end of a drill leads, as it is said."""
    leads = end.leads_to
    if not isinstance(leads, RestartDoc):
        return leads
    return f"restart {names.told[side].flow(leads.restart) if names.told else leads.restart}"


def _leads_same(old: EndDoc, new: EndDoc, names: Names) -> bool:
    a, b = old.leads_to, new.leads_to
    if isinstance(a, RestartDoc) and isinstance(b, RestartDoc):
        return names.same("flow", a.restart, b.restart)
    return a == b
