"""Two lines of one section that read the same on the card.

A crew that comes back from an interruption finds its place by the words. Two lines with the same
challenge and the same answer in one section are one line to it: it goes on from the wrong one.
Lines that are never required together are no such pair.

Wrong:

    - {challenge: Mixture, answer: RICH}
    - {challenge: Throttle, answer: OPEN}
    - {challenge: Mixture, answer: RICH, id: mixture_again}

Right:

    - {challenge: Mixture, answer: RICH}
    - {challenge: Throttle, answer: OPEN}
    - {challenge: "Mixture, again", answer: RICH}
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runner.engine.table import Kind
from runner.flow.answers import normal
from runner.flow.checks.cases import can_hold
from runner.flow.checks.findings import WARNING, Found, Level
from runner.flow.checks.subject import Pair, Subject

LEVEL: Final[Level] = WARNING
REASON: Final = (
    "after an interruption the place is found by the words, and goes on from the wrong one"
)

_LOOKED_AT: Final = (Kind.CHALLENGE, Kind.READING, Kind.BY_TIME, Kind.CHOICE)


def check(subject: Subject) -> Iterator[Found]:
    """The later one of each such pair."""
    for procedure in subject.procedures:
        for section in subject.sections(procedure):
            yield from _alike(subject, section)


def _alike(subject: Subject, section: list[Pair]) -> Iterator[Found]:
    seen: dict[tuple[str, str], Pair] = {}
    for pair in section:
        if pair.step.kind not in _LOOKED_AT:
            continue
        line = (normal(pair.words), _answer(pair))
        before = seen.setdefault(line, pair)
        if before is not pair and can_hold(subject, [before.step.when, pair.step.when]):
            yield Found(
                pair.item.at(),
                f"this line reads as the one on line {before.item.at().line}: "
                f"{pair.words}, {line[1]}",
                "call one of them by other words, or begin a section between them",
            )


def _answer(pair: Pair) -> str:
    step = pair.step
    if step.choices:
        return ", ".join(choice.text for choice in step.choices)
    return step.limit.text() if step.limit is not None else normal(step.response) or step.reading
