"""What a comparison gives: the shapes that people, programs and rehearsal read.

Rules: frozen, texts and numbers only, so that nothing of the documents has to be kept; every text
is as the author writes it ("below 165 °C"), an empty one means that there is nothing; the order is
the order of the newer documents, with what is gone where it stood. `as_dict` is the JSON: a key
that is there today stays there and keeps its meaning.
"""

from __future__ import annotations

from typing import Any, Final, Literal, NamedTuple

Subject = Literal[
    "aircraft", "reading", "equipment", "counter", "timer", "reason", "happening", "need",
    "copy entry", "list", "drill", "end", "section", "step",
]  # fmt: skip
What = Literal["added", "gone", "moved", "renamed", "changed"]
Weight = Literal["number", "crew", "document"]

FORM: Final = 1
"""The number of the form of the JSON; raised if a key goes or changes its meaning."""


class Shift(NamedTuple):
    """One thing that is not as it was: `key` as the document spells it, `old` and `new` values.

    `weight` says whom it concerns: a `number` (limit, time, range), the `crew` (what is said, who
    answers, when it is asked), or only the `document` (a name that nobody calls). `note` has the
    old number in the unit of the new one, where the units differ.
    """

    key: str
    old: str
    new: str
    weight: Weight = "crew"
    note: str = ""


class Difference(NamedTuple):
    """One thing that is added, gone, or not as it was.

    `subject` says what it is, `what` how it differs (a step may be moved and changed at once),
    `flow` and `flow_title` the list or drill it belongs to, empty for what the whole aircraft has;
    `name` is how it is called, `old_id` and `new_id` its names in the documents, `old_number` and
    `new_number` its numbers on the card (0: none). `place` says where it stands now, `was` where
    it stood, both only for what was added, moved or gone. `answer` is what answers an added or gone
    step.
    """

    subject: Subject
    what: tuple[What, ...]
    name: str
    flow: str = ""
    flow_title: str = ""
    old_id: str = ""
    new_id: str = ""
    old_number: int = 0
    new_number: int = 0
    answer: str = ""
    place: str = ""
    was: str = ""
    shifts: tuple[Shift, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """The JSON of one difference."""
        given = self._asdict()
        return given | {
            "what": list(self.what),
            "shifts": [shift._asdict() for shift in self.shifts],
        }


class Met(NamedTuple):
    """A step that stands in both: `name` and `answer` are the newer one's."""

    flow: str
    flow_title: str
    old_id: str
    new_id: str
    number: int
    name: str
    answer: str


class Side(NamedTuple):
    """One of the two: aircraft, its title and revision; `flow` if it is a single list or drill."""

    aircraft: str
    title: str
    revision: str
    flow: str = ""

    @property
    def text(self) -> str:
        """`Corvane C-4, revision 6`."""
        named = self.title or self.flow
        return f"{named}, revision {self.revision}" if self.revision else named


class Comparison(NamedTuple):
    """Two documents, or two aircraft, beside each other. `met` are all steps that stand in both."""

    old: Side
    new: Side
    differences: tuple[Difference, ...]
    met: tuple[Met, ...]

    @property
    def types(self) -> bool:
        """Whether they belong to two types, so that a pilot changing over reads it."""
        return self.old.aircraft != self.new.aircraft

    def as_dict(self) -> dict[str, Any]:
        """The JSON but for the groups, which `learning` adds."""
        return {
            "form": FORM,
            "old": self.old._asdict(),
            "new": self.new._asdict(),
            "equal": not self.differences,
            "differences": [one.as_dict() for one in self.differences],
        }
