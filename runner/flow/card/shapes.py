"""What stands on a card, before anybody knows on what paper.

Rules: plain values, no markup and no measure; every text that a form shows stands here, so that
all forms say the same. A chunk is what no page may part, a box of memory items what none should.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

from runner.engine.table import Kind

LETTERS: Final = {
    "handling": "H", "monitoring": "M", "commander": "C", "copilot": "P", "ground": "G",
    "both": "B",
}  # fmt: skip
"""Who answers, as one letter beside the step; the legend has the words."""
ACCEPTED: Final = {"commander": "c", "emergency only": "e", "maintenance only": "m"}
"""Who may let a step go by that is not so; nothing where nobody may."""
CAUTION: Final = (
    "Supports trained people; it is not approved data, not an instrument, and no substitute for "
    "the approved flight manual, local rules or licensed practice. The pilot in command decides."
)
GOING_BY: Final = "A step that is not so, and a limit that is not met, hold the list. "
GOING_ON: Final = "Nobody goes on past it but by the small letter beside it: "
FIELD: Final = "Registration"


class Reply(NamedTuple):
    """One thing at the right of a step: a text, a box to tick before it, or a line to write on
    before it (then the text is the unit of what is written); `aside` is what it leads to."""

    text: str
    box: bool = False
    blank: bool = False
    aside: str = ""


class Line(NamedTuple):
    """One step. `when` is its condition in words; `notes` is what else one has to know of it."""

    number: int
    kind: Kind
    words: str
    who: str = ""
    accept: str = ""
    replies: tuple[Reply, ...] = ()
    when: str = ""
    notes: tuple[str, ...] = ()
    memory: bool = False


class Chunk(NamedTuple):
    """Steps that stay on one page: cautions and remarks with the step that they are for."""

    lines: tuple[Line, ...]


class Box(NamedTuple):
    """Chunks that follow each other, of memory items or of none."""

    memory: bool
    chunks: tuple[Chunk, ...]


class Section(NamedTuple):
    """What stands under one heading, which may be empty."""

    heading: str
    boxes: tuple[Box, ...]


class End(NamedTuple):
    """One way in which a drill ends: its name, the condition in words, what follows."""

    label: str
    when: str
    leads: tuple[str, ...]


class Part(NamedTuple):
    """One list or drill. `code` is the beginning of its document's SHA-256."""

    id: str
    title: str
    drill: bool
    code: str
    head: tuple[str, ...]
    sections: tuple[Section, ...]
    ends: tuple[End, ...] = ()

    @property
    def lines(self) -> Iterator[Line]:
        """Its steps in order."""
        for section in self.sections:
            for box in section.boxes:
                for chunk in box.chunks:
                    yield from chunk.lines

    @property
    def span(self) -> str:
        """The numbers of its steps, "31 to 47"."""
        numbers = [line.number for line in self.lines]
        return f"{numbers[0]} to {numbers[-1]}" if len(numbers) > 1 else str(numbers[0])


class Card(NamedTuple):
    """The card. `code` is over all documents of the aircraft; `whole` if it has all of them.

    `ways` is where discontinuing leads, by what is turning: only a whole card has it.
    """

    title: str
    operator: str
    revision: str
    code: str
    whole: bool
    parts: tuple[Part, ...]
    ways: tuple[tuple[str, str], ...] = ()

    @property
    def running(self) -> tuple[str, str, str]:
        """What stands on every page: the aircraft with its revision, the field, the code."""
        return f"{self.title}, revision {self.revision}", FIELD, f"Documents {self.code}"
