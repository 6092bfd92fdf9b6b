"""Approval of an aircraft's documents: what stands beside them, and whether it holds.

Rules: beside each document lies `NAME.sig`, a detached OpenSSH signature over its exact bytes, and
beside `aircraft.yaml` the statement `approval.json` with its own: which documents belong together
under which names, by whom and when each was approved. Paths are relative, so a copied folder stays
approved; a document that was changed, added, taken away or put under another name does not. A key
counts if the trusted keys allow its holder to approve both at the time stated and now; a key of
the demonstration approves nothing. Nothing is taken on trust because it lies there.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

from audit import sshsig
from audit.canonical import base64_text
from audit.errors import Fault
from audit.stamps import parse_wall, wall_text
from audit.trust import Trust
from runner.flow.faults import nearest_word
from runner.flow.loader import Document

STATEMENT = "approval.json"
SUFFIX = ".sig"
FORMAT = 1
_MOST_BYTES = 1 << 20
_ENTRY = {"by", "name", "sha256", "time"}


class Entry(NamedTuple):
    """One document of a statement: its name and SHA-256 (hex), who approved it, when (UTC, ms)."""

    name: str
    sha256: str
    by: str
    at_ms: int


class Statement(NamedTuple):
    """What was approved together, and who says so."""

    aircraft: str
    revision: str
    by: str
    at_ms: int
    entries: tuple[Entry, ...]


class Approval(NamedTuple):
    """An approval that holds. `key` is 32 bytes, `blob` the raw signature over the document."""

    by: str
    key: bytes
    blob: bytes
    at_ms: int

    def as_opening(self) -> dict[str, str]:
        """As it stands in the signed opening of a log."""
        return {
            "key": sshsig.public_line(self.key),
            "name": self.by,
            "sig": base64_text(self.blob),
        }


class Approved(NamedTuple):
    """The approvals that hold, by the name of the document, and in words what does not."""

    held: dict[str, Approval]
    faults: tuple[str, ...]


def beside(path: Path) -> Path:
    """Where the signature over a file lies."""
    return path.with_name(path.name + SUFFIX)


def statement_bytes(statement: Statement) -> bytes:
    """What is written and signed: JSON that a person can read, ended by a line feed."""
    body = {
        "aircraft": statement.aircraft,
        "by": statement.by,
        "documents": [
            {"by": e.by, "name": e.name, "sha256": e.sha256, "time": wall_text(e.at_ms)}
            for e in sorted(statement.entries)
        ],
        "format": FORMAT,
        "revision": statement.revision,
        "time": wall_text(statement.at_ms),
    }
    return (json.dumps(body, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def parse_statement(data: bytes) -> Statement:
    """The statement in a file; raises `Fault` for anything that is none."""
    try:
        body: Any = json.loads(data)
        if body["format"] != FORMAT:
            raise ValueError
        entries = []
        for one in body["documents"]:
            if one.keys() != _ENTRY or not all(type(text) is str for text in one.values()):
                raise ValueError
            sshsig.check_name(one["by"])
            entries.append(Entry(one["name"], one["sha256"], one["by"], parse_wall(one["time"])))
        sshsig.check_name(body["by"])
        if len({one.name for one in entries}) < len(entries):
            raise ValueError
        return Statement(
            str(body["aircraft"]), str(body["revision"]), body["by"], parse_wall(body["time"]),
            tuple(entries),
        )  # fmt: skip
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise Fault("approval", f"is no statement of approval of format {FORMAT}") from None


def signature_of(path: Path, data: bytes) -> tuple[bytes, bytes]:
    """Key (32 bytes) and raw blob of the signature beside a file whose bytes are `data`.

    Raises `Fault` where there is none, or it is not over these bytes.
    """
    blob = sshsig.dearmor(_read(beside(path)).decode("utf-8", "replace"))
    key = sshsig.parse(blob).key
    sshsig.verify(blob, key, sshsig.APPROVE, data)
    return key, blob


def read_statement(folder: Path) -> tuple[Statement, bytes]:
    """The statement of a folder and the key (32 bytes) that signed it; raises `Fault`."""
    path = folder / STATEMENT
    data = _read(path)
    statement = parse_statement(data)
    try:
        key, _ = signature_of(path, data)
    except Fault as fault:
        raise Fault("approval", f"is not signed as it stands: {fault.why}") from None
    return statement, key


def _read(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            data = stream.read(_MOST_BYTES + 1)
    except OSError as error:
        raise Fault("approval", f"{path.name} cannot be read: {error.strerror}") from None
    if len(data) > _MOST_BYTES:
        raise Fault("approval", f"{path.name} is larger than {_MOST_BYTES} bytes")
    return data


def look(folder: Path, documents: Sequence[Document], trust: Trust, now_ms: int) -> Approved:
    """What of the documents of a folder is approved by somebody trusted; `now_ms` is UTC."""
    path = folder / STATEMENT
    if not path.exists():
        return Approved({}, (f"{path}: is not there: these documents were never approved",))
    try:
        statement, key = read_statement(folder)
    except Fault as fault:
        return Approved({}, (f"{path}: {fault.why}",))
    who = _distrusted(trust, statement.by, key, statement.at_ms, now_ms)
    if who:
        return Approved({}, (f"{path}: {who}",))
    held: dict[str, Approval] = {}
    faults = []
    entries = {one.name: one for one in statement.entries}
    for document in documents:
        try:
            held[document.name] = _approval(folder, document, entries, trust, now_ms)
        except Fault as fault:
            faults.append(f"{folder / document.name}: {fault.why}")
    gone = entries.keys() - {one.name for one in documents}
    faults += [
        f"{folder / name}: was approved by {_when(entries[name])} and is not there any more"
        for name in sorted(gone)
    ]
    return Approved(held, tuple(faults))


def _approval(
    folder: Path, document: Document, entries: dict[str, Entry], trust: Trust, now_ms: int
) -> Approval:
    entry = entries.get(document.name)
    if entry is None:
        near = nearest_word(document.name, entries)
        hint = f" (nearest that was: {near})" if near else ""
        raise Fault("approval", f"was not approved{hint}")
    if entry.sha256 != document.sha256:
        raise Fault("approval", f"was changed after it was approved by {_when(entry)}")
    try:
        key, blob = signature_of(folder / document.name, document.data)
    except Fault as fault:
        raise Fault("approval", f"its signature does not hold: {fault.why}") from None
    who = _distrusted(trust, entry.by, key, entry.at_ms, now_ms)
    if who:
        raise Fault("approval", who)
    return Approval(entry.by, key, blob, entry.at_ms)


def _when(entry: Entry) -> str:
    return f"{entry.by} at {wall_text(entry.at_ms)}"


def _distrusted(trust: Trust, name: str, key: bytes, at_ms: int, now_ms: int) -> str:
    """Why somebody's key does not count for an approval; empty where it does."""
    said = f"was approved by {name} at {wall_text(at_ms)} with {sshsig.fingerprint(key)}"
    for moment in (at_ms, now_ms):
        found = trust.find(name, key, sshsig.APPROVE, moment)
        if found is None:
            revoked = trust.revoked_ms(key)
            if revoked is not None:
                return f"{said}, a key that was revoked at {wall_text(revoked)}"
            known = any(line.key == key for line in trust.lines)
            if not known:
                return f"{said}, which nobody here trusts"
            return f"{said}, a key that is not trusted to approve in that name at that time and now"
        if found.demonstration:
            return f"{said}, a key of the demonstration"
    return ""
