"""Which step of the older list is which of the newer one, and which list is which.

Rules: names decide first; what is left goes to whatever is most like it (what is called, what is
read, what answers, who its neighbours are), the best pair first, and nothing that is hardly like
it. The same documents always give the same pairs. What moved is the fewest that must have moved.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from difflib import SequenceMatcher
from typing import Final, NamedTuple

from runner.flow.comparing.spoken import answer_of, called
from runner.flow.documents import Item, Procedure
from runner.flow.steps import AnsweredDoc, ChooseDoc, ReadingDoc

LEAST: Final = 0.62
"""The likeness below which two steps are two steps."""


class Pair(NamedTuple):
    """Positions of one thing among the older and the newer ones."""

    old: int
    new: int


def match_steps(old: Sequence[Item], new: Sequence[Item], labels: Mapping[str, str]) -> list[Pair]:
    """The steps of two lists that are one, in the order of the newer; `labels` name readings."""
    places = {item.id: position for position, item in enumerate(new)}
    pairs = {n: Pair(n, places[item.id]) for n, item in enumerate(old) if item.id in places}
    free_old = [n for n in range(len(old)) if n not in pairs]
    taken = {pair.new for pair in pairs.values()}
    free_new = [n for n in range(len(new)) if n not in taken]

    def beside(a: int, b: int) -> float:
        before = (a == 0 and b == 0) or (a - 1 in pairs and pairs[a - 1].new == b - 1)
        last = a == len(old) - 1 and b == len(new) - 1
        after = last or (a + 1 in pairs and pairs[a + 1].new == b + 1)
        return 0.12 * before + 0.12 * after

    def likeness(a: int, b: int) -> float:
        return like(old[a], new[b], labels) + beside(a, b)

    for pair in _best(free_old, free_new, likeness, LEAST):
        pairs[pair.old] = pair
    return sorted(pairs.values(), key=lambda pair: pair.new)


def _best(
    old: Sequence[int], new: Sequence[int], likeness: Callable[[int, int], float], least: float
) -> list[Pair]:
    """The pairs that are most alike, the best first; nearer places first among equals."""
    found = [(likeness(a, b), a, b) for a in old for b in new]
    found = [one for one in found if one[0] >= least]
    found.sort(key=lambda one: (-one[0], abs(one[1] - one[2]), one[1], one[2]))
    pairs: list[Pair] = []
    for _, a, b in found:
        if all(a != pair.old and b != pair.new for pair in pairs):
            pairs.append(Pair(a, b))
    return pairs


def like(old: Item, new: Item, labels: Mapping[str, str]) -> float:
    """How alike two steps are, from 0 to 1; two kinds are never quite."""
    a, b = old.doc, new.doc
    words = _words_alike(called(old, labels), called(new, labels))
    if a.kind != b.kind:
        return 0.7 * words if words == 1 else 0.0
    if isinstance(a, ReadingDoc) and isinstance(b, ReadingDoc):
        same = a.reading == b.reading
        return 0.5 * same + 0.3 * words + 0.2 * (same and (a.as_ or "") == (b.as_ or ""))
    if isinstance(a, ChooseDoc) and isinstance(b, ChooseDoc):
        return 0.5 * words + 0.3 * _words_alike(answer_of(a), answer_of(b)) + 0.2 * (a.as_ == b.as_)
    answers = _words_alike(answer_of(a), answer_of(b)) if isinstance(a, AnsweredDoc) else words
    return 0.65 * words + 0.35 * answers


def _words_alike(a: str, b: str) -> float:
    a, b = a.casefold(), b.casefold()
    if a == b:
        return 1.0
    ratio = SequenceMatcher(None, a, b, autojunk=False).ratio()
    return ratio if ratio >= 0.5 else 0.0


def match_flows(
    old: Mapping[str, Procedure], new: Mapping[str, Procedure]
) -> list[tuple[str, str]]:
    """The lists (or the drills) that are one: by name, by title, then by what stands in them."""
    pairs = [(name, name) for name in old if name in new]
    left = [name for name in old if name not in new]
    right = [name for name in new if name not in old]
    found = _best(
        range(len(left)),
        range(len(right)),
        lambda a, b: _flows_alike(old[left[a]], new[right[b]]),
        0.6,
    )
    return pairs + [(left[pair.old], right[pair.new]) for pair in found]


def _flows_alike(old: Procedure, new: Procedure) -> float:
    if old.doc.title.casefold() == new.doc.title.casefold():
        return 1.0
    before, after = {item.id for item in old.items}, {item.id for item in new.items}
    return len(before & after) / max(1, len(before | after))


def best_texts(old: Sequence[str], new: Sequence[str]) -> list[Pair]:
    """The texts of two rows that are one: equal ones, then in each gap what stands in its place."""
    pairs = [Pair(old.index(one), n) for n, one in enumerate(new) if one in old]
    left = [n for n in range(len(old)) if n not in {pair.old for pair in pairs}]
    right = [n for n in range(len(new)) if n not in {pair.new for pair in pairs}]
    if len(left) == len(right):
        pairs += [Pair(a, b) for a, b in zip(left, right, strict=True)]
    else:
        pairs += _best(left, right, lambda a, b: _words_alike(old[a], new[b]), 0.5)
    return sorted(pairs, key=lambda pair: pair.new)


def match_names(old: Mapping[str, str], new: Mapping[str, str]) -> list[tuple[str, str]]:
    """Names that stand for one thing: the same name, then the same label."""
    pairs = [(name, name) for name in old if name in new]
    free = {name: label for name, label in new.items() if name not in old}
    for name, label in old.items():
        if name in new:
            continue
        found = next((one for one, other in free.items() if other == label), None)
        if found is not None:
            pairs.append((name, found))
            del free[found]
    return pairs


def moved(places: Sequence[int]) -> set[int]:
    """Which of a row of places stand out of order: the fewest whose going leaves the rest in it.

    `places` are the newer places in the older order, no two the same.
    """
    tails: list[int] = []
    ends: list[int] = []
    before: list[int] = [-1] * len(places)
    for position, place in enumerate(places):
        length = bisect_left(tails, place)
        before[position] = ends[length - 1] if length else -1
        tails[length : length + 1] = [place]
        ends[length : length + 1] = [position]
    kept: set[int] = set()
    at = ends[-1] if ends else -1
    while at >= 0:
        kept.add(at)
        at = before[at]
    return set(range(len(places))) - kept
