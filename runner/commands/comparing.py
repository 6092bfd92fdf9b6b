"""`compare`: two revisions of a list, or two aircraft, by what they mean.

Rules: two folders are two aircraft, two files two lists or two drills, each within its aircraft if
it stands in one; people read what names stand for, programs (JSON) the names; the result goes
to standard output. Exit 0 only if nothing differs.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import NamedTuple

from runner.flow import nodes, shape
from runner.flow.characters import MOST_BYTES
from runner.flow.comparing import report
from runner.flow.comparing.shapes import Comparison
from runner.flow.comparing.whole import compare_aircraft, compare_flows
from runner.flow.documents import Documents, Item, Procedure
from runner.flow.faults import Faults
from runner.flow.fields import name_from
from runner.flow.loader import AIRCRAFT, load_aircraft
from runner.flow.model import DrillDoc, ListDoc
from runner.host.places import PlaceFault

DIFFERENT = 1
USAGE = 2


class _Given(NamedTuple):
    """What a path names: an aircraft, or one list, within its aircraft if it has one."""

    documents: Documents | None
    flow: Procedure | None


def compare(old: Path, new: Path, form: str) -> int:
    """Print what differs; 0 if nothing does, else 1."""
    before, after = _given(old), _given(new)
    found = _compared(before, after, in_words=form != "json")
    if form == "json":
        print(report.as_json(found))
    elif form == "html":
        print(report.as_html(found), end="")
    else:
        print(report.as_text(found), end="")
    return DIFFERENT if found.differences else 0


def _compared(before: _Given, after: _Given, *, in_words: bool) -> Comparison:
    if before.flow is not None and after.flow is not None:
        if type(before.flow.doc) is not type(after.flow.doc):
            raise PlaceFault("a list and a drill: allowed are two lists, or two drills", USAGE)
        aircraft = before.documents, after.documents
        return compare_flows(before.flow, after.flow, aircraft, in_words=in_words)
    if before.flow is None and after.flow is None and before.documents and after.documents:
        return compare_aircraft(before.documents, after.documents, in_words=in_words)
    raise PlaceFault(
        "an aircraft and a single document: allowed are two folders, or two documents of lists "
        "or drills",
        USAGE,
    )


def _given(path: Path) -> _Given:
    if path.is_dir() or not path.exists():
        return _Given(load_aircraft(path).parts, None)
    if path.name == AIRCRAFT:
        return _Given(load_aircraft(path.parent).parts, None)
    home = path.resolve().parent
    if home.name in ("lists", "drills") and (home.parent / AIRCRAFT).is_file():
        parts = load_aircraft(home.parent).parts
        row = parts.lists if home.name == "lists" else parts.drills
        if path.stem in row:
            return _Given(parts, row[path.stem])
    return _Given(None, _alone(path))


def _alone(path: Path) -> Procedure:
    """A list or drill that belongs to no aircraft here; its shape is checked, its names are not."""
    print(f"{path}: read alone, since no {AIRCRAFT} stands with it", file=sys.stderr)
    with path.open("rb") as stream:
        data = stream.read(MOST_BYTES + 1)
    faults = Faults("syntax")
    node = nodes.read(str(path), data, faults)
    faults.check()
    if node is None:
        raise PlaceFault(f"{path}: no document", 3)
    faults = Faults("shape")
    doc: ListDoc | DrillDoc | None
    if "drill" in node.values:
        doc = shape.validate(DrillDoc, node, faults)
    else:
        doc = shape.validate(ListDoc, node, faults)
    faults.check()
    if doc is None:
        raise PlaceFault(f"{path}: no list and no drill", 3)
    flow = Procedure(str(path), doc, node, [])
    for position, step in enumerate(doc.steps):
        words = step.words or str(getattr(step, "reading", ""))
        name = step.id or name_from(words) or f"step_{position + 1}"
        flow.items.append(Item(flow, position, name, step))
    # Known by the name that it says, as within its aircraft, whatever this copy is called.
    return flow._replace(file=f"{doc.name}.yaml")
