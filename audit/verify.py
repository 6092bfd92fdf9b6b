"""Does a log hold, how far, and whose word is it?

Rules: one pass in constant memory; the first fault decides; whatever cannot be read as format 1 is
`rejected`, except that a file whose end is one incomplete line is `torn`; people's signatures are
checked at every level, the lines' own from `full` on, the lists through a hook at `replayed`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO

from audit.beside import look_beside
from audit.checker import Checker
from audit.course import Course
from audit.errors import Fault, FolderError, NotReplayed
from audit.line import Line
from audit.reader import Beat, Piece, ends_without_line_feed, opened, pieces
from audit.trust import Trust
from audit.verdict import COUNTING_MODES, Verdict

LEVELS = ("boundary", "full", "replayed")

_BUFFER = 1 << 16

Replay = Callable[[Iterator[Line], Path], tuple[int, str, str] | None]


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
    beat: Beat | None = None,
) -> Verdict:
    """Verify a log: a path, or a binary stream (then nothing beside it is looked at).

    level: `boundary`, `full` or `replayed`. trust: the allowed signers; `None` trusts nobody.
    replay: takes the parsed lines and the folder of documents, runs the lists, and returns `None`
    or `(line, code, why)` where the log and the lists part; raises `NotReplayed` if it cannot.
    start: a state from `states` of the same level; the bytes before it are taken as verified.
    beat: told now and then up to which byte the log has been read.
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
        return _Run(checker, level, path, None, beat).verdict(replay, start)
    try:
        with _opened(path) as stream:
            return _Run(checker, level, stream, path, beat).verdict(replay, start)
    except OSError as error:
        raise _unreadable(path, error) from None


def _known(level: str) -> None:
    if level not in LEVELS:
        raise ValueError(f"level {level!r} is not one of {', '.join(LEVELS)}")


def _checked(level: str) -> str:
    return "boundary" if level == "boundary" else "full"


def _opened(path: Path) -> BinaryIO:
    try:
        return opened(path, _BUFFER)
    except OSError as error:
        raise _unreadable(path, error) from None


def _unreadable(path: Path, error: OSError) -> FolderError:
    return FolderError(f"{error.filename or path}: cannot be read: {error.strerror or error}")


class _Run:
    """One verification of one stream."""

    def __init__(
        self,
        checker: Checker,
        level: str,
        stream: BinaryIO,
        path: Path | None,
        beat: Beat | None,
    ) -> None:
        self._checker = checker
        self._level = level
        self._stream = stream
        self._path = path
        self._beat = beat
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
            found, more = self._beside()
            notes += more
            if found is not None:
                return found
        verdict = self._stopped or self._end()
        return replace(verdict, level=reached, notes=(*verdict.notes, *notes))

    def _lines(self, offset: int) -> Iterator[Line]:
        if self._level == "boundary":
            source = self._checker.skim(self._stream, offset, self._beat)
        else:
            source = pieces(self._stream, offset, self._beat)
        for piece in source:
            self._offset = piece.offset
            if not piece.raw.endswith(b"\n"):
                self._stopped = self._incomplete(piece)
                return
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
            people=tuple(course.people.values()),
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
        checker = self._checker
        if self._path is None or not checker.course.opening:
            return None, []
        found, notes = look_beside(self._path, checker)
        if found is None:
            return None, notes
        why = f"line {found.line}, byte {found.offset}: {found.why}"
        return self._make("rejected", found.line, found.offset, found.code, why), notes


def _owed(course: Course) -> tuple[str, ...]:
    if course.phase == "opening":
        return course.owes_open()
    if course.phase == "running":
        return course.owes_resume()
    return course.owes_close() if course.phase == "closing" else ()
