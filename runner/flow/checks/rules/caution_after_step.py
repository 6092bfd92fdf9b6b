"""A caution that stands after the step that it is about.

A caution read once the thing is done warns of nothing. It stands before its step, with nothing
between them. Found are a caution with no step behind it in its list, and one whose words speak of
the step just before it and of none that follows in its section.

Wrong:

    - {challenge: Rotor brake, answer: RELEASED}
    - caution: "Rotor brake: blades start to turn by themselves"
    - {challenge: Beacon, answer: FLASHING}

Right:

    - caution: "Rotor brake: blades start to turn by themselves"
    - {challenge: Rotor brake, answer: RELEASED}
    - {challenge: Beacon, answer: FLASHING}
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from runner.engine.table import EndKind, Kind
from runner.flow.checks.findings import WARNING, Found, Level
from runner.flow.checks.subject import Pair, Subject
from runner.flow.documents import Procedure

LEVEL: Final[Level] = WARNING
REASON: Final = "a caution read when the thing is done warns of nothing"

_EMPTY_WORDS: Final = (
    "a all an and any are as at be before by first for from if in into is it last left may more "
    "must never no not now of off on one only or out over right so than that the then there to too "
    "two under until up when while with within without"
)
_EMPTY: Final = frozenset(_EMPTY_WORDS.split())
_SHORTEST: Final = 3


_NO_STEPS: Final = (Kind.CAUTION, Kind.CLOSING, Kind.COMPUTED)


def check(subject: Subject) -> Iterator[Found]:
    """Every caution that comes too late."""
    for procedure in subject.procedures:
        sections = subject.sections(procedure)
        places = [(n, pair) for n, section in enumerate(sections) for pair in section]
        for position, (section, pair) in enumerate(places):
            if pair.step.kind is not Kind.CAUTION:
                continue
            behind = places[position + 1 :]
            if all(one.step.kind in _NO_STEPS for _, one in behind):
                if not _leads_on(subject, procedure):
                    yield Found(
                        pair.item.at("caution"),
                        "no step follows this caution in its list",
                        "move it before the step that it is about",
                    )
                continue
            before = places[position - 1][1] if position else None
            # a caution may stand at the end of a section for the next one
            near = [one for number, one in behind if number <= section + 1]
            if before is not None:
                yield from _late(before, pair, near)


def _leads_on(subject: Subject, procedure: Procedure) -> bool:
    """Whether what follows is another list: a drill may end with a caution for it."""
    ends = subject.flow(procedure).ends
    return any(end.kind in (EndKind.DISCONTINUE, EndKind.RESTART) for end in ends)


def _late(before: Pair, caution: Pair, behind: list[Pair]) -> Iterator[Found]:
    """A caution that speaks of the step before it, and of none behind."""
    own = _words(caution.words)
    shared = own & _of(before)
    if before.step.kind in _NO_STEPS or not shared or _asked_by(before, caution):
        return
    if not any(own & _of(one) for one in behind):
        line = before.item.at().line
        yield Found(
            caution.item.at("caution"),
            f"this caution speaks of the step before it, on line {line} "
            f"({', '.join(sorted(shared))}), and of none behind it",
            f"move it before line {line}",
        )


def _asked_by(before: Pair, caution: Pair) -> bool:
    """Whether the step before is what calls for the caution: its answer decides the condition."""
    step, when = before.step, caution.step.own_when
    if when is None:
        return False
    counters = {name for name, _ in step.adds}
    counters.update(name for choice in step.choices for name, _ in choice.adds)
    return bool(when.names & ({step.gives} | counters))


def _of(pair: Pair) -> frozenset[str]:
    """The words of a step: of its challenge and of its answers."""
    texts = [pair.words, pair.step.response, *(choice.text for choice in pair.step.choices)]
    return _words(" ".join(texts))


def _words(text: str) -> frozenset[str]:
    """The words that say something, without the s of a plural."""
    found = (word.removesuffix("s") for word in re.findall(r"[^\W\d_]+", text.casefold()))
    return frozenset(word for word in found if len(word) >= _SHORTEST and word not in _EMPTY)
