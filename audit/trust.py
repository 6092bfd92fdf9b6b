"""Whose signatures count: an OpenSSH allowed_signers file.

Rules: a principal equals a person's name; a line counts for its namespaces and between its dates,
as in `ssh-keygen -Y verify -O verify-time=…`; a line that this reader does not understand is an
error, never skipped. A key made for demonstrations carries the principal
`demonstration@latchword-v1` beside its name. A revoked key counts for nothing after its date, and
before it only for what a witness outside the machine knew before: its holder can set any clock.
"""

import difflib
import os
import re
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from audit import allowed, durable, sshsig
from audit.allowed import DEMONSTRATION, Allowed, BadLine
from audit.errors import Fault, TrustError

if TYPE_CHECKING:
    from audit.fleet.named import Named

__all__ = [
    "DEMONSTRATION", "Allowed", "Trust", "Witnessed", "allowed_line", "revoke_key", "trust_key",
]  # fmt: skip

_MOST_FAULTS = 20


class Witnessed(NamedTuple):
    """A head (SHA-256 of a line, hexadecimal) that a witness outside the machine knew at a time."""

    head: str
    at_ms: int


class Trust:
    """The lines of an allowed_signers file, the heads that witnesses knew, and the fleet's
    checkpoints that whoever verifies has named."""

    def __init__(
        self,
        lines: Iterable[Allowed] = (),
        witnessed: Iterable[Witnessed] = (),
        fleet: Iterable["Named"] = (),
    ) -> None:
        self.fleet = tuple(fleet)
        found = tuple(lines)
        revoked: dict[bytes, int] = {}
        for line in found:
            if line.revoked_ms is not None:
                revoked[line.key] = min(line.revoked_ms, revoked.get(line.key, line.revoked_ms))
        # a key that is revoked in one line is revoked in all: it has one holder
        self.lines = tuple(line._replace(revoked_ms=revoked.get(line.key)) for line in found)
        self._witnessed: dict[str, int] = {}
        for one in witnessed:
            self._witnessed[one.head] = min(one.at_ms, self._witnessed.get(one.head, one.at_ms))

    @classmethod
    def read(
        cls,
        path: Path,
        witnessed: Iterable[Witnessed] = (),
        fleet: Iterable["Named"] = (),
    ) -> "Trust":
        """Read a file; raises `TrustError` naming every line that is not understood, where and why.

        `witnessed`: heads from checkpoints, receipts or an index, with the times of those.
        """
        lines, faults = [], []
        for number, row in enumerate(_rows(path), 1):
            try:
                line = allowed.parse(row)
            except BadLine as fault:
                faults.append(f"{path}, line {number}, column {fault.column}: {fault.why}")
            else:
                lines += [] if line is None else [line]
        if len(faults) > _MOST_FAULTS:
            more = len(faults) - _MOST_FAULTS
            faults = [*faults[:_MOST_FAULTS], f"{path}: and {more} more lines"]
        if faults:
            raise TrustError("\n".join(faults))
        return cls(lines, witnessed, fleet)

    def find(
        self, name: str, key: bytes, namespace: str, at_ms: int, *, witnessed_ms: int | None = None
    ) -> Allowed | None:
        """The first line that lets `name` sign in `namespace` with `key` at a time (UTC, ms).

        A revoked key needs `witnessed_ms`, when a witness knew what it signed, before the
        revocation: without it no line of that key is found.
        """
        for line in self.lines:
            if (
                line.key == key
                and _matches(line.principals, name)
                and (line.namespaces is None or _matches(line.namespaces, namespace))
                and (line.valid_after_ms is None or at_ms >= line.valid_after_ms)
                and (line.valid_before_ms is None or at_ms <= line.valid_before_ms)
                and (line.revoked_ms is None or at_ms <= line.revoked_ms)
                and (
                    line.revoked_ms is None
                    or (witnessed_ms is not None and witnessed_ms < line.revoked_ms)
                )
            ):
                return line
        return None

    def revoked_ms(self, key: bytes) -> int | None:
        """When a key was revoked."""
        return next((line.revoked_ms for line in self.lines if line.key == key), None)

    def witnessed_ms(self, head: str) -> int | None:
        """When a witness first knew a head."""
        return self._witnessed.get(head)


def _rows(path: Path) -> list[str]:
    try:
        return path.read_text("utf-8").split("\n")
    except OSError as error:
        raise TrustError(f"{path}: cannot be read: {os.strerror(error.errno or 0)}") from None
    except UnicodeDecodeError as error:
        raise TrustError(f"{path}, byte {error.start}: is not UTF-8 text") from None


def _matches(patterns: str, text: str) -> bool:
    # a pattern list of ssh_config(5): * and ?, a comma between, ! before what must not match
    matched = False
    for pattern in patterns.split(","):
        negated = pattern.startswith("!")
        wanted = re.escape(pattern.removeprefix("!")).replace(r"\*", ".*").replace(r"\?", ".")
        if re.fullmatch(wanted, text, re.DOTALL):
            if negated:
                return False
            matched = True
    return matched


def allowed_line(
    name: str,
    key: bytes,
    *,
    valid_after: str | None = None,
    valid_before: str | None = None,
    demonstration: bool = False,
) -> str:
    """The line that trusts `name` with `key` (32 bytes) in the namespaces of format 1.

    Times read YYYYMMDD[HHMM[SS]]Z.
    """
    principals = f"{name},{DEMONSTRATION}" if demonstration else name
    return allowed.line(principals, key, valid_after=valid_after, valid_before=valid_before)


def trust_key(
    path: Path,
    name: str,
    public_line: str,
    *,
    valid_after: str | None = None,
    valid_before: str | None = None,
    demonstration: bool = False,
) -> bool:
    """Add a line to an allowed_signers file (made if missing); False if it stands there already.

    `public_line` is `ssh-ed25519 AAAA… comment`. Raises `TrustError` for a weak, foreign or revoked
    key, a name that cannot be a principal, a time that does not exist, dates that leave no time
    between them, a file that cannot be written.
    """
    try:
        sshsig.check_name(name)
        key, _ = sshsig.parse_public_line(public_line)
        row = allowed_line(
            name,
            key,
            valid_after=valid_after,
            valid_before=valid_before,
            demonstration=demonstration,
        )
        if valid_after and valid_before:
            if allowed.time_ms(valid_after) >= allowed.time_ms(valid_before):
                raise Fault("trust", f"{valid_after} is not before {valid_before}")
    except Fault as fault:
        raise TrustError(f"{name} is not trusted: {fault.why}") from None
    public = sshsig.public_line(key).encode("ascii")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        there = path.read_bytes() if path.exists() else b""
        if re.search(re.escape(public) + rb"[^\n]*\srevoked=", there):
            raise TrustError(
                f"{name} is not trusted: {path} says that {sshsig.fingerprint(key)} is revoked; "
                "a revoked key never comes back, make another"
            )
        if row.encode("utf-8") in there.splitlines(keepends=True):
            return False
        if there and not there.endswith(b"\n"):
            row = "\n" + row
        durable.extend(path, row.encode("utf-8"))
    except OSError as error:
        raise TrustError(f"{path}: cannot be written: {os.strerror(error.errno or 0)}") from None
    return True


def revoke_key(path: Path, which: str, at: str) -> list[Allowed]:
    """Revoke a person's keys, or the key of a fingerprint `SHA256:…`, at a time.

    `at` reads YYYYMMDD[HHMM[SS]]Z. Every line of the key is dated, in a new file that takes the
    old one's place whole. An earlier revocation stands. The lines, as they read now; raises
    `TrustError` where there is no such key, or a line of the file is not understood.
    """
    try:
        at_ms = allowed.time_ms(at)
    except Fault as fault:
        raise TrustError(f"{which} is not revoked: {fault.why}") from None
    trust = Trust.read(path)
    keys = {
        line.key
        for line in trust.lines
        if which in (sshsig.fingerprint(line.key), *line.names.split(","))
    }
    if not keys:
        known = [text for one in trust.lines for text in (one.names, sshsig.fingerprint(one.key))]
        close = difflib.get_close_matches(which, known, 1)
        raise TrustError(
            f"{path}: no key of {which!r} is there; known are: {', '.join(known) or 'none'}"
            + (f"; nearest: {close[0]}" if close else "")
        )
    rows = _rows(path)
    changed = []
    for number, row in enumerate(rows):
        line = allowed.parse(row)
        if line is not None and line.key in keys:
            before = trust.revoked_ms(line.key)
            line = line._replace(revoked_ms=at_ms if before is None else min(at_ms, before))
            rows[number] = _revoked_row(row, line)
            changed += [now for now in [allowed.parse(rows[number])] if now is not None]
    _exchange(path.resolve(), "\n".join(rows).encode("utf-8"))
    return changed


def _revoked_row(row: str, line: Allowed) -> str:
    end = line.revoked_ms or 0
    if line.valid_before_ms is not None:
        end = min(end, line.valid_before_ms)
    words = row.partition(sshsig.public_line(line.key).split()[1])[2].split()
    comment = [word for word in words if not word.startswith("revoked=")]
    after = line.valid_after_ms
    return allowed.line(
        line.principals,
        line.key,
        valid_after=None if after is None else allowed.time_text(after),
        valid_before=allowed.time_text(end),
        namespaces=line.namespaces,
        comment=" ".join([f"revoked={allowed.time_text(line.revoked_ms or 0)}", *comment]),
    ).rstrip("\n")


def _exchange(path: Path, content: bytes) -> None:
    new = path.with_name(path.name + ".new")
    try:
        durable.write_new(new, content, 0o644)
        new.replace(path)
        durable.sync_folder(path.parent)
    except OSError as error:
        raise TrustError(f"{path}: cannot be written: {os.strerror(error.errno or 0)}") from None
