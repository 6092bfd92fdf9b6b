"""What may follow what in one log: the grammar of format 1, for the writer and the verifier alike.

Rules: `advance` takes the next line, raises `Fault` and changes nothing if it may not stand there,
else moves on and says whose signature it carries. Signatures are described here, not checked:
that needs a key, this needs only the lines. Memory is bounded by the people, the resumes not yet
vouched for and the lines that are not events.
"""

import copy
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from audit import canonical, shapes, sshsig
from audit.errors import Fault
from audit.line import Line

ZERO = "0" * 64


class Person(NamedTuple):
    """Somebody on the roster; `key` is the public key (32 bytes)."""

    name: str
    role: str
    key: bytes


class Due(NamedTuple):
    """A signature that a person gives: over `message`, in `namespace`, naming line `line`."""

    name: str
    key: bytes
    namespace: str
    line: int
    message: bytes


class Vouched(NamedTuple):
    """A signature line just taken: what it must be, and the raw OpenSSH blob that it carries."""

    due: Due
    blob: bytes


@dataclass(frozen=True)
class _Resume:
    line: int
    raw: bytes
    owing: frozenset[str]


@dataclass
class Course:
    """Where a log stands after its last line. `phase` is one of
    `empty, opening, running, closing, closed`."""

    phase: str = "empty"
    seq: int = -1
    head: str = ZERO
    mono: int = 0
    boot: str = ""
    opening: dict[str, Any] = field(default_factory=dict)
    people: dict[str, Person] = field(default_factory=dict)
    roles: dict[str, str] = field(default_factory=dict)
    resumes: int = 0
    last_vouched: int = -1
    one_time_key: bytes = b""
    acceptances: tuple[int, ...] = ()
    _to_open: list[str] = field(default_factory=list)
    _unvouched: list[_Resume] = field(default_factory=list)
    _not_events: set[int] = field(default_factory=set)
    _anchor: tuple[int, bytes] = (0, b"")
    _to_close: list[str] = field(default_factory=list)

    def copy(self) -> "Course":
        """An independent copy: every other container is replaced, never changed."""
        other = copy.copy(self)
        other._not_events = set(self._not_events)
        return other

    def owes_open(self) -> tuple[str, ...]:
        """Who has not yet signed the opening, in order."""
        return tuple(self._to_open)

    def owes_resume(self) -> tuple[str, ...]:
        """Who has still to vouch for a resume, in roster order."""
        owing = frozenset[str]().union(*(resume.owing for resume in self._unvouched))
        return tuple(name for name in self.people if name in owing)

    def owes_close(self) -> tuple[str, ...]:
        """Who has still to sign the closing (everybody ever on the roster), in roster order."""
        if self.phase in ("closing", "closed"):
            return tuple(self._to_close)
        return tuple(self.people)

    def due_open(self, name: str) -> Due:
        """The opening signature of `name`, whose turn it is."""
        return self._due(name, sshsig.OPEN, 0, self._anchor[1])

    def due_resumes(self, name: str) -> list[int]:
        """The numbers of the `resume` lines that `name` has still to vouch for, oldest first."""
        return [resume.line for resume in self._unvouched if name in resume.owing]

    def due_resume(self, name: str, line: int) -> Due:
        """The signature of `name` over `resume` line `line` and the head reached by now."""
        for resume in self._unvouched:
            if resume.line == line and name in resume.owing:
                message = resume.raw + self.head.encode("ascii") + b"\n"
                return self._due(name, sshsig.RESUME, line, message)
        raise Fault("order", f"{name} owes no signature for a resume at line {line}")

    def due_close(self, name: str) -> Due:
        """The closing signature of `name`: over the `close` line, or the last `resume` after it."""
        return self._due(name, sshsig.CLOSE, *self._anchor)

    def _due(self, name: str, namespace: str, line: int, message: bytes) -> Due:
        return Due(name, self.people[name].key, namespace, line, message)

    def next_is_empty(self, type: str) -> bool:
        """True for the one line after which nothing follows: the last owed `close-sig`."""
        return type == "close-sig" and len(self._to_close) == 1

    def advance(self, line: Line) -> Vouched | None:
        """Take the next line; the signature that it carries, if it is a person's.

        Raises `Fault`, leaving the state as it was, if it may not stand here.
        """
        if line.seq != self.seq + 1:
            raise Fault("seq", f"line {self.seq + 1} calls itself {line.seq}")
        if self.phase != "empty" and line.prev != self.head:
            raise Fault("prev", "prev is not the SHA-256 of the line before")
        if line.stamp.boot == self.boot and line.stamp.mono_ms < self.mono:
            raise Fault("stamp", "boot time goes back within one boot")
        if (line.next == "") != self.next_is_empty(line.type):
            raise Fault("next", "next is empty on the last closing signature, and only there")
        following = shapes.one_time_key(line.next) if line.next else b""
        shapes.BY_TYPE[line.type](line.data)
        vouched = _STEPS[line.type](self, line)
        self.seq, self.head = line.seq, line.head
        self.mono, self.boot = line.stamp.mono_ms, line.stamp.boot
        if line.next:
            self.one_time_key = following
        if line.type != "event":
            self._not_events.add(line.seq)
        return vouched

    def pass_over(self, count: int, head: str) -> None:
        """Take events that `skim` let pass, of which only the last one's head is known."""
        self.seq += count
        self.head = head

    def signing_key(self, line: Line) -> bytes:
        """The key (32 bytes) that must have signed `line`, which is about to be taken."""
        if line.type in ("open", "resume"):
            return shapes.one_time_key(line.data.get("key0"))
        return self.one_time_key

    def _need(self, type: str, *phases: str) -> None:
        if self.phase not in phases:
            raise Fault("order", f"{type} may not stand in a log that is {self.phase}")

    def _open(self, line: Line) -> None:
        self._need("open", "empty")
        data = line.data
        if data["run_seq"] == 1 and line.prev != data["device"]:
            raise Fault("prev", "the first run of a device begins at its enrolment hash")
        people: dict[str, Person] = {}
        roles: dict[str, str] = {}
        for entry in data["roster"]:
            person = Person(entry["name"], entry["role"], shapes.person_key(entry["key"]))
            if person.role in roles:
                raise Fault("roster", f"two people as {person.role}")
            _check_new(people, person)
            people[person.name] = person
            roles[person.role] = person.name
        modes = data["modes"]
        if "solo" in modes:
            if len(people) != 1:
                raise Fault("roster", "a solo run has one person")
        elif "commander" not in roles:
            raise Fault("roster", "the roster has no commander")
        elif "crew" in modes and len(people) < 2:
            raise Fault("roster", "a crew has at least two people")
        self.opening, self.people, self.roles = data, people, roles
        self._to_open = list(people)
        self._anchor = (0, line.raw)
        self.phase = "opening"

    def _open_sig(self, line: Line) -> Vouched:
        self._need("open-sig", "opening")
        name = self._to_open[0]
        if line.data["name"] != name:
            raise Fault("order", f"the opening is signed in roster order: {name} is next")
        due = self.due_open(name)
        vouched = _vouched(line, due)
        self._to_open = self._to_open[1:]
        self.last_vouched = 0
        if not self._to_open:
            self.phase = "running"
        return vouched

    def _event(self, line: Line) -> None:
        self._need("event", "running")
        change = line.data.get("crew_change")
        if change is None:
            return
        newcomer = Person(change["name"], change["role"], shapes.person_key(change["key"]))
        known = self.people.get(newcomer.name)
        if known is None:
            _check_new(self.people, newcomer)
        elif known.key != newcomer.key:
            raise Fault("roster", f"{newcomer.name} is on the roster with another key")
        roles = {role: name for role, name in self.roles.items() if name != newcomer.name}
        self.roles = {**roles, newcomer.role: newcomer.name}
        self.people = {**self.people, newcomer.name: newcomer}

    def _attach(self, line: Line) -> None:
        self._need("attach", "running")

    def _resume(self, line: Line) -> None:
        self._need("resume", "running", "closing")
        if line.data["line"] != self.seq or line.data["head"] != self.head:
            raise Fault("resume", "resume does not name the line before it and its head")
        self.resumes += 1
        if self.phase == "closing":
            self._anchor = (line.seq, line.raw)
        else:
            owing = frozenset(self.people)
            self._unvouched = [*self._unvouched, _Resume(line.seq, line.raw, owing)]

    def _resume_sig(self, line: Line) -> Vouched:
        name = line.data["name"]
        vouched = _vouched(line, self.due_resume(name, line.data["line"]))
        left = [
            replace(resume, owing=resume.owing - {name})
            if resume.line == line.data["line"]
            else resume
            for resume in self._unvouched
        ]
        self._unvouched = [resume for resume in left if resume.owing]
        self.last_vouched = self.seq
        return vouched

    def _close(self, line: Line) -> None:
        self._need("close", "running")
        owing = self.owes_resume()
        if owing:
            raise Fault("owed", f"closed while {', '.join(owing)} owes a resume signature")
        if line.data["count"] != line.seq:
            raise Fault(
                "count", f"close counts {line.data['count']} lines before it, not {line.seq}"
            )
        for number in line.data["acceptances"]:
            if number >= line.seq or number in self._not_events:
                raise Fault("acceptance", f"acceptance {number} is not the number of an event")
        self.acceptances = tuple(line.data["acceptances"])
        self._anchor = (line.seq, line.raw)
        self._to_close = list(self.people)
        self.phase = "closing"

    def _close_sig(self, line: Line) -> Vouched:
        name = line.data["name"]
        if name not in self._to_close:
            raise Fault("order", f"{name} owes no closing signature")
        vouched = _vouched(line, self.due_close(name))
        self._to_close = [other for other in self._to_close if other != name]
        self.last_vouched = max(self.last_vouched, vouched.due.line)
        if not self._to_close:
            self.phase = "closed"
        return vouched


def _check_new(people: dict[str, Person], newcomer: Person) -> None:
    for other in people.values():
        if other.name == newcomer.name:
            raise Fault("roster", f"{newcomer.name} is on the roster twice")
        if other.key == newcomer.key:
            raise Fault("roster", f"{newcomer.name} and {other.name} have one key")


def _vouched(line: Line, due: Due) -> Vouched:
    if line.data["line"] != due.line:
        raise Fault("order", f"{due.name} must sign line {due.line}, not {line.data['line']}")
    return Vouched(due, canonical.base64_bytes(line.data["sig"]))


_STEPS = {
    "open": Course._open,
    "open-sig": Course._open_sig,
    "event": Course._event,
    "resume": Course._resume,
    "resume-sig": Course._resume_sig,
    "attach": Course._attach,
    "close": Course._close,
    "close-sig": Course._close_sig,
}
