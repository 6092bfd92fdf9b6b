"""Does a log hold, how far, and whose word is it?

Rules: one pass in constant memory; the first fault decides; whatever cannot be read as format 1 is
`rejected`, except that a file whose end is one incomplete line is `torn`; people's signatures are
checked at every level, the lines' own from `full` on, the lists through a hook at `replayed`.
"""

import copy
import hashlib
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, BinaryIO

from audit import sshsig
from audit.canonical import base64_bytes
from audit.course import Course, Vouched
from audit.errors import Fault, FolderError, NotReplayed
from audit.line import Line, head_of, parse, signed_by, skim
from audit.reader import Piece, ends_without_line_feed, pieces
from audit.shapes import person_key
from audit.trust import Trust

LEVELS = ("boundary", "full", "replayed")
COUNTING_MODES = frozenset({"crew", "single-pilot"})
# how far wall time and boot time may part inside one boot before the verdict speaks of it
CLOCK_TOLERANCE_MS = 5_000

Replay = Callable[[Iterator[Line], Path], tuple[int, str, str] | None]


@dataclass(frozen=True)
class Verdict:
    """What came out of verifying one log.

    result: `closed`, `unclosed`, `torn`, `rejected` or `untrusted`.
    asked, level: the level asked for and the one reached.
    line, offset: the line (from 0) and byte where the fault stands; otherwise the last whole line.
    code, why: stable code and sentence; for `closed` the code is empty.
    modes: as the opening has them. labels: what keeps the log from counting by itself.
    notes: what a reader must know besides. opening: the data of line 0 (empty if there is none).
    lines: whole lines that hold. head: SHA-256 of the last of them. owed: who owes a signature.
    """

    result: str
    asked: str
    level: str
    line: int
    offset: int
    code: str
    why: str
    modes: tuple[str, ...]
    labels: tuple[str, ...]
    notes: tuple[str, ...]
    opening: dict[str, Any]
    lines: int
    head: str
    owed: tuple[str, ...]

    def counts(self, also: frozenset[str] | set[str] = frozenset()) -> bool:
        """True when a log may be relied upon: closed, trusted, at the level asked, and with no
        label except those in `also`."""
        return self.result == "closed" and self.level == self.asked and not set(self.labels) - also

    def as_dict(self) -> dict[str, Any]:
        """For JSON: everything but the opening, of which the run's identity is kept."""
        return {
            "result": self.result,
            "asked": self.asked,
            "level": self.level,
            "line": self.line,
            "offset": self.offset,
            "code": self.code,
            "why": self.why,
            "modes": list(self.modes),
            "labels": list(self.labels),
            "notes": list(self.notes),
            "lines": self.lines,
            "head": self.head,
            "owed": list(self.owed),
            "run": self.opening.get("run"),
            "run_seq": self.opening.get("run_seq"),
            "device": self.opening.get("device"),
        }

    def text(self, name: str) -> str:
        """One line for people, the result word first."""
        parts = [f"{self.result} {name}: {self.why}"]
        if self.labels:
            parts.append(f"labelled {', '.join(self.labels)}")
        parts.extend(self.notes)
        return "; ".join(parts)


class Checker:
    """Takes the pieces of a log one by one. A copy of it is a state to begin again from.

    `lines` and `head` count what held; after a fault nothing more is taken.
    """

    def __init__(self, *, signatures: bool, trust: Trust | None = None) -> None:
        """`signatures`: check each line's own. `trust`: whose people's signatures count."""
        self.course = Course()
        self.fault: Fault | None = None
        self.lines = 0
        self.head = ""
        self.last_offset = 0
        self.opened_ms = 0
        self.untrusted: tuple[str, ...] = ()
        self.demonstration = False
        self.files: tuple[_Beside, ...] = ()
        self._signatures = signatures
        self._trust = trust or Trust()
        self._clock: tuple[str, int] | None = None
        self._moved: tuple[int, int, int] | None = None

    def copy(self) -> "Checker":
        """An independent copy."""
        other = copy.copy(self)
        other.course = self.course.copy()
        return other

    def feed(self, raw: bytes, offset: int) -> Line | None:
        """Take the next piece (with its LF); `None`, and `fault` set, if it does not hold."""
        try:
            line = parse(raw)
            key = self.course.signing_key(line)
            vouched = self.course.advance(line)
            if self._signatures and not signed_by(line, key):
                raise Fault("signature", "the line's signature does not fit its key")
            if vouched is not None:
                self._person(vouched, line)
        except Fault as fault:
            self.fault = fault
            return None
        if self.lines == 0:
            self.opened_ms = line.stamp.wall_ms
        self.lines += 1
        self.head = line.head
        self.last_offset = offset
        self._watch_clock(line)
        if line.type == "attach":
            self.files = (*self.files, _Beside("attachment", line.seq, offset, line.data))
        elif line.type == "resume":
            for entry in line.data["residue"]:
                self.files = (*self.files, _Beside("residue", line.seq, offset, entry))
        return line

    def skim(self, raw: bytes, offset: int) -> bool:
        """Take an event line without reading all of it (boundary level only); False: `feed` it."""
        course = self.course
        if course.phase != "running" or not skim(raw, course.seq + 1, course.head):
            return False
        course.pass_over(head_of(raw))
        self.lines += 1
        self.head = course.head
        self.last_offset = offset
        return True

    def _person(self, vouched: Vouched, line: Line) -> None:
        due = vouched.due
        sshsig.verify(vouched.blob, due.key, due.namespace, due.message)
        allowed = self._trust.find(due.name, due.key, due.namespace, line.stamp.wall_ms)
        if allowed is None:
            if due.name not in self.untrusted:
                self.untrusted = (*self.untrusted, due.name)
        elif allowed.demonstration:
            self.demonstration = True

    def approves(self, approval: dict[str, Any], document: bytes) -> bool:
        """Whether an approval is by a trusted key; raises `Fault` if it does not fit."""
        key = person_key(approval["key"])
        blob = base64_bytes(approval["sig"])
        sshsig.verify(blob, key, sshsig.APPROVE, document)
        found = self._trust.find(approval["name"], key, sshsig.APPROVE, self.opened_ms)
        return found is not None

    def _watch_clock(self, line: Line) -> None:
        # inside one boot both clocks run together; across boots wall time may only go on
        apart = line.stamp.wall_ms - line.stamp.mono_ms
        if self._clock is not None and self._clock[0] == line.stamp.boot:
            moved = apart - self._clock[1]
            if abs(moved) > CLOCK_TOLERANCE_MS:
                count, first, by = self._moved or (0, line.seq, moved)
                self._moved = (count + 1, first, by)
            else:
                return
        self._clock = (line.stamp.boot, apart)

    def notes(self) -> list[str]:
        """What a reader must know besides the result."""
        notes = []
        if self.course.resumes:
            notes.append(
                f"resumed {self.course.resumes} times: lines before each are proven only by a "
                "witness"
            )
        if self._moved:
            count, first, by = self._moved
            notes.append(
                f"clock moved {count} times against boot time, first at line {first} by "
                f"{by / 1000:+.1f} s"
            )
        return notes


@dataclass(frozen=True)
class _Beside:
    kind: str
    line: int
    offset: int
    entry: dict[str, Any]


@dataclass(frozen=True)
class SavedState:
    """Where verification stands before the line at `offset`."""

    offset: int
    level: str
    checker: Checker


def states(path: Path, *, level: str, trust: Trust | None) -> Iterator[SavedState]:
    """The state before each line of a log that holds, and the one at its end."""
    _known(level)
    checker = Checker(signatures=level != "boundary", trust=trust)
    offset = 0
    with _opened(path) as stream:
        for piece in pieces(stream):
            yield SavedState(offset, level, checker.copy())
            if checker.feed(piece.raw, piece.offset) is None:
                return
            offset += len(piece.raw)
    yield SavedState(offset, level, checker.copy())


def logs_of(path: Path) -> list[Path]:
    """The log that `path` is, or the logs of the folder that it is, by name."""
    return sorted(path.glob("*.jsonl")) if path.is_dir() else [path]


def verify(
    path: Path | BinaryIO,
    *,
    level: str,
    trust: Trust | None,
    replay: Replay | None = None,
    start: SavedState | None = None,
) -> Verdict:
    """Verify a log: a path, or a binary stream (then nothing beside it is looked at).

    level: `boundary`, `full` or `replayed`. trust: the allowed signers; `None` trusts nobody.
    replay: takes the parsed lines and the folder of documents, runs the lists, and returns `None`
    or `(line, code, why)` where the log and the lists part; raises `NotReplayed` if it cannot.
    start: a state from `states` of the same level; the bytes before it are taken as verified.
    Raises `FolderError` if the file cannot be read; everything else is a verdict.
    """
    _known(level)
    if start is not None and (replay is not None or start.level != _checked(level)):
        raise ValueError("a saved state serves its own level only, and no replay")
    checker = (
        Checker(signatures=level != "boundary", trust=trust)
        if start is None
        else start.checker.copy()
    )
    if not isinstance(path, Path):
        return _Run(checker, level, path, None).verdict(replay, start)
    with _opened(path) as stream:
        return _Run(checker, level, stream, path).verdict(replay, start)


def _known(level: str) -> None:
    if level not in LEVELS:
        raise ValueError(f"level {level!r} is not one of {', '.join(LEVELS)}")


def _checked(level: str) -> str:
    return "boundary" if level == "boundary" else "full"


def _opened(path: Path) -> BinaryIO:
    try:
        return path.open("rb")
    except OSError as error:
        raise FolderError(f"{path}: cannot be read: {os.strerror(error.errno or 0)}") from None


class _Run:
    """One verification of one stream."""

    def __init__(self, checker: Checker, level: str, stream: BinaryIO, path: Path | None) -> None:
        self._checker = checker
        self._level = level
        self._stream = stream
        self._path = path
        self._stopped: Verdict | None = None
        self._offset = 0

    def verdict(self, replay: Replay | None, start: SavedState | None) -> Verdict:
        offset = 0 if start is None else start.offset
        lines = self._lines(offset)
        reached = _checked(self._level)
        notes: list[str] = []
        finding: tuple[int, str, str] | None = None
        if self._level == "replayed":
            reached, finding, note = self._replay(lines, replay)
            notes += note
        for _ in lines:
            pass
        if self._stopped is not None and self._stopped.result == "rejected":
            return self._stopped
        if finding is not None:
            number, code, why = finding
            return self._make("rejected", number, self._offset_of(number), code, why, reached)
        if reached != "boundary":
            fault, more = self._beside()
            notes += more
            if fault is not None:
                return fault
        verdict = self._stopped or self._end()
        return replace(verdict, level=reached, notes=(*verdict.notes, *notes))

    def _lines(self, offset: int) -> Iterator[Line]:
        quick = self._level == "boundary"
        for piece in pieces(self._stream, offset):
            self._offset = piece.offset
            if not piece.raw.endswith(b"\n"):
                self._stopped = self._incomplete(piece)
                return
            if quick and self._checker.skim(piece.raw, piece.offset):
                continue
            line = self._checker.feed(piece.raw, piece.offset)
            if line is None:
                fault = self._checker.fault or Fault("frame", "not a line")
                self._stopped = self._reject(fault.code, fault.why, piece.offset)
                return
            yield line

    def _replay(
        self, lines: Iterator[Line], replay: Replay | None
    ) -> tuple[str, tuple[int, str, str] | None, list[str]]:
        if replay is None or self._path is None:
            return "full", None, ["full, not replayed: nothing here can run the lists"]
        try:
            finding = replay(lines, self._path.parent / "documents")
        except NotReplayed as why:
            return "full", None, [f"full, not replayed: {why}"]
        return "replayed", finding, []

    def _incomplete(self, piece: Piece) -> Verdict:
        number = self._checker.lines
        if self._checker.course.phase == "closed":
            return self._reject(
                "after-end", "there is something after the last closing signature", piece.offset
            )
        if not ends_without_line_feed(self._stream, piece.offset):
            return self._reject("length", "a line is longer than a line may be", piece.offset)
        if number == 0 and not b'{"body":'.startswith(piece.raw[:8]):
            return self._reject("frame", "this does not begin as a log", piece.offset)
        return self._make(
            "torn", number, piece.offset, "torn", f"line {number} is incomplete{self._proven()}"
        )

    def _reject(self, code: str, why: str, offset: int) -> Verdict:
        number = self._checker.lines
        return self._make("rejected", number, offset, code, f"line {number}, byte {offset}: {why}")

    def _end(self) -> Verdict:
        checker, course = self._checker, self._checker.course
        number = checker.lines - 1
        if course.phase == "empty":
            return self._make("torn", 0, 0, "torn", "there is no whole line")
        if course.phase == "closed":
            people = ", ".join(course.people)
            if checker.untrusted:
                why = f"whole, but not by trusted keys: {', '.join(checker.untrusted)}"
                return self._make("untrusted", number, checker.last_offset, "untrusted", why)
            why = f"{checker.lines} lines, signed by {people}"
            return self._make("closed", number, checker.last_offset, "", why)
        if course.phase == "opening":
            code, why = "owed", f"opening signature owed by {', '.join(course.owes_open())}"
        elif course.phase == "closing":
            code, why = "owed", f"signature owed by {', '.join(course.owes_close())}"
        elif course.owes_resume():
            code, why = "open", f"left open; signature owed by {', '.join(course.owes_resume())}"
        else:
            code, why = "open", f"left open after line {number}"
        return self._make(
            "unclosed", number, checker.last_offset, code, why + self._proven(), untrusted_note=True
        )

    def _proven(self) -> str:
        if self._level != "boundary":
            return ""
        last = self._checker.course.last_vouched
        return "; nothing proven" + (f" after line {last}" if last >= 0 else "")

    def _make(
        self,
        result: str,
        line: int,
        offset: int,
        code: str,
        why: str,
        level: str | None = None,
        *,
        untrusted_note: bool = False,
    ) -> Verdict:
        checker, course = self._checker, self._checker.course
        modes = tuple(course.opening.get("modes", ()))
        labels = set(modes) - COUNTING_MODES
        if checker.demonstration:
            labels.add("demonstration")
        notes = checker.notes()
        if untrusted_note and checker.untrusted:
            notes.append(f"not by trusted keys: {', '.join(checker.untrusted)}")
        if "solo" in modes:
            notes.append("not crew-verified: one person answered for every role")
        return Verdict(
            result=result,
            asked=self._level,
            level=level or _checked(self._level),
            line=line,
            offset=offset,
            code=code,
            why=why,
            modes=modes,
            labels=tuple(sorted(labels)),
            notes=tuple(notes),
            opening=course.opening,
            lines=checker.lines,
            head=checker.head,
            owed=_owed(course),
        )

    def _offset_of(self, number: int) -> int:
        for count, piece in enumerate(pieces(self._stream)):
            if count == number:
                return piece.offset
        return self._offset

    def _beside(self) -> tuple[Verdict | None, list[str]]:
        """What lies beside the log and is named in it: changed is rejected, missing is said."""
        if self._path is None or not self._checker.course.opening:
            return None, []
        folder = self._path.parent
        notes = []
        run = self._checker.course.opening["run"]
        if self._path.name != f"{run}.jsonl":
            notes.append(f"the file is not named after its run, {run}")
        fault, more = self._documents(folder / "documents")
        notes += more
        if fault is not None:
            return self._reject_at(fault.code, fault.why, 0, 0), notes
        for file in self._checker.files:
            found = _digest(folder / file.entry["name"])
            if found is None:
                notes.append(f"{file.kind} {file.entry['name']} is not beside the log")
            elif found != (file.entry["length"], file.entry["sha256"]):
                why = f"{file.kind} {file.entry['name']} is not what the log says"
                return self._reject_at(file.kind, why, file.line, file.offset), notes
        return None, notes

    def _documents(self, folder: Path) -> tuple[Fault | None, list[str]]:
        entries = self._checker.course.opening["documents"]
        notes = []
        missing = 0
        for entry in entries:
            path = folder / entry["sha256"]
            found = _digest(path)
            if found is None:
                missing += 1
                continue
            if found[1] != entry["sha256"]:
                why = f"the stored document {entry['name']!r} is not the one that was opened"
                return Fault("document", why), notes
            approval = entry["approval"]
            if approval is not None:
                try:
                    trusted = self._checker.approves(approval, path.read_bytes())
                except Fault as fault:
                    why = f"the approval of document {entry['name']!r} does not hold: {fault.why}"
                    return Fault("approval", why), notes
                if not trusted:
                    notes.append(
                        f"document {entry['name']} is approved by {approval['name']}, who is not "
                        "trusted for that"
                    )
        if missing:
            notes.append(f"{missing} of {len(entries)} documents are not beside the log")
        return None, notes

    def _reject_at(self, code: str, why: str, line: int, offset: int) -> Verdict:
        return self._make("rejected", line, offset, code, f"line {line}, byte {offset}: {why}")


def _owed(course: Course) -> tuple[str, ...]:
    if course.phase == "opening":
        return course.owes_open()
    if course.phase == "running":
        return course.owes_resume()
    return course.owes_close() if course.phase == "closing" else ()


def _digest(path: Path) -> tuple[int, str] | None:
    try:
        with path.open("rb") as stream:
            digest = hashlib.file_digest(stream, "sha256").hexdigest()
            return stream.tell(), digest
    except OSError:
        return None
