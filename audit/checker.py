"""A log, line by line: does it hold so far, and who has signed?

Rules: constant memory; the first fault ends it; the chain, the order and people's signatures are
always checked, each line's own signature when asked for. No file is opened here.
"""

import copy
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, BinaryIO, NamedTuple

from audit import sshsig
from audit.canonical import base64_bytes
from audit.course import Course, Vouched
from audit.errors import Fault
from audit.line import Line, parse, signed_by
from audit.reader import LIMIT, Beat, Piece
from audit.shapes import person_key
from audit.skim import MOST, skim
from audit.stamps import wall_text
from audit.trust import Trust

# how far wall time and boot time may part inside one boot before the verdict speaks of it
CLOCK_TOLERANCE_MS = 5_000


@dataclass(frozen=True)
class FileBeside:
    """A file that a line names: `kind` is `attachment` or `residue`, `entry` its length, name and
    SHA-256, `line` and `offset` where it is named."""

    kind: str
    line: int
    offset: int
    entry: dict[str, Any]


class Unwitnessed(NamedTuple):
    """A signature by a key that was revoked later, until a witness is found for it."""

    name: str
    revoked_ms: int


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
        self._untrusted: tuple[str, ...] = ()
        self._unwitnessed: tuple[Unwitnessed, ...] = ()
        self.demonstration = False
        self.files: tuple[FileBeside, ...] = ()
        self._signatures = signatures
        self._trust = trust or Trust()
        self._clock: tuple[str, int] | None = None
        self._moved: tuple[int, int, int] | None = None

    def copy(self) -> "Checker":
        """An independent copy."""
        other = copy.copy(self)
        other.course = self.course.copy()
        return other

    @property
    def trust(self) -> Trust:
        """Whose signatures count."""
        return self._trust

    def feed(self, raw: bytes, offset: int) -> Line | None:
        """Take the next piece (with its LF); `None`, and `fault` set, if it does not hold."""
        try:
            if self.course.phase == "closed":
                raise Fault("after-end", "there is something after the last closing signature")
            line = parse(raw)
            key = self.course.signing_key(line)
            vouched = self.course.advance(line)
            # The last line vouches for the whole chain, and nothing but itself for its own bytes.
            own = self._signatures or self.course.phase == "closed"
            if own and not signed_by(line, key):
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
        self._hear_witness()
        self._watch_clock(line)
        if line.type == "attach":
            self.files = (*self.files, FileBeside("attachment", line.seq, offset, line.data))
        elif line.type == "resume":
            for entry in line.data["residue"]:
                self.files = (*self.files, FileBeside("residue", line.seq, offset, entry))
        return line

    def skim(self, stream: BinaryIO, offset: int, beat: Beat | None) -> Iterator[Piece]:
        """The pieces of a file from `offset` on, without those of its event lines that a quick look
        has taken (boundary level only); each must be fed before the next is asked for."""
        course = self.course
        read = stream.readline
        stream.seek(offset)
        raw = read(LIMIT)
        while raw:
            if course.phase == "running":
                # a head that a witness may know is to be heard of line by line
                most = 1 if self._unwitnessed else MOST
                run = skim(raw, read, course.seq + 1, course.head, most)
                if run.taken:
                    raw, offset = run.rest, offset + run.length
                    course.pass_over(run.taken, run.head)
                    self.lines += run.taken
                    self.head = run.head
                    self.last_offset = offset - run.last
                    self._hear_witness()
                    if beat is not None:
                        beat(offset)
                    continue
            yield Piece(offset, raw)
            offset += len(raw)
            raw = read(LIMIT)

    @property
    def untrusted(self) -> tuple[str, ...]:
        """Whose signatures do not count, each name once."""
        return tuple(dict.fromkeys((*self._untrusted, *(one.name for one in self._unwitnessed))))

    def _person(self, vouched: Vouched, line: Line) -> None:
        due = vouched.due
        sshsig.verify(vouched.blob, due.key, due.namespace, due.message)
        revoked = self._trust.revoked_ms(due.key)
        # a head that a witness knew before the revocation may still come, here or further on
        hoped = None if revoked is None else revoked - 1
        allowed = self._trust.find(
            due.name, due.key, due.namespace, line.stamp.wall_ms, witnessed_ms=hoped
        )
        if allowed is None:
            if due.name not in self._untrusted:
                self._untrusted = (*self._untrusted, due.name)
            return
        if revoked is not None:
            self._unwitnessed = (*self._unwitnessed, Unwitnessed(due.name, revoked))
        if allowed.demonstration:
            self.demonstration = True

    def _hear_witness(self) -> None:
        """A head that was witnessed proves every line up to it, and who signed them by then."""
        if self._unwitnessed:
            at = self._trust.witnessed_ms(self.head)
            if at is not None:
                self._unwitnessed = tuple(o for o in self._unwitnessed if at >= o.revoked_ms)

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
            which = "it" if self.course.resumes == 1 else "each"
            notes.append(
                f"resumed {_times(self.course.resumes)}: lines before {which} are proven only by "
                "a witness"
            )
        if self._moved:
            count, first, by = self._moved
            notes.append(
                f"clock moved {_times(count)} against boot time, first at line {first} by "
                f"{by / 1000:+.1f} s"
            )
        for one in dict.fromkeys(self._unwitnessed):
            notes.append(
                f"the key of {one.name} was revoked at {wall_text(one.revoked_ms)}, and no witness "
                "is known who knew this log before"
            )
        return notes


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
