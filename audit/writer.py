"""Appending to a log: each line signed by a key of its own, durable before anybody is told.

Rules: the order is check, sign, append, count, sync, answer. A line that format 1 would refuse is
never written (`Fault`, `NotNow`); after one failed write or sync nothing more is (`LogLost`): no
sync is tried twice, nothing is written past a hole. A one-time key is made at most one line ahead
(`ahead.py`), never exported, and dropped when its line is durable.
"""

import os
import secrets
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from audit import FORMAT, canonical, durable, line, sshsig
from audit.ahead import Ahead
from audit.course import Course, Due
from audit.errors import Fault, FolderError, LogLost, NotNow, SignatureOwed
from audit.folder import LogFolder
from audit.hardening import no_core_dumps
from audit.people import Signer
from audit.recovery import Recovered
from audit.stamps import Stamp, check_stamp, wall_text


class Written(NamedTuple):
    """The last durable line, and whether nothing can follow it."""

    line: line.Line
    closed: bool


class Entry(NamedTuple):
    """A durable line: its number, its head (SHA-256, hexadecimal), its bytes with LF."""

    seq: int
    head: str
    line_bytes: bytes


def new_run_id(stamp: Stamp) -> str:
    """A name for a run: its UTC minute and second for people, six digits against doubles."""
    digits = "".join(part for part in wall_text(stamp.wall_ms) if part.isdigit())
    return f"{digits[:8]}-{digits[8:14]}-{secrets.token_hex(3)}"


class LogWriter:
    """The one writer of a run. Made by `create` or `resume`."""

    def __init__(self, folder: LogFolder, run: str, course: Course) -> None:
        self.folder = folder
        self.run = run
        self._course = course
        self._fd = -1
        self._length = 0
        self._key: Ed25519PrivateKey | None = None
        self._ahead = Ahead()
        self._lost: str | None = None
        # Set as one, and only when the line is on the disk: another thread may ask at any moment.
        self._written: Written

    @classmethod
    def create(
        cls,
        folder: LogFolder,
        opening: Mapping[str, Any],
        signers: Sequence[Signer],
        stamp: Stamp,
        *,
        run: str | None = None,
    ) -> "LogWriter":
        """Start a run: write `open` and the `open-sig` of everybody on the roster.

        `opening` gives `modes`, `roster` (role and name of each person, `key` may be left out),
        `documents`, `lexicon`, `rules`, and optionally `carried` and `checkpoint`; the rest is
        filled in here. `signers` are the roster's people in roster order. A run left open before
        is thereby left for good.

        Raises `Fault` or `NotNow` for an opening that format 1 does not allow, `KeyFileError` if
        somebody cannot sign (nothing then remains of the run), `LogLost` if the disk refuses.
        """
        folder.need_lock()
        no_core_dumps()
        known = {"modes", "roster", "documents", "lexicon", "rules", "carried", "checkpoint"}
        surplus = opening.keys() - known
        if surplus:
            raise Fault("shape", f"opening has {', '.join(sorted(surplus))}, which is filled in")
        runs = folder.runs()
        data: dict[str, Any] = {
            "carried": {},
            "checkpoint": None,
            **opening,
            "device": folder.device,
            "format": FORMAT,
            "prev_run": runs[-1].run if runs else None,
            "roster": _roster(opening.get("roster"), signers),
            "run": run or new_run_id(stamp),
            "run_seq": runs[-1].run_seq + 1 if runs else 1,
        }
        writer = cls(folder, data["run"], Course())
        path = folder.path_of(data["run"])
        if path.exists():
            raise FolderError(f"{path}: there is such a run already")
        key0 = Ed25519PrivateKey.generate()
        data["key0"] = canonical.base64_text(key0.public_key().public_bytes_raw())
        canonical.check(data)
        writer._course.head = runs[-1].head if runs else folder.device
        first, following = writer._line("open", data, stamp, key0)
        # everybody signs before there is a file: who cannot sign leaves no run behind
        signatures = [
            (due.name, due, _signature(signer, due))
            for signer in signers
            for due in [writer._course.due_open(signer.name)]
        ]
        try:
            durable.write_new(path, first.raw)
            writer._fd = durable.open_append(path)
        except OSError as error:
            raise LogLost(f"{path}: the run could not be started: {_why(error)}") from None
        writer._length = len(first.raw)
        writer._written = Written(first, closed=False)
        writer._key = following
        for name, due, blob in signatures:
            writer._append("open-sig", _signature_data(name, due, blob), stamp)
        return writer

    @classmethod
    def resume(cls, recovered: Recovered, stamp: Stamp, gap_ms: int | None) -> "LogWriter":
        """Go on with a run that `recovery.recover` has read: move what was torn aside, then append
        `resume`. `gap_ms` is the time since its last line, `None` where it is not certain.

        Everybody on the roster then owes a signature (`sign_resume`), or, after `close`, whoever
        still owes a closing signature gives it for the resume too.
        """
        folder = recovered.folder
        folder.need_lock()
        no_core_dumps()
        check_stamp(stamp)
        residue = recovered.move_residue_aside()
        writer = cls(folder, recovered.run, recovered.course.copy())
        try:
            writer._fd = durable.open_append(recovered.path)
        except OSError as error:
            raise LogLost(f"{recovered.path}: cannot be written: {_why(error)}") from None
        writer._length = recovered.length
        key0 = Ed25519PrivateKey.generate()
        data = {
            "gap": gap_ms,
            "head": recovered.head,
            "key0": canonical.base64_text(key0.public_key().public_bytes_raw()),
            "line": recovered.last_seq,
            "residue": residue,
        }
        writer._key = key0
        writer._append("resume", data, stamp)
        return writer

    @property
    def seq(self) -> int:
        """The number of the last durable line."""
        return self._course.seq

    @property
    def head(self) -> str:
        """The SHA-256 of the last durable line, in hexadecimal."""
        return self._course.head

    @property
    def written(self) -> Written:
        """The last durable line itself; a line that is being written is not it yet."""
        return self._written

    @property
    def opening(self) -> Mapping[str, Any]:
        """The data of the `open` line."""
        return self._course.opening

    @property
    def phase(self) -> str:
        """`running`, `closing` (signatures owed) or `closed`."""
        return self._course.phase

    @property
    def lost(self) -> str | None:
        """Why nothing more is appended; `None` while the log is being kept."""
        return self._lost

    def event(self, data: Mapping[str, Any], stamp: Stamp) -> Entry:
        """Append an event; returns when it is durable.

        `data`: `event` (object), `outcome` (list), `state` (64 hexadecimal digits), and optionally
        `heard` (at most 200 characters) and `crew_change` (`role`, `name`, `key` as
        `ssh-ed25519 AAAA…` of the newcomer). Raises `Fault` (nothing written, go on) or `LogLost`.
        """
        return self._append("event", dict(data), stamp)

    def attach(self, name: str, length: int, sha256: str, stamp: Stamp) -> Entry:
        """Name a file that lies beside the log as evidence."""
        return self._append("attach", {"length": length, "name": name, "sha256": sha256}, stamp)

    def owed(self) -> tuple[str, ...]:
        """Who owes a signature now: for a resume while running, for the closing after `close`."""
        if self._course.phase == "running":
            return self._course.owes_resume()
        return self._course.owes_close()

    def signs_close(self) -> tuple[str, ...]:
        """Who signs the closing and has not yet: everybody ever on the roster."""
        return self._course.owes_close()

    def sign_resume(self, signer: Signer, stamp: Stamp) -> list[Entry]:
        """Have somebody vouch for every resume that they owe a signature for, oldest first."""
        lines = self._course.due_resumes(signer.name)
        if not lines:
            raise NotNow(f"{signer.name} owes no resume signature")
        return [
            self._sign("resume-sig", signer, self._course.due_resume(signer.name, number), stamp)
            for number in lines
        ]

    def close(self, acceptances: Sequence[int], signers: Sequence[Signer], stamp: Stamp) -> Entry:
        """Append `close`, then the closing signature of each of `signers`; the last line written.

        `acceptances` are the line numbers of everything the commander accepted, ascending. Who is
        not among `signers` goes on owing (`owed`) and may sign by `sign_close`, now or after a
        later `resume`. Raises `SignatureOwed` while a resume is not vouched for.
        """
        if self._course.phase == "running" and self._course.owes_resume():
            raise SignatureOwed(self._course.owes_resume())
        self.folder.release_room()
        data = {"acceptances": list(acceptances), "count": self.seq + 1}
        entry = self._append("close", data, stamp)
        for signer in signers:
            entry = self.sign_close(signer, stamp)
        return entry

    def sign_close(self, signer: Signer, stamp: Stamp) -> Entry:
        """Append the closing signature of somebody who owes it."""
        if self._course.phase != "closing" or signer.name not in self._course.owes_close():
            raise NotNow(f"{signer.name} owes no closing signature")
        return self._sign("close-sig", signer, self._course.due_close(signer.name), stamp)

    def give_up(self, why: str) -> None:
        """Append nothing more (a write that came too late); the log stays as it is."""
        if self._lost is None:
            self._lost = why
        self._drop()

    def stop(self) -> None:
        """Let the file go. An open run stays open and can be resumed."""
        self.give_up("this writer was stopped")

    def _sign(self, type: str, signer: Signer, due: Due, stamp: Stamp) -> Entry:
        return self._append(type, _signature_data(due.name, due, _signature(signer, due)), stamp)

    def _line(
        self, type: str, data: dict[str, Any], stamp: Stamp, key: Ed25519PrivateKey
    ) -> tuple[line.Line, Ed25519PrivateKey | None]:
        """Build the next line and take it into the course; the line and the key of the one after"""
        check_stamp(stamp)
        following = None if self._course.next_is_empty(type) else self._ahead.take()
        built = line.build(
            key,
            seq=self._course.seq + 1,
            type=type,
            data=data,
            stamp=stamp,
            prev=self._course.head,
            next=""
            if following is None
            else canonical.base64_text(following.public_key().public_bytes_raw()),
        )
        self._course.advance(built)
        return built, following

    def _append(self, type: str, data: dict[str, Any], stamp: Stamp) -> Entry:
        if self._lost is not None or self._key is None:
            raise LogLost(f"nothing more is recorded: {self._lost or 'the log is closed'}")
        canonical.check(data)
        built, following = self._line(type, data, stamp, self._key)
        try:
            there = os.fstat(self._fd)
            if there.st_size != self._length or there.st_nlink == 0:
                raise OSError(None, "the file was changed or removed by somebody else")
            self._write(built.raw)
        except OSError as error:
            self._lost = _why(error)
            self._drop()
            raise LogLost(f"recording lost at line {built.seq}: {self._lost}") from None
        self._length += len(built.raw)
        self._written = Written(built, self._course.phase == "closed")
        self._key = following
        if following is None:
            self._drop()
        return Entry(built.seq, built.head, built.raw)

    def _write(self, raw: bytes) -> None:
        try:
            durable.write_all(self._fd, raw)
        except OSError:
            self._cut_back()
            raise
        self._ahead.begin()
        durable.sync(self._fd)

    def _cut_back(self) -> None:
        # a part of a line that nobody was told of: without it the log reads unclosed, not torn
        try:
            if os.fstat(self._fd).st_size > self._length:
                os.ftruncate(self._fd, self._length)
        except OSError:
            return

    def _drop(self) -> None:
        self._key = None
        self._ahead.stop()
        if self._fd >= 0:
            os.close(self._fd)
            self._fd = -1


def _why(error: OSError) -> str:
    return error.strerror or str(error)


def _roster(entries: Any, signers: Sequence[Signer]) -> list[dict[str, Any]]:
    people: list[dict[str, Any]] = [dict(entry) for entry in entries or ()]
    if [entry.get("name") for entry in people] != [signer.name for signer in signers]:
        raise NotNow(
            "the opening must be signed by everybody on the roster, in its order: "
            f"{', '.join(str(entry.get('name')) for entry in people) or 'nobody'}; signers are "
            f"{', '.join(signer.name for signer in signers) or 'nobody'}"
        )
    for entry, signer in zip(people, signers, strict=True):
        entry.setdefault("key", sshsig.public_line(signer.key))
    return people


def _signature(signer: Signer, due: Due) -> bytes:
    """The signer's blob, checked: a wrong one must not reach the log."""
    if signer.key != due.key:
        raise NotNow(f"{signer.name} is on the roster with another key")
    blob = signer.sign(due.namespace, due.message)
    sshsig.verify(blob, due.key, due.namespace, due.message)
    return blob


def _signature_data(name: str, due: Due, blob: bytes) -> dict[str, Any]:
    return {"line": due.line, "name": name, "sig": canonical.base64_text(blob)}
