"""A comparison as text of 80 columns, as JSON, and as a page that can be printed.

Rules: two revisions are told difference by difference, two types by what their pilot has to learn;
the JSON holds both. Nothing depends on colour. The page needs nothing from anywhere, and whatever
stands in a document is escaped in it.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import Path
from typing import Any, Final

from runner.flow.comparing.learning import GROUPS, Lesson, lessons
from runner.flow.comparing.shapes import Comparison, Difference, Shift

COLUMNS: Final = 80
CAUTION: Final = (
    "A help for training and review, no approved data: the approved flight manual, local rules "
    "and the pilot in command decide."
)


def as_json(comparison: Comparison) -> str:
    """One object: `Comparison.as_dict`, and under `groups` the lessons by their group."""
    groups = {name: [one.as_dict() for one in row] for name, row in lessons(comparison).items()}
    return json.dumps(comparison.as_dict() | {"groups": groups}, ensure_ascii=False, indent=1)


def as_text(comparison: Comparison) -> str:
    """What differs, for a terminal of 80 columns or for print."""
    head = [*_wrapped(f"{comparison.old.text}  →  {comparison.new.text}", ""), ""]
    if not comparison.differences:
        return "\n".join([*head, "Equal in meaning: no difference.", ""])
    body = _types(comparison) if comparison.types else _revisions(comparison)
    return "\n".join([*head, *body, *_wrapped(CAUTION, ""), ""])


def heading(one: Difference) -> str:
    """What a difference stands under."""
    return one.flow_title if one.flow else "The aircraft"


def said(shift: Shift) -> str:
    """One shift on a line: `limit: below 165 °C → below 150 °C`."""
    note = f" ({shift.note})" if shift.note else ""
    return f"{shift.key}: {shift.old} → {shift.new}{note}"


def subject_of(one: Difference | Lesson) -> str:
    """What it is, in the word that people know, before its name; nothing before a step's."""
    word = {"step": "", "timer": "by-time"}.get(one.subject, one.subject)
    return f"{word} " if word else ""


def title_of(one: Difference) -> str:
    """The thing itself, with its answer where it is new or gone."""
    return f"{subject_of(one)}{one.name}" + (f": {one.answer}" if one.answer else "")


def number_of(one: Difference) -> str:
    """Its number on the card, the older one's where it is gone."""
    number = one.new_number or one.old_number
    return str(number) if number else ""


def details_of(one: Difference) -> list[str]:
    """The lines below a difference."""
    found = []
    if one.place:
        found.append(f"now {one.place}" if one.was else one.place)
    if one.was:
        found.append(f"was {one.was}")
    # A heading's shift only says again what it is.
    plain = one.subject == "section" and one.what != ("renamed",)
    return found + ([] if plain else [said(shift) for shift in one.shifts])


def _revisions(comparison: Comparison) -> Iterator[str]:
    for name, row in groupby(comparison.differences, heading):
        yield name.upper()
        for one in row:
            head = f"  {', '.join(one.what):<16} {number_of(one):>4}  "
            yield from _wrapped(title_of(one), head)
            for line in details_of(one):
                yield from _wrapped(line, " " * 25)
        yield ""


def _types(comparison: Comparison) -> Iterator[str]:
    found = lessons(comparison)
    for group in GROUPS:
        row = found[group]
        yield f"{group.upper()} ({len(row)})"
        if group == "same as before":
            yield from _same(row)
            yield ""
            continue
        for title, steps in groupby(row, lambda one: one.flow_title):
            yield f"  {title or 'The aircraft'}"
            for one in steps:
                yield from _lesson(one)
        yield ""


def _same(row: Sequence[Lesson]) -> Iterator[str]:
    """What stays is told list by list, so that what is new is not lost in it."""
    for title, steps in groupby(row, lambda one: one.flow_title):
        names = ", ".join(one.name + (f" ({one.how})" if one.how else "") for one in steps)
        yield from _wrapped(f"{title}: {names}", "  ", hang=4)


def _lesson(one: Lesson) -> Iterator[str]:
    number = str(one.number) if one.number else ""
    answer = f": {one.answer}" if one.answer else ""
    how = f" ({one.how})" if one.how else ""
    yield from _wrapped(f"{subject_of(one)}{one.name}{answer}{how}", f"  {number:>5}  ")
    for shift in one.shifts:
        yield from _wrapped(said(shift), " " * 11)


def _wrapped(words: str, head: str, hang: int | None = None) -> list[str]:
    after = " " * (len(head) if hang is None else hang)
    return textwrap.wrap(
        words, COLUMNS, initial_indent=head, subsequent_indent=after,
        break_on_hyphens=False, drop_whitespace=True,
    )  # fmt: skip


def as_html(comparison: Comparison) -> str:
    """A page of its own: printable, black on white, with nothing from outside."""
    import jinja2  # only this form needs it

    made = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    page = made.from_string((Path(__file__).parent / "page.html").read_text("utf-8"))
    context: dict[str, Any] = {
        "comparison": comparison,
        "parts": [(name, list(row)) for name, row in groupby(comparison.differences, heading)],
        "groups": [(name, _by_flow(row)) for name, row in lessons(comparison).items()],
        "caution": CAUTION,
        "subject_of": subject_of,
        "title_of": title_of,
        "number_of": number_of,
        "details_of": details_of,
        "said": said,
    }
    return page.render(context) + "\n"


def _by_flow(row: Sequence[Lesson]) -> list[tuple[str, list[Lesson]]]:
    return [
        (title or "The aircraft", list(steps))
        for title, steps in groupby(row, lambda one: one.flow_title)
    ]
