"""What was made of an utterance: taken, read back, asked again or nothing, and on what grounds.

Rules: a decision carries the question that stood when the speech began, and all that the log wants
of it; a line is there only where something is to be done; why something was not taken is a code
with one sentence, which says what to do.
"""

from __future__ import annotations

from enum import Enum
from typing import Final, NamedTuple

from runner.speech.heard import Sort

UNSURE: Final = "unsure: "
"""Before a line that the list is to read back (`words.spoken`)."""
LONGEST_EVIDENCE: Final = 200


class Verdict(Enum):
    """What is done about an utterance."""

    ACCEPT = "accept"
    READ_BACK = "read back"
    SAY_AGAIN = "say again"
    NOTHING = "nothing"


REASONS: Final = {
    "": "",
    "nothing heard": "NOTHING HEARD",
    "not of the list": "NOT AN ANSWER HERE",
    "not clear": "NOT CLEAR",
    "between two": "{0} OR {1}?",
    "two must agree": "NOT SURE ENOUGH. IN FULL, OR USE THE KEY",
    "heard differently": "HEARD IN TWO WAYS",
    "in full": "SAY IT IN FULL, OR USE THE KEY",
    "denied": "HEARD {0}, NOT TAKEN",
    "repaired": "CORRECTED WHILE SPEAKING. SAY IT ONCE, WHOLE",
    "correction alone": "SAY CORRECTION ALONE FIRST, THEN THE VALUE",
    "no number here": "NO NUMBER OF THIS INSTRUMENT",
    "no address": "",
    "opposite": "IT MAY HAVE BEEN THE OPPOSITE",
    "key came up": "THE KEY ENDED IT",
}
"""Why something was not taken, as it is said after SAY AGAIN. What was not said to the list is not
spoken about."""


class Decision(NamedTuple):
    """What is done about one utterance to question `ask`.

    `line` is what the list gets, with `unsure:` where it is to read it back; `score` is the
    distance to what would have been written freely (of a long answer by its length), `margin` that
    to the second answer, None where the recogniser has none; `alternatives` are the next answers
    with their distance to the best; `opinions` is what the other recognisers heard best; `noise` is
    the class of the noise.
    """

    verdict: Verdict
    ask: int
    line: str = ""
    why: str = ""
    words: tuple[str, ...] = ()
    best: str = ""
    sort: Sort = Sort.RESPONSE
    recogniser: str = ""
    score: float | None = None
    margin: float | None = None
    noise: str = ""
    alternatives: tuple[tuple[str, float], ...] = ()
    opinions: tuple[tuple[str, str], ...] = ()
    free: str = ""

    @property
    def sure(self) -> bool:
        """Whether it is taken without being read back on account of the hearing."""
        return self.verdict is Verdict.ACCEPT


def sentence(decision: Decision) -> str:
    """What is said where something was not taken; empty where nothing is said."""
    if decision.verdict is not Verdict.SAY_AGAIN:
        return ""
    words = [word.upper() for word in decision.words]
    why = REASONS[decision.why].format(*words)
    return f"SAY AGAIN: {why}" if why else "SAY AGAIN"


def evidence(decision: Decision) -> str:
    """What the log keeps beside the event, at most 200 characters: what was heard best, by which
    recogniser, with score, margin and noise, what the others heard, and what came next.

    `brake released; closed-set score -0.42 margin 3.10 clean; sphinx: brake released; next: brake
    parked -3.10`. Written for people; nothing reads it back, and the first words are cut last.
    """
    if not decision.recogniser:
        return decision.why
    parts = [decision.best.strip() or "no answer"]
    if decision.verdict is not Verdict.ACCEPT:
        parts[0] += f" ({decision.verdict.value}{f', {decision.why}' if decision.why else ''})"
    figures = (("score", decision.score), ("margin", decision.margin))
    numbers = [f"{name} {value:.2f}" for name, value in figures if value is not None]
    parts.append(" ".join(filter(None, (decision.recogniser, *numbers, decision.noise))))
    parts += [f"{name}: {line.strip() or 'no answer'}" for name, line in decision.opinions]
    if decision.alternatives:
        next_ones = ", ".join(f"{line.strip()} {away:.2f}" for line, away in decision.alternatives)
        parts.append(f"next: {next_ones}")
    if decision.free:
        parts.append(f"wrote: {' '.join(decision.free.split())}")
    return "; ".join(parts)[:LONGEST_EVIDENCE].rstrip()
