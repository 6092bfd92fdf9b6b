"""What lies beside a log and belongs to it: documents, attachments, what was torn, the fleet's
checkpoint, supervisors' words.

Rules: changed is a fault, missing is only said (a copy of the log alone still verifies); a document
counts by the SHA-256 in the signed opening, and by its approval where there is one; where there is
none, that is said, except of a draft or a demonstration, which carries that as its label.
"""

import hashlib
from pathlib import Path
from typing import Any, NamedTuple

from audit import countersign
from audit.checker import Checker
from audit.errors import Fault, FleetError, FolderError
from audit.fleet.checkpoint import beside
from audit.reader import opened

# what a run on documents that nobody has approved is called in its opening
_UNAPPROVED = frozenset({"demonstration", "draft"})


class Beside(NamedTuple):
    """A fault in something named by the line at `line` and `offset`."""

    line: int
    offset: int
    code: str
    why: str


def look_beside(log: Path, checker: Checker) -> tuple[Beside | None, list[str]]:
    """The first fault beside a log whose lines `checker` has taken, and what must be noted."""
    notes: list[str] = []
    run = checker.course.opening["run"]
    if log.name != f"{run}.jsonl":
        notes.append(f"the file is not named after its run, {run}")
    try:
        notes += _documents(log.parent / "documents", checker)
        notes += _checkpoint(log.parent, checker)
    except Fault as fault:
        return Beside(0, 0, fault.code, fault.why), notes
    for file in checker.files:
        name = file.entry["name"]
        found = _digest(log.parent / name)
        if found is None:
            notes.append(f"{file.kind} {name} is not beside the log")
        elif found != (file.entry["length"], file.entry["sha256"]):
            why = f"{file.kind} {name} is not what the log says"
            return Beside(file.line, file.offset, file.kind, why), notes
    try:
        notes += countersign.look(log, checker.course, checker.trust)
    except Fault as fault:
        # their word is on the log as it ends, so that is where it is said
        return Beside(checker.lines - 1, checker.last_offset, fault.code, fault.why), notes
    return None, notes


def _checkpoint(folder: Path, checker: Checker) -> list[str]:
    """What the fleet's checkpoints say of a log: those that whoever verifies has named, and the one
    that the opening names, which is only compared where nobody vouches for it."""
    opening, fleet = checker.course.opening, checker.trust.fleet
    told = [said for said in (one.told(opening, checker.head) for one in fleet) if said]
    named: dict[str, Any] | None = opening["checkpoint"]
    if named is None:
        return told
    place = (named["origin"], named["size"])
    try:
        lying = [c for _, c, _ in beside(folder) if (c.origin, c.size) == place]
    except (FleetError, FolderError) as error:
        raise Fault("checkpoint", str(error)) from None
    signed = [c for c in (one.checkpoint for one in fleet) if (c.origin, c.size) == place]
    which = f"the checkpoint of {place[0]} with {place[1]} runs"
    if any(checkpoint.as_opening() != named for checkpoint in (*lying, *signed)):
        raise Fault("checkpoint", f"{which} has another root than the opening names")
    if signed:
        return [*told, f"the opening names {which}, and its key signed that"]
    if lying:
        return [*told, f"{which} lies beside the log; whose it is was not asked (--checkpoint)"]
    return [*told, f"{which} is not beside the log"]


def _documents(folder: Path, checker: Checker) -> list[str]:
    entries = checker.course.opening["documents"]
    notes = []
    bare = sum(entry["approval"] is None for entry in entries)
    if bare and not _UNAPPROVED.intersection(checker.course.opening["modes"]):
        notes.append(f"{bare} of {len(entries)} documents were approved by nobody")
    missing = 0
    for entry in entries:
        path = folder / entry["sha256"]
        found = _digest(path)
        if found is None:
            missing += 1
            continue
        if found[1] != entry["sha256"]:
            raise Fault(
                "document", f"the stored document {entry['name']!r} is not the one that was opened"
            )
        approval = entry["approval"]
        if approval is None:
            continue
        try:
            trusted = checker.approves(approval, path.read_bytes())
        except Fault as fault:
            why = f"the approval of document {entry['name']!r} does not hold: {fault.why}"
            raise Fault("approval", why) from None
        if not trusted:
            notes.append(
                f"document {entry['name']} is approved by {approval['name']}, who is not trusted "
                "for that"
            )
    if missing:
        notes.append(f"{missing} of {len(entries)} documents are not beside the log")
    return notes


def _digest(path: Path) -> tuple[int, str] | None:
    try:
        with opened(path) as stream:
            digest = hashlib.file_digest(stream, "sha256").hexdigest()
            return stream.tell(), digest
    except OSError:
        return None
