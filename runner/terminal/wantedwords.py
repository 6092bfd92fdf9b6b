"""What has still to be added to words that are begun, said above the line while it is typed.

Rules: one text a word, no longer than a row of 40 columns leaves; nothing is said once what is
wanted stands there, and nothing of words that are whole by themselves.
"""

from __future__ import annotations

VALUE_OR_WORDS = "WHAT IS RIGHT: VALUE OR WORDS"
NAMES: tuple[tuple[str, str], ...] = (
    ("correction", "THE VALUE OR WORDS THAT ARE RIGHT"),
    ("correct", "STEP NUMBER OR NAME, THEN VALUE"),
    ("maintenance", "WHAT WAS DONE, IN YOUR WORDS"),
    ("reading", "ITS NAME AND ITS VALUE"),
    ("snag", "WHAT WAS NOTICED, OR NOTHING YET"),
    ("drill", "THE DRILL'S TITLE"),
    ("timer", "THE TIMER'S NAME"),
    ("tick", "THE ITEM'S NAME"),
    ("fault", "THE ITEM'S NAME"),
    ("turn to", "THE LIST'S TITLE"),
    ("happened", "WHAT HAPPENED"),
    ("accept", "THE REASON"),
    ("accept emergency", "THE REASON"),
    ("on paper", "31 TO 47 REVISION 6"),
)
"""Words that want more, and what they want."""


def wanted(line: str) -> str:
    """What is to be added to a line of words, or nothing."""
    said = " ".join(line.casefold().split())
    # who speaks stands before it: "copilot: correct"
    before, colon, after = said.rpartition(":")
    if colon and not after:
        return "THE NAME OF WHO TAKES OVER" if before.startswith("crew ") else ""
    said = after.strip()
    if said in dict(NAMES):
        return dict(NAMES)[said]
    if said.startswith("correct ") and line.endswith(" "):
        return VALUE_OR_WORDS
    return ""
