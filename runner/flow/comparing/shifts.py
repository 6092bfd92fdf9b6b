"""What of one form (a step, a list, a reading) is not as it was, key by key.

Rules: every key that the form declares is looked at, so that a key added to a form later is
compared without a word here; a key that holds names is compared by what they stand for now. An
absent key is its default.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any, Final

from runner.flow.comparing.matching import Pair, best_texts, moved
from runner.flow.comparing.naming import Names, Realm
from runner.flow.comparing.shapes import Shift, Weight
from runner.flow.comparing.spoken import choice_text
from runner.flow.comparing.values import (
    converted,
    is_time,
    same,
    same_difference,
    text,
)
from runner.flow.forms import Key, Strict
from runner.flow.parts import BranchDoc, ChoiceDoc, LimitDoc, PutOffDoc
from runner.flow.steps import ChooseDoc

_REALMS: Final[dict[str, Realm]] = {
    "reading": "reading", "drill": "flow", "timer": "timer", "within": "timer", "ends": "timer",
    "mutes": "timer", "drop from": "value", "since": "moment", "voids": "value", "adds": "counter",
    "clears": "counter", "while": "reading", "before": "step", "step": "step", "value": "value",
}  # fmt: skip
_EXPRESSIONS: Final = frozenset({"when", "only when", "formula"})
_UNORDERED: Final = frozenset({"also", "key words", "notes", "valid until", "likely"})
_SPANS: Final = frozenset({"near", "less than"})
_DOCUMENT: Final = frozenset({"id", "as", "notes", "compute", "adds", "clears"})
_DEFAULTS: Final[dict[str, Any]] = {"unmet": "wait", "long standby": 120_000}


def shifts(
    old: Strict, new: Strict, names: Names, flow: tuple[str, str] = ("", ""),
    leave: Collection[str] = (),
) -> list[Shift]:  # fmt: skip
    """The keys of two forms that differ; `flow` are the lists they stand in, `leave` keys that the
    caller compares. Of two kinds of step, the keys of both are looked at."""
    before, after = type(old).keys, type(new).keys
    found: list[Shift] = []
    for key in dict.fromkeys((*after, *before)):
        if key in leave:
            continue
        spec = after.get(key) or before[key]
        a = getattr(old, before[key].name) if key in before else None
        b = getattr(new, after[key].name) if key in after else None
        if key == "as" and (a is None) is not (b is None):
            # Unnamed, a value goes by the name of its reading.
            a, b = a or getattr(old, "reading", None), b or getattr(new, "reading", None)
        if isinstance(old, ChooseDoc) and isinstance(new, ChooseDoc) and key == "choices":
            found += _choices(old, new, names, flow)
        elif not _same(key, a, b, names, flow):
            found.append(_shift(key, (a, b), spec, names, flow))
    return found


def _shift(
    key: str, both: tuple[Any, Any], spec: Key, names: Names, flow: tuple[str, str]
) -> Shift:
    """One key that differs, as it is told."""
    time = is_time(spec)
    old = names.text(0, key, both[0], time=time, here=flow[0])
    new = names.text(1, key, both[1], time=time, here=flow[1])
    if old == new:  # two things that are called alike: only their names tell them apart
        old, new = (text(one, time=time) for one in both)
    return Shift(key, old, new, _weight(key, *both), converted(*both))


def _weight(key: str, old: Any, new: Any) -> Weight:
    if key in _DOCUMENT:
        return "document"
    if old in (None, [], {}) or new in (None, [], {}) or isinstance(new, bool | str):
        return "crew"
    if isinstance(new, list) and not all(isinstance(one, int) for one in new):
        return "crew"
    return "crew" if isinstance(new, BranchDoc | PutOffDoc) else "number"


def _same(key: str, a: Any, b: Any, names: Names, flow: tuple[str, str]) -> bool:
    default = _DEFAULTS.get(key)
    a, b = (default if one is None else one for one in (a, b))
    if key in _EXPRESSIONS:
        return names.same_expression(a, b)
    if key in _SPANS and a is not None and b is not None:
        return same_difference(a, b)
    if isinstance(a, BranchDoc) and isinstance(b, BranchDoc):
        return names.same("flow", a.branch, b.branch)
    if isinstance(a, PutOffDoc) and isinstance(b, PutOffDoc):
        return names.same("step", f"{flow[0]}.{a.back_before}", f"{flow[1]}.{b.back_before}")
    if key == "back to" and a is not None and b is not None:
        return names.same("step", f"{flow[0]}.{a}", f"{flow[1]}.{b}")
    realm = _REALMS.get(key)
    if realm is not None:
        return _same_names(realm, a, b, names)
    if key in _UNORDERED:
        return set(a or ()) == set(b or ())
    if isinstance(a, Strict) and type(a) is type(b) and not isinstance(a, LimitDoc):
        return not shifts(a, b, names, flow)
    return same(a, b)


def _same_names(realm: Realm, a: Any, b: Any, names: Names) -> bool:
    if isinstance(a, list) and isinstance(b, list):
        return names.same_sets(realm, a, b)
    if isinstance(a, dict) and isinstance(b, dict):
        left = dict(b)
        for name, value in a.items():
            found = next((o for o in left if names.same(realm, name, o)), None)
            if found is None or not same(value, left.pop(found)):
                return False
        return not left
    return names.same(realm, a, b)


def choice_pairs(old: ChooseDoc, new: ChooseDoc) -> list[Pair]:
    """The answers of two choices that are one."""
    return best_texts([choice_text(c) for c in old.choices], [choice_text(c) for c in new.choices])


def _choices(old: ChooseDoc, new: ChooseDoc, names: Names, flow: tuple[str, str]) -> list[Shift]:
    before = [_long(one) for one in old.choices]
    after = [_long(one) for one in new.choices]
    pairs = choice_pairs(old, new)
    found = []
    for a, b in pairs:
        word = after[b].answer
        if before[a].answer != word:
            found.append(Shift("choice", before[a].answer, word))
        found += [
            one._replace(key=f"choice {word}, {one.key}")
            for one in shifts(before[a], after[b], names, flow, ("answer",))
        ]
    gone = set(range(len(before))) - {pair.old for pair in pairs}
    come = set(range(len(after))) - {pair.new for pair in pairs}
    found += [Shift("choice gone", before[n].answer, "none") for n in sorted(gone)]
    found += [Shift("choice added", "none", after[n].answer) for n in sorted(come)]
    row = [pair.new for pair in sorted(pairs)]
    if moved(row):
        order = [" / ".join(one.answer for one in side) for side in (before, after)]
        found.append(Shift("order of choices", order[0], order[1]))
    return found


def _long(choice: ChoiceDoc | str) -> ChoiceDoc:
    return ChoiceDoc.made({"answer": choice}) if isinstance(choice, str) else choice
