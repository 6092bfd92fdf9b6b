"""Whose signatures count: an OpenSSH allowed_signers file.

Rules: a principal equals a person's name; a line counts for its namespaces and between its dates,
as in `ssh-keygen -Y verify -O verify-time=…`; a line that this reader does not understand is an
error, never skipped. A key made for demonstrations carries the principal
`demonstration@latchword-v1` beside its name.
"""

import os
import re
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from audit import canonical, durable, sshsig
from audit.errors import Fault, TrustError

DEMONSTRATION = "demonstration@latchword-v1"
_WORD = re.compile(r'(?:[^\s"]|"(?:[^"\\]|\\.)*")+')
_OPTION = re.compile(r'(?P<name>[A-Za-z-]+)(?:="(?P<value>[^"]*)")?(?:,|$)')
_TIME = re.compile(r"[0-9]{8}(?:[0-9]{4}(?:[0-9]{2})?)?Z?")


class Allowed(NamedTuple):
    """One line: patterns of principals, key (32 bytes), namespaces (`None`: all), times in ms."""

    principals: str
    key: bytes
    namespaces: str | None
    valid_after_ms: int | None
    valid_before_ms: int | None

    @property
    def demonstration(self) -> bool:
        """True when the line is marked as a demonstration key."""
        return DEMONSTRATION in self.principals.split(",")


class Trust:
    """The lines of an allowed_signers file."""

    def __init__(self, lines: Iterable[Allowed] = ()) -> None:
        self.lines = tuple(lines)

    @classmethod
    def read(cls, path: Path) -> "Trust":
        """Read a file; raises `TrustError` naming the line that is not understood."""
        try:
            text = path.read_text("utf-8")
        except OSError as error:
            raise TrustError(f"{path}: cannot be read: {os.strerror(error.errno or 0)}") from None
        except UnicodeDecodeError:
            raise TrustError(f"{path}: is not UTF-8 text") from None
        lines = []
        for number, row in enumerate(text.split("\n"), 1):
            if row.strip() and not row.lstrip().startswith("#"):
                try:
                    allowed = _parse(row.strip())
                except Fault as fault:
                    raise TrustError(f"{path}, line {number}: {fault.why}") from None
                if allowed is not None:
                    lines.append(allowed)
        return cls(lines)

    def find(self, name: str, key: bytes, namespace: str, at_ms: int) -> Allowed | None:
        """The first line that lets `name` sign in `namespace` with `key` at a time (UTC, ms)."""
        for line in self.lines:
            if (
                line.key == key
                and _matches(line.principals, name)
                and (line.namespaces is None or _matches(line.namespaces, namespace))
                and (line.valid_after_ms is None or at_ms >= line.valid_after_ms)
                and (line.valid_before_ms is None or at_ms <= line.valid_before_ms)
            ):
                return line
        return None


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


def _parse(row: str) -> Allowed | None:
    words = _WORD.findall(row)
    if len(words) < 3:
        raise Fault("trust", 'a line reads: "NAME" [options] ssh-ed25519 AAAA…')
    principals = words[0].strip('"')
    options: dict[str, str] = {}
    at = 1
    if not _is_key_type(words[1]):
        options = _options(words[1])
        at = 2
    if at + 1 >= len(words):
        raise Fault("trust", "the key is missing")
    if words[at] != "ssh-ed25519" or "cert-authority" in options:
        if _is_key_type(words[at]):
            # other kinds of key never sign a log; a person may keep them in the same file
            return None
        raise Fault("trust", f"{words[at]!r} is no kind of key")
    try:
        key = sshsig.parse_key_blob(canonical.base64_bytes(words[at + 1]))
    except Fault as fault:
        raise Fault("trust", f"the key of {principals}: {fault.why}") from None
    after, before = options.get("valid-after"), options.get("valid-before")
    return Allowed(
        principals,
        key,
        options.get("namespaces"),
        None if after is None else _time(after),
        None if before is None else _time(before),
    )


def _is_key_type(word: str) -> bool:
    return word.startswith(("ssh-", "ecdsa-", "sk-"))


def _options(word: str) -> dict[str, str]:
    known = {"namespaces", "valid-after", "valid-before", "cert-authority"}
    options: dict[str, str] = {}
    at = 0
    while at < len(word):
        found = _OPTION.match(word, at)
        if not found or found["name"].lower() not in known or found["name"].lower() in options:
            raise Fault(
                "trust", f"options {word[at:]!r}; allowed are {', '.join(sorted(known))}, once each"
            )
        name = found["name"].lower()
        if (found["value"] is None) != (name == "cert-authority"):
            raise Fault("trust", f'{name} is written {name}="…"')
        options[name] = found["value"] or ""
        at = found.end()
    return options


def _time(text: str) -> int:
    if not _TIME.fullmatch(text):
        raise Fault("trust", f"time {text!r} is not YYYYMMDD[HHMM[SS]][Z]")
    digits = text.removesuffix("Z").ljust(14, "0")
    try:
        moment = datetime.strptime(f"{digits}+0000", "%Y%m%d%H%M%S%z")
        if not text.endswith("Z"):
            # without Z it is local time, as ssh-keygen has it
            moment = moment.replace(tzinfo=None).astimezone()
    except (ValueError, OverflowError):
        raise Fault("trust", f"time {text!r} does not exist") from None
    return int(moment.timestamp()) * 1000


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
    options = [f'namespaces="{",".join(sshsig.NAMESPACES)}"']
    for option, text in (("valid-after", valid_after), ("valid-before", valid_before)):
        if text is not None:
            _time(text)
            options.append(f'{option}="{text}"')
    return f'"{principals}" {",".join(options)} {sshsig.public_line(key)}\n'


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

    `public_line` is `ssh-ed25519 AAAA… comment`. Raises `TrustError` for a weak or foreign key, a
    name that cannot be a principal, a time that does not exist, a file that cannot be written.
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
    except Fault as fault:
        raise TrustError(f"{name} is not trusted: {fault.why}") from None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        there = path.read_bytes() if path.exists() else b""
        if row.encode("utf-8") in there.splitlines(keepends=True):
            return False
        if there and not there.endswith(b"\n"):
            row = "\n" + row
        if there:
            fd = durable.open_append(path)
        else:
            path.unlink(missing_ok=True)
            fd = durable.create(path, 0o644)
        try:
            durable.write_all(fd, row.encode("utf-8"))
            durable.sync(fd)
        finally:
            os.close(fd)
    except OSError as error:
        raise TrustError(f"{path}: cannot be written: {os.strerror(error.errno or 0)}") from None
    return True
