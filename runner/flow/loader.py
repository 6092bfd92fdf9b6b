"""The documents of an aircraft, from a folder or from stored bytes, into the engine's table.

Rules: each document is read once, hashed, then parsed, so that what was hashed is what was used;
nothing outside the folder is read, whatever a link or a name says; the answers of scripted crews
are no documents. Syntax comes before shape and shape before meaning: the faults of a stage are told
for all documents together. Size and number of documents are bounded before anything is parsed.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Final, NamedTuple

from runner.engine.table import Table
from runner.flow import nodes, shape, tree
from runner.flow.characters import MOST_BYTES
from runner.flow.compile import compile_table
from runner.flow.documents import Documents, Item, Procedure
from runner.flow.faults import Faults, Place, nearest_word, quoted
from runner.flow.fields import name_from
from runner.flow.meaning import check_documents, check_table
from runner.flow.model import AircraftDoc, DrillDoc, ListDoc
from runner.flow.names import Scope
from runner.flow.steps import ReadingDoc

MOST_DOCUMENTS: Final = 300
MOST_BYTES_TOGETHER: Final = 4 * 1024 * 1024
MOST_VALUES_TOGETHER: Final = 60_000
MOST_STEPS_TOGETHER: Final = 4_000

AIRCRAFT: Final = "aircraft.yaml"
_FOLDERS: Final = ("lists", "drills")
_DOCUMENT: Final = re.compile(r"(lists|drills)/([a-z][a-z0-9_]*)\.yaml")
_YAML: Final = (".yaml", ".yml")


class Document(NamedTuple):
    """One document as it was read: `name` relative to its folder with `/`, `sha256` in hex."""

    name: str
    data: bytes
    sha256: str


class Loaded(NamedTuple):
    """The compiled lists and, in the order of their names, the documents they were made from.

    `parts` are the models and trees that were compiled, for those who judge or compare what the
    author wrote; `scope` are the names that conditions may use.
    """

    table: Table
    documents: tuple[Document, ...]
    parts: Documents
    scope: Scope


def load_aircraft(folder: Path) -> Loaded:
    """The lists of the aircraft whose documents stand in `folder`.

    Raises `FlowErrors` with every fault of the first stage that has any; a folder or file that
    cannot be read is a fault of its own, not an `OSError`.
    """
    return load_documents(documents_in(folder))


def documents_in(folder: Path) -> dict[str, bytes]:
    """The bytes of every document of a folder, by name; raises as `load_aircraft` does."""
    faults = Faults("syntax")
    found = _collect(folder, faults)
    faults.check()
    return found


def load_documents(documents: Mapping[str, bytes]) -> Loaded:
    """The lists made from stored documents, by name (`aircraft.yaml`, `lists/start.yaml`).

    Raises `FlowErrors` as `load_aircraft` does. The same bytes give the same table.
    """
    faults = Faults("syntax")
    _bounds(documents, faults)
    faults.check()
    kept = tuple(
        Document(name, bytes(data), hashlib.sha256(data).hexdigest())
        for name, data in sorted(documents.items())
    )
    trees: dict[str, tree.Mapping] = {}
    values = 0
    for one in kept:
        node = nodes.read(one.name, one.data, faults)
        if node is not None:
            trees[one.name] = node
            values += tree.size(node)
        if values > MOST_VALUES_TOGETHER:
            faults.add(
                Place(one.name, 1, 1),
                "too many values in all documents together",
                allowed=f"at most {MOST_VALUES_TOGETHER}",
                rule="file",
            )
            break
    faults.check()
    table, parts, scope = _compiled(trees)
    return Loaded(table, kept, parts, scope)


def _compiled(trees: dict[str, tree.Mapping]) -> tuple[Table, Documents, Scope]:
    faults = Faults("shape")
    aircraft: AircraftDoc | None = None
    flows: dict[str, Procedure] = {}
    for name, node in trees.items():
        if name == AIRCRAFT:
            aircraft = shape.validate(AircraftDoc, node, faults)
            continue
        doc: ListDoc | DrillDoc | None
        if name.startswith("lists/"):
            doc = shape.validate(ListDoc, node, faults)
        else:
            doc = shape.validate(DrillDoc, node, faults)
        if doc is not None:
            flows[name] = Procedure(name, doc, node, [])
    faults.check()
    if aircraft is None:
        raise KeyError(AIRCRAFT)
    faults = Faults("meaning")
    steps = sum(len(flow.doc.steps) for flow in flows.values())
    if steps > MOST_STEPS_TOGETHER:
        faults.add(
            Place(AIRCRAFT, 1, 1),
            "too many steps",
            found=str(steps),
            allowed=f"at most {MOST_STEPS_TOGETHER} in all lists and drills",
            rule="file",
        )
        faults.check()
    documents = Documents(
        aircraft,
        trees[AIRCRAFT],
        {flow.id: flow for name, flow in flows.items() if name.startswith("lists/")},
        {flow.id: flow for name, flow in flows.items() if name.startswith("drills/")},
    )
    for flow in flows.values():
        _identify(documents, flow, faults)
    scope = Scope(documents, faults)
    check_documents(documents, scope, faults)
    table = compile_table(documents, scope, faults)
    if not documents.lists.keys() & documents.drills.keys():
        check_table(documents, scope, table, faults)
    faults.check()
    return table, documents, scope


def _identify(documents: Documents, flow: Procedure, faults: Faults) -> None:
    """Check the name of a list or drill against its file, and give every step its identifier."""
    kind = "list" if isinstance(flow.doc, ListDoc) else "drill"
    if flow.doc.name != flow.id:
        faults.add(
            flow.at(kind),
            f"the {kind} is not named as its file",
            found=quoted(flow.doc.name),
            allowed=flow.id,
            todo=f"write {kind}: {flow.id}, or rename the file",
            rule="file-name",
        )
    if kind == "drill" and flow.id in documents.lists:
        faults.add(
            flow.at(kind), f"the name {quoted(flow.id)} is a list's already", rule="duplicate-name"
        )
    taken: dict[str, int] = {}
    for position, doc in enumerate(flow.doc.steps):
        words = doc.words
        if not words and isinstance(doc, ReadingDoc):
            reading = documents.aircraft.readings.get(doc.reading)
            words = reading.label if reading else doc.reading
        name = doc.id or name_from(words) or f"step_{position + 1}"
        item = Item(flow, position, name, doc)
        if name in taken:
            faults.add(
                item.at("id"),
                f"two steps named {quoted(name)}",
                found=f"the first on line {flow.at('steps', taken[name]).line}",
                todo=f"give this one a name of its own, as id: {name[:40]}_2",
                rule="duplicate-name",
            )
        taken.setdefault(name, position)
        flow.items.append(item)


def _bounds(documents: Mapping[str, bytes], faults: Faults) -> None:
    """Refuse what is too much or has no place among the documents, before anything is parsed."""
    here = Place(AIRCRAFT, 1, 1)
    if AIRCRAFT not in documents:
        faults.add(
            here, f"{AIRCRAFT} is missing", todo="write it first: the lists need it", rule="file"
        )
    if len(documents) > MOST_DOCUMENTS:
        faults.add(
            here,
            "too many documents",
            found=str(len(documents)),
            allowed=f"at most {MOST_DOCUMENTS}",
            rule="file",
        )
        return
    total = sum(len(data) for data in documents.values())
    if total > MOST_BYTES_TOGETHER:
        longest = max(documents, key=lambda name: len(documents[name]))
        faults.add(
            Place(longest, 1, 1),
            "the documents are too long together",
            found=f"{total} bytes, {len(documents[longest])} of them in this one",
            allowed=f"at most {MOST_BYTES_TOGETHER} bytes together, {MOST_BYTES} in one",
            rule="file",
        )
    for name in documents:
        if name != AIRCRAFT and not _DOCUMENT.fullmatch(name):
            faults.add(
                Place(quoted(name).strip("'"), 1, 1),
                "a document with no place here",
                allowed="aircraft.yaml, lists/NAME.yaml, drills/NAME.yaml, names of a-z, 0-9, _",
                rule="file",
            )


def _collect(folder: Path, faults: Faults) -> dict[str, bytes]:
    """The bytes of every document of a folder, by name."""
    found: dict[str, bytes] = {}
    try:
        root = folder.resolve(strict=True)
        if not root.is_dir():
            raise NotADirectoryError
    except (OSError, RuntimeError, ValueError):
        near = _nearest_folder(folder)
        faults.add(
            Place(quoted(folder).strip("'"), 1, 1),
            "no such folder of documents",
            nearest=near,
            rule="unreadable",
        )
        return found
    names = [AIRCRAFT] if (root / AIRCRAFT).exists() else []
    for part in _FOLDERS:
        names.extend(_names(root, part, faults))
        if len(names) > MOST_DOCUMENTS:
            break
    total = 0
    for name in names[: MOST_DOCUMENTS + 1]:
        data = _bytes(root, name, faults)
        if data is not None:
            found[name] = data
            total += len(data)
        if total > MOST_BYTES_TOGETHER:
            break
    return found


def _names(root: Path, part: str, faults: Faults) -> list[str]:
    """The names of the documents in one folder; what looks like one and is none is a fault."""
    folder = root / part
    if not folder.exists():
        return []
    names = []
    try:
        if not folder.resolve().is_relative_to(root):
            faults.add(
                Place(part, 1, 1),
                "a folder that leads outside",
                allowed="files within",
                rule="file",
            )
            return []
        entries = sorted(entry.name for entry in folder.iterdir())
    except (OSError, RuntimeError):
        faults.add(Place(part, 1, 1), "this folder cannot be read", rule="unreadable")
        return []
    for name in entries:
        suffix = Path(name).suffix.casefold()
        if name.startswith(".") or suffix not in _YAML:
            continue
        full = f"{part}/{name}"
        if _DOCUMENT.fullmatch(full):
            names.append(full)
        else:
            stem = name_from(Path(name).stem)
            faults.add(
                Place(quoted(full).strip("'"), 1, 1),
                "a file name that no list can have",
                allowed="a-z, 0-9 and _, a letter first, then .yaml",
                nearest=f"{part}/{stem}.yaml" if stem else "",
                rule="file",
            )
    return names


def _bytes(root: Path, name: str, faults: Faults) -> bytes | None:
    """The bytes of one document, at most one more than are read of any."""
    place = Place(name, 1, 1)
    path = root / name
    try:
        target = path.resolve(strict=True)
        if not target.is_relative_to(root):
            faults.add(
                place,
                "a file that leads outside the folder",
                todo="put the document itself here",
                rule="file",
            )
            return None
        if not target.is_file():
            faults.add(place, "not a file", rule="file")
            return None
        with target.open("rb") as stream:
            return stream.read(MOST_BYTES + 1)
    except (OSError, RuntimeError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it cannot be opened"
        faults.add(place, "this document cannot be read", found=str(reason), rule="unreadable")
        return None


def _nearest_folder(folder: Path) -> str:
    try:
        around = [entry.name for entry in folder.parent.iterdir() if entry.is_dir()]
    except (OSError, ValueError):
        return ""
    return nearest_word(folder.name, around)
