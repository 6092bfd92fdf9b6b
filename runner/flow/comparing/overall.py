"""What differs between two aircraft beside their lists: readings, by-times, order, needs, copy.

Rules: things with a name are matched by it, then by their label; a row whose order matters (the
day, the drills, the copy page) tells what moved, each thing once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Literal

from runner.flow.comparing.matching import best_texts, match_names, moved
from runner.flow.comparing.naming import Names
from runner.flow.comparing.shapes import Difference, Shift, Subject, What
from runner.flow.comparing.shifts import shifts
from runner.flow.forms import Strict
from runner.flow.model import AircraftDoc, CopyDoc, NeedDoc, SettingsDoc

_OWN = (
    "aircraft", "readings", "fit", "counters", "timers", "reasons", "happenings", "day", "drills",
    "discontinue", "settings", "needs", "copy",
)  # fmt: skip


def readings(old: AircraftDoc, new: AircraftDoc) -> list[tuple[str, str]]:
    """The readings that are one."""
    return match_names(
        {name: one.label for name, one in old.readings.items()},
        {name: one.label for name, one in new.readings.items()},
    )


def timers(old: AircraftDoc, new: AircraftDoc) -> list[tuple[str, str]]:
    """The by-times that are one."""
    return match_names(
        {name: one.label for name, one in old.timers.items()},
        {name: one.label for name, one in new.timers.items()},
    )


def differences(old: AircraftDoc, new: AircraftDoc, names: Names) -> Iterator[Difference]:
    """Everything that differs, lists and drills themselves left out."""
    own = shifts(old, new, names, leave=_OWN)
    if old.aircraft != new.aircraft:
        own.insert(0, Shift("aircraft", old.aircraft, new.aircraft, "document"))
    for key in ("airborne", "rotor", "engine", "nothing"):
        a, b = getattr(old.discontinue, key), getattr(new.discontinue, key)
        if not names.same("flow", a, b):
            own.append(_named(f"discontinue, {key}", a, b, names))
    nothing = SettingsDoc.made({})
    own += shifts(old.settings or nothing, new.settings or nothing, names)
    if own:
        yield Difference("aircraft", ("changed",), new.title, shifts=tuple(own))
    yield from _forms("reading", old.readings, new.readings, readings(old, new), names)
    yield from _labels("equipment", old.fit, new.fit)
    yield from _labels("counter", old.counters, new.counters)
    yield from _forms("timer", old.timers, new.timers, timers(old, new), names)
    yield from _texts("reason", old.reasons, new.reasons, ordered=True)
    yield from _texts("happening", old.happenings, new.happenings, ordered=False)
    yield from _order("list", old.day, new.day, names)
    yield from _order("drill", old.drills, new.drills, names)
    yield from _row("need", old.needs, new.needs, names)
    yield from _row("copy entry", old.copy, new.copy, names)


def _forms(
    subject: Subject, old: Mapping[str, Any], new: Mapping[str, Any],
    pairs: list[tuple[str, str]], names: Names,
) -> Iterator[Difference]:  # fmt: skip
    of = {b: a for a, b in pairs}
    for name, form in new.items():
        if name not in of:
            yield Difference(subject, ("added",), form.label, new_id=name,
                             answer=_all(form, names, 1))  # fmt: skip
            continue
        found = shifts(old[of[name]], form, names)
        what: list[What] = ["renamed"] if of[name] != name else []
        what += ["changed"] if found else []
        if what[:1] == ["renamed"]:
            found.insert(0, Shift("name", of[name], name, "document"))
        if what:
            yield Difference(subject, tuple(what), form.label, "", "", of[name], name,
                             shifts=tuple(found))  # fmt: skip
    for name, form in old.items():
        if name not in of.values():
            yield Difference(subject, ("gone",), form.label, old_id=name,
                             answer=_all(form, names, 0))  # fmt: skip


def _labels(
    subject: Subject, old: Mapping[str, str], new: Mapping[str, str]
) -> Iterator[Difference]:
    of = {b: a for a, b in match_names(old, new)}
    for name, label in new.items():
        if name not in of:
            yield Difference(subject, ("added",), label, new_id=name)
        elif of[name] != name:
            shift = Shift("name", of[name], name, "document")
            yield Difference(subject, ("renamed",), label, "", "", of[name], name, shifts=(shift,))
        elif old[name] != label:
            shift = Shift("label", old[name], label)
            yield Difference(subject, ("changed",), label, "", "", name, name, shifts=(shift,))
    for name, label in old.items():
        if name not in of.values():
            yield Difference(subject, ("gone",), label, old_id=name)


def _texts(
    subject: Subject, old: Sequence[str], new: Sequence[str], *, ordered: bool
) -> Iterator[Difference]:
    pairs = best_texts(old, new)
    for a, b in pairs:
        if old[a] != new[b]:
            shift = Shift("text", old[a], new[b])
            yield Difference(subject, ("changed",), new[b], shifts=(shift,))
    for n, one in enumerate(new):
        if n not in {pair.new for pair in pairs}:
            yield Difference(subject, ("added",), one)
    for n, one in enumerate(old):
        if n not in {pair.old for pair in pairs}:
            yield Difference(subject, ("gone",), one)
    row = sorted(pairs)
    if ordered:
        for n in sorted(moved([pair.new for pair in row])):
            yield _moved(subject, new[row[n].new], row[n].old, row[n].new)


def _moved(subject: Subject, name: str, was: int, now: int) -> Difference:
    return Difference(subject, ("moved",), name, place=f"place {now + 1}", was=f"place {was + 1}")


def _order(
    subject: Subject, old: Sequence[str], new: Sequence[str], names: Names
) -> Iterator[Difference]:
    """What stands elsewhere in a row of lists; what stands in one of the two is told elsewhere."""
    row: list[tuple[int, int]] = []
    for a, one in enumerate(old):
        found = [b for b, other in enumerate(new) if names.same("flow", one, other)]
        row += [(a, found[0])] if found else []
    for n in sorted(moved([b for _, b in row])):
        a, b = row[n]
        before = f"after {names.text(1, 'list', new[b - 1])}" if b else "first"
        was = f"after {names.text(0, 'list', old[a - 1])}" if a else "first"
        yield Difference(
            subject, ("moved",), names.text(1, "list", new[b]), "", "", old[a], new[b],
            place=before, was=was,
        )  # fmt: skip


def _row(
    subject: Subject, old: Sequence[Strict], new: Sequence[Strict], names: Names
) -> Iterator[Difference]:
    """Needs, or entries of the copy page: equal ones, then those that speak of the same thing."""
    free = list(range(len(new)))
    pairs: dict[int, int] = {}
    for alike in (lambda a, b: not shifts(a, b, names), _same_head(names)):
        for a, one in enumerate(old):
            found = next((b for b in free if a not in pairs and alike(one, new[b])), None)
            if found is not None:
                pairs[a] = found
                free.remove(found)
    for a, b in pairs.items():
        changed = shifts(old[a], new[b], names)
        if changed:
            yield Difference(subject, ("changed",), _head(new[b], names, 1), shifts=tuple(changed))
    for b in free:
        yield Difference(subject, ("added",), _head(new[b], names, 1),
                         answer=_all(new[b], names, 1))  # fmt: skip
    for a, one in enumerate(old):
        if a not in pairs:
            yield Difference(subject, ("gone",), _head(one, names, 0),
                             answer=_all(one, names, 0))  # fmt: skip
    if subject == "copy entry":
        places = [pairs[a] for a in sorted(pairs)]
        for n in sorted(moved(places)):
            yield _moved(subject, _head(new[places[n]], names, 1), sorted(pairs)[n], places[n])


def _head(one: Strict, names: Names, side: Literal[0, 1]) -> str:
    if isinstance(one, NeedDoc):
        key, needed = ("step", one.step) if one.step else ("reading", one.reading)
        before = names.text(side, "before", one.before)
        return f"before {before}: {names.text(side, key, needed)}"
    if isinstance(one, CopyDoc):
        return one.label or one.figure or names.text(side, "value", one.value or "")
    return _all(one, names, side)


def _all(one: Strict, names: Names, side: Literal[0, 1]) -> str:
    """Everything that a form says."""
    return names.text(side, "", one)


def _named(key: str, old: str, new: str, names: Names) -> Shift:
    return Shift(key, names.text(0, key, old), names.text(1, key, new))


def _same_head(names: Names) -> Any:
    def alike(a: Strict, b: Strict) -> bool:
        if isinstance(a, NeedDoc) and isinstance(b, NeedDoc):
            return names.same("step", a.before, b.before) and (a.step is None) is (b.step is None)
        if isinstance(a, CopyDoc) and isinstance(b, CopyDoc):
            return a.figure == b.figure and names.same("value", a.value, b.value)
        return False

    return alike
