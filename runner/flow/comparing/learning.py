"""What a pilot who changes types has to learn: the steps of the new type by how new they are.

Rules: every step of the newer documents stands in exactly one group; what is not done any more is a
group of its own, since an old habit is a danger too. What only authors see (names in documents) is
no difference here. Rehearsal reads the same shape.
"""

from __future__ import annotations

from typing import Any, Final, Literal, NamedTuple

from runner.flow.comparing.shapes import Comparison, Difference, Met, Shift

Group = Literal["new to you", "changed numbers", "same as before", "no longer done"]
GROUPS: Final[tuple[Group, ...]] = (
    "new to you", "changed numbers", "same as before", "no longer done",
)  # fmt: skip


class Lesson(NamedTuple):
    """One step, list, drill, reading or by-time to learn, and in what it differs.

    `id` is `list.step`, or the name of what is no step; `number` its number on the newer card (of
    what is gone, on the older). `how` is empty, or says what is new of it in a few words.
    """

    group: Group
    subject: str
    flow: str
    flow_title: str
    id: str
    number: int
    name: str
    answer: str
    how: str = ""
    shifts: tuple[Shift, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """The JSON of one lesson."""
        return self._asdict() | {"shifts": [one._asdict() for one in self.shifts]}


_LEARNT: Final = frozenset({"step", "list", "drill", "reading", "timer", "end"})


def lessons(comparison: Comparison) -> dict[Group, list[Lesson]]:
    """The four groups, each in the order of the newer documents."""
    found: dict[Group, list[Lesson]] = {group: [] for group in GROUPS}
    told: dict[str, Difference] = {}
    for one in comparison.differences:
        if one.subject == "step" and one.old_id and one.new_id:
            told[f"{one.flow}.{one.new_id}"] = one
        elif one.subject in _LEARNT:
            lesson = _of(one)
            if lesson is not None:
                found[lesson.group].append(lesson)
    for step in comparison.met:
        lesson = _step(step, told.get(f"{step.flow}.{step.new_id}"))
        found[lesson.group].append(lesson)
    flows = [one.flow for one in comparison.differences] + [one.flow for one in comparison.met]
    order = {name: n for n, name in enumerate(dict.fromkeys(flows))}
    for row in found.values():
        row.sort(key=lambda one: (order.get(one.flow, -1), one.number))
    return found


def _step(step: Met, one: Difference | None) -> Lesson:
    seen = tuple(shift for shift in one.shifts if shift.weight != "document") if one else ()
    group: Group = "same as before"
    how = ""
    if any(shift.weight == "crew" for shift in seen):
        group, how = "new to you", "done otherwise"
    elif seen:
        group = "changed numbers"
    if one is not None and "moved" in one.what:
        how = ", ".join(filter(None, (how, f"now {one.place}")))
    return Lesson(
        group, "step", step.flow, step.flow_title, f"{step.flow}.{step.new_id}", step.number,
        step.name, step.answer, how, seen,
    )  # fmt: skip


def _of(one: Difference) -> Lesson | None:
    """The lesson of a step that stands in one of the two, or of what is no step."""
    name = one.new_id or one.old_id
    whole = f"{one.flow}.{name}" if one.subject == "step" else name
    seen = tuple(shift for shift in one.shifts if shift.weight != "document")
    group: Group
    how = ""
    if "gone" in one.what:
        group = "no longer done"
    elif "added" in one.what:
        group, how = "new to you", one.place
    elif any(shift.weight == "crew" for shift in seen) or "moved" in one.what:
        group, how = "new to you", f"now {one.place}" if one.place else "otherwise"
    elif seen:
        group = "changed numbers"
    else:
        return None
    return Lesson(
        group, one.subject, one.flow, one.flow_title, whole, one.new_number or one.old_number,
        one.name, one.answer, how, seen,
    )  # fmt: skip
