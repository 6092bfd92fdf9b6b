"""What a run has left so far, as texts: open, put off, accepted, defective, noticed.

Rules: one wording for the screen's pages and for plain mode; what is put off is not said to be open
as well; nothing is judged.
"""

from __future__ import annotations

from itertools import groupby

from runner.engine.effects import KeptLine, Line, View
from runner.terminal.clock import Clock

EARLIER = "from an earlier run"
GROUNDED = "AIRCRAFT NOT TO BE FLOWN"


def step_text(line: Line) -> str:
    """A step by its number on the card and its challenge."""
    return f"{line.number} {line.challenge}" if line.number else line.challenge


def grounding(view: View) -> tuple[str, ...]:
    """The defects with which the aircraft is not to be flown."""
    return tuple(dict.fromkeys(one.text for one in view.kept if one.grounding))


def kept_of(view: View, kind: str) -> list[KeptLine]:
    """What is kept of a kind: snag, defect, flag."""
    return [one for one in view.kept if one.kind == kind]


def kept_where(one: KeptLine, clock: Clock) -> str:
    """When and in which list something was kept, and the readings that stood there then."""
    when = clock.utc(one.at) if one.at >= 0 else EARLIER
    return ", ".join(filter(None, (when, one.title, *one.readings)))


def left_over(view: View) -> list[str]:
    """What a run has left so far, each with its kind."""
    grounded = grounding(view)
    return [
        *(f"{GROUNDED}: {text}" for text in grounded),
        *(f"DEFECT: {text}" for text in view.defects if text not in grounded),
        *(f"FLAG: {text}" for text in view.flags),
        *open_counts(view),
        *(f"PUT OFF: {text}" for text in put_off_texts(view)),
        *(f"COMMANDER ACCEPTS: {text}" for text in accepted_texts(view)),
        *(f"SNAG: {text}" for text in view.snags),
    ]


def put_off_texts(view: View) -> list[str]:
    """What is put off, and where it comes back."""
    return [step_text(line) + (f", back {line.why}" if line.why else "") for line in view.put_off]


def open_now(view: View) -> list[Line]:
    """What is open and not put off."""
    later = {line.key or line.number for line in view.put_off}
    return [line for line in view.open_lines if (line.key or line.number) not in later]


def open_counts(view: View) -> list[str]:
    """How much is open in each list, and what is not met by its name."""
    lines = open_now(view)
    out = [f"NOT MET: {step_text(one)}" for one in lines if one.status == "unmet"]
    for title, those in groupby(lines, key=lambda line: list_of(view, line)):
        # the count beside the list's name, "0 OF 10", has the closing call in it
        closing = " AND ITS CLOSING CALL" if title == view.title and not view.is_drill else ""
        out.append(f"{title.upper()}, {len(list(those))} OPEN{closing}")
    return out


def list_of(view: View, line: Line) -> str:
    """The title of the list that a line belongs to, by the key before its point."""
    flow = line.key.partition(".")[0]
    return next((one.title for one in view.lists if one.key == flow), view.title or "list")


def accepted_texts(view: View) -> list[str]:
    """What the commander accepted, with the reason."""
    return [
        step_text(line)
        + (f", {line.answer}" if line.answer else "")
        + (f": {line.why}" if line.why else "")
        for line in view.accepted
    ]
