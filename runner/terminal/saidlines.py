"""What a run says, as lines of the plain mode: which of it is said, and behind which label.

Rules: what the next view says anyway, with its time or its place, is not said before it; what only
repeats the words just typed is not said, but a number is said with its unit; a text that begins
with its own label gets no other.
"""

from __future__ import annotations

import re

from runner.engine.effects import Prompt, Say, View, Voice
from runner.terminal.gauge import with_unit

LABELS = {
    Voice.ECHO: "HEARD",
    Voice.READ_BACK: "READ BACK",
    Voice.OUTCOME: "RESULT",
    Voice.REFUSED: "REFUSED",
    Voice.TIMER: "TIME",
    Voice.CAUTION: "CAUTION",
    Voice.REMARK: "NOTE",
    Voice.DRILL: "DRILL",
    Voice.STATUS: "STATE",
}
OF_VOICE = ("SAY AGAIN", "NOT TAKEN", "SAID TOO LATE")
"""Beginnings of what the voice says of an answer that was not taken: nobody refused anything."""
CORRECTED = "CORRECTED"
"""The label of a read-back that asks nothing: it tells what was and what is now."""
_NUMBER = re.compile(r"-?[0-9]+(?:[.,][0-9]+)?")
_ROLE = re.compile(r"^(?:commander|copilot|ground|handling|monitoring)\s*[:,]\s*", re.IGNORECASE)
_COMMANDED = re.compile(r"^(?:tick|mark) ")
_DIGITS = frozenset(
    ("ZERO", "ONE", "TWO", "THREE", "FOUR", "FIVE", "SIX", "SEVEN", "EIGHT", "NINE", "NINER",
     "DECIMAL", "MINUS")
)  # fmt: skip
_ASKED = ". AFFIRM?"
ENTERED, CHOSEN = "LIST: ", "CHOSEN: "
_TOLD_BY_VIEW = {
    Voice.STATUS: (ENTERED, "NOTED, SNAG: ", "NOTED, DEFECT: ", "FLIGHT "),
    Voice.OUTCOME: ("PUT OFF: ", "MARK "),
    Voice.TIMER: ("CLOCK RUNS: ", "WAIT RUNS: "),
}
"""Beginnings of what the view says with more: the number of steps, the time, where it comes back.
What the view does not show at once (a timer that ended within the event) it said before."""


def said_line(said: Say, after: View, typed: str, unit: str = "") -> str:
    """The line of one text, `after` being the view that comes with it; "" where none is due.

    `unit` is that of the reading which was asked when `typed` came.
    """
    text, kind = said
    if kind is Voice.CALL or any(text.startswith(s) for s in _TOLD_BY_VIEW.get(kind, ())):
        return ""
    ticked = after.prompt is Prompt.STATION and _ROLE.sub("", typed).lower().startswith("tick ")
    if kind is Voice.ECHO and (ticked or repeats(text.removeprefix(CHOSEN), typed)):
        number = _plain(_ROLE.sub("", typed, count=1))
        # A number is taken in the unit that was asked for, which nobody has typed.
        return f"HEARD: {number} {unit}".rstrip() if _NUMBER.fullmatch(number) else ""
    if kind is Voice.OUTCOME and after.prompt is Prompt.CHOOSING and text.startswith("CHOOSE: "):
        return ""
    if kind is Voice.CAUTION and after.prompt is Prompt.CAUTION:
        return ""
    if kind is Voice.DRILL and after.is_drill and text == f"DRILL: {after.title.upper()}":
        return ""
    if kind is Voice.OUTCOME and any(text.endswith(f": {flag}") for flag in after.flags):
        return ""
    if kind is Voice.READ_BACK and text.endswith(_ASKED):
        text = text.removesuffix(_ASKED)
        if after.gauge is not None and after.gauge.value:
            text = f"{text}, {with_unit(after.gauge)}"
        return f"{LABELS[kind]}: {text}"
    return labelled(kind, text)


def labelled(kind: Voice, text: str) -> str:
    """A text behind its label, unless it begins with one in capitals; the screen's labels too."""
    head, colon, _ = text.partition(": ")
    own = bool(colon) and head.isupper() and kind not in (Voice.REFUSED, Voice.READ_BACK)
    own = own or head in OF_VOICE
    # A read-back that is asked comes from the question, not through here.
    label = CORRECTED if kind is Voice.READ_BACK else LABELS.get(kind, "STATE")
    return text if own else f"{label}: {text}"


def repeats(echo: str, typed: str) -> bool:
    """Whether an echo says no more than what was typed: the same words, or its number's digits."""
    words = _plain(_ROLE.sub("", typed, count=1))
    if _NUMBER.fullmatch(words):
        return set(echo.split()) <= _DIGITS
    return bool(words) and _plain(echo) in (words, _COMMANDED.sub("", words, count=1))


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())
