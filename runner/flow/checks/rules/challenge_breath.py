"""A challenge that is too long for one breath.

A challenge is called whole and heard whole: what needs a second breath is cut in two, and the
answer comes to its first half. At 100 words a minute, the most that the standard allows on a
radio (ICAO Annex 10 volume II, 5.2.1.5.3, from memory), and about 5 seconds between two breaths
in reading aloud (from memory), that is 8 words; a caution may take two breaths, 16 words. Digits
count one by one.

Wrong:

    challenge: Left magneto drop at base speed with the servo system on number two

Right:

    challenge: "Left magneto, drop"
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from runner.engine.table import Kind
from runner.flow.checks.findings import WARNING, Found, Level
from runner.flow.checks.subject import Subject

LEVEL: Final[Level] = WARNING
REASON: Final = "what needs a second breath is cut in two, and answered after its first half"

WORDS_A_MINUTE: Final = 100
SECONDS_A_BREATH: Final = 5
MOST_WORDS: Final = WORDS_A_MINUTE * SECONDS_A_BREATH // 60
_BREATHS: Final = {Kind.CAUTION: 2, Kind.REMARK: 0}
_WORD: Final = re.compile(r"\d|[^\W\d_]+(?:['’-][^\W\d_]+)*")


def check(subject: Subject) -> Iterator[Found]:
    """Challenges of too many words; a remark is never called."""
    for pair in subject.all_pairs():
        breaths = _BREATHS.get(pair.step.kind, 1)
        count = len(_WORD.findall(pair.words))
        if breaths and count > MOST_WORDS * breaths:
            yield Found(
                pair.item.at(
                    pair.item.doc.kind if pair.item.doc.kind != "reading" else "challenge"
                ),
                f"{count} words to call, at most {MOST_WORDS * breaths} go into "
                f"{'one breath' if breaths == 1 else f'{breaths} breaths'}",
                "shorten it, or make two steps of it",
            )
