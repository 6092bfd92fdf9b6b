"""One line of an OpenSSH allowed_signers file: read strictly, written in one spelling.

Rules: what `ssh-keygen` would not take is not taken here, and a fault says at which column and what
is allowed there; a line of another kind of key is passed over, a line that is not understood never.
A revoked key's comment has `revoked=YYYYMMDDHHMMSSZ`, and its `valid-before` is no
later, so that `ssh-keygen` refuses what is signed after it too.
"""

import difflib
import re
from datetime import UTC, datetime
from typing import NamedTuple

from audit import canonical, sshsig
from audit.errors import Fault

DEMONSTRATION = "demonstration@latchword-v1"

_SPACE = re.compile(r"[ \t]*")
_PRINCIPALS = re.compile(r'(?:"(?P<quoted>[^"\\]+)"|(?P<plain>[^\s"\\]+))(?=[ \t]|$)')
_OPTIONS = re.compile(r'(?:[^\s"\\]|"[^"\\]*")+(?=[ \t]|$)')
_WORD = re.compile(r"\S+")
_OPTION = re.compile(r'(?P<name>[A-Za-z-]+)(?:="(?P<value>[^"]*)")?(?:,(?=[A-Za-z])|$)')
_TIME = re.compile(r"[0-9]{8}(?:[0-9]{4}(?:[0-9]{2})?)?Z?")
_DATE = re.compile(r"(\d{4})-(\d{2})-(\d{2})(?:T(\d{2}):(\d{2})(?::(\d{2}))?Z)?")
_KNOWN = ("cert-authority", "namespaces", "valid-after", "valid-before")
_FORM = '"NAME" [options] ssh-ed25519 AAAA…'


class BadLine(Fault):
    """A line that cannot be understood; `column` counts from 1."""

    def __init__(self, at: int, why: str) -> None:
        super().__init__("trust", why)
        self.column = at + 1


class Allowed(NamedTuple):
    """One line: patterns of principals, key (32 bytes), namespaces (`None`: all), times in ms."""

    principals: str
    key: bytes
    namespaces: str | None
    valid_after_ms: int | None
    valid_before_ms: int | None
    revoked_ms: int | None = None

    @property
    def demonstration(self) -> bool:
        """True when the line is marked as a demonstration key."""
        return DEMONSTRATION in self.principals.split(",")

    @property
    def names(self) -> str:
        """The principals without the mark of a demonstration."""
        return ",".join(part for part in self.principals.split(",") if part != DEMONSTRATION)


def parse(row: str) -> Allowed | None:
    """A line without its line feed; `None` for a comment, an empty line, another kind of key."""
    at = _skip(row, 0)
    if at == len(row) or row[at] == "#":
        return None
    found = _PRINCIPALS.match(row, at)
    if not found:
        raise BadLine(at, f"a line reads {_FORM}; quotation marks stand around the whole name")
    principals = found["quoted"] or found["plain"]
    at = _skip(row, found.end())
    options: dict[str, str] = {}
    if not _is_key_type(row[at:]):
        word = _OPTIONS.match(row, at)
        if not word:
            raise BadLine(at, f"a line reads {_FORM}; a quotation mark must end before a space")
        options = _options(word[0], at)
        at = _skip(row, word.end())
    kind, at = _next(row, at, "the kind of key")
    if not _is_key_type(kind):
        raise BadLine(at, f"{kind[:40]!r} is no kind of key; ssh-ed25519 signs logs")
    after_kind = _skip(row, at + len(kind))
    if kind != "ssh-ed25519" or "cert-authority" in options:
        # other kinds of key never sign a log; a person may keep them in the same file
        return None
    text, at = _next(row, after_kind, "the key")
    try:
        key = sshsig.parse_key_blob(canonical.base64_bytes(text))
    except Fault as fault:
        raise BadLine(at, f"the key of {principals}: {fault.why}") from None
    at = _skip(row, at + len(text))
    return Allowed(
        principals,
        key,
        options.get("namespaces"),
        _bound(options.get("valid-after")),
        _bound(options.get("valid-before")),
        _revoked(row, at),
    )


def line(
    principals: str,
    key: bytes,
    *,
    valid_after: str | None = None,
    valid_before: str | None = None,
    namespaces: str | None = ",".join(sshsig.NAMESPACES),
    comment: str = "",
) -> str:
    """A line with its line feed; times read YYYYMMDD[HHMM[SS]]Z, `namespaces` `None` is all."""
    options = [] if namespaces is None else [f'namespaces="{namespaces}"']
    for option, text in (("valid-after", valid_after), ("valid-before", valid_before)):
        if text is not None:
            time_ms(text)
            options.append(f'{option}="{text}"')
    words = [f'"{principals}"', ",".join(options), sshsig.public_line(key, comment)]
    return " ".join(word for word in words if word) + "\n"


def time_ms(text: str) -> int:
    """Milliseconds of a time as the file has it, YYYYMMDD[HHMM[SS]][Z]; raises `Fault`."""
    if not _TIME.fullmatch(text):
        raise Fault("trust", f"time {text!r} is not YYYYMMDD[HHMM[SS]][Z]")
    digits = text.removesuffix("Z").ljust(14, "0")
    try:
        moment = datetime.strptime(f"{digits}+0000", "%Y%m%d%H%M%S%z")
        if not text.endswith("Z"):
            # without Z it is local time, as ssh-keygen has it
            moment = moment.replace(tzinfo=None).astimezone()
        return int(moment.timestamp()) * 1000
    except (ValueError, OverflowError, OSError):
        raise Fault("trust", f"time {text!r} does not exist") from None


def time_text(ms: int) -> str:
    """The time in the file's form, UTC, to the second before."""
    return datetime.fromtimestamp(ms // 1000, UTC).strftime("%Y%m%d%H%M%SZ")


def date_text(text: str, *, end: bool = False) -> str:
    """The file's form of a date that a person wrote: 2026-11-24, 2026-11-24T21:50Z, or that form.

    UTC. A day alone is its first second, with `end` its last. Raises `Fault`.
    """
    found = _DATE.fullmatch(text)
    if found:
        year, month, day, hour, minute, second = found.groups()
        clock = f"{hour}{minute}{second or '00'}" if hour else "235959" if end else "000000"
        text = f"{year}{month}{day}{clock}Z"
    elif not (_TIME.fullmatch(text) and text.endswith("Z")):
        raise Fault(
            "trust",
            f"date {text[:40]!r}: allowed: 2026-11-24, 2026-11-24T21:50Z, 20261124Z; UTC",
        )
    time_ms(text)
    return text


def _skip(row: str, at: int) -> int:
    found = _SPACE.match(row, at)
    return found.end() if found else at


def _next(row: str, at: int, what: str) -> tuple[str, int]:
    found = _WORD.match(row, at)
    if not found:
        raise BadLine(at, f"{what} is missing; a line reads {_FORM}")
    return found[0], at


def _is_key_type(word: str) -> bool:
    return word.startswith(("ssh-", "ecdsa-", "sk-"))


def _options(word: str, start: int) -> dict[str, str]:
    options: dict[str, str] = {}
    at = 0
    while at < len(word):
        found = _OPTION.match(word, at)
        name = found["name"].lower() if found else ""
        if not found or name not in _KNOWN or name in options:
            close = difflib.get_close_matches(name or word[at:], _KNOWN, 1)
            hint = f"; nearest: {close[0]}" if close and name not in options else ""
            raise BadLine(
                start + at,
                f"options {word[at : at + 60]!r}; allowed are {', '.join(_KNOWN)}, once each{hint}",
            )
        if (found["value"] is None) != (name == "cert-authority"):
            wanted = name if name == "cert-authority" else f'{name}="…"'
            raise BadLine(start + at, f"{name} is written {wanted}")
        value = found["value"] or ""
        if name.startswith("valid-"):
            try:
                time_ms(value)
            except Fault as fault:
                raise BadLine(start + at, fault.why) from None
        options[name] = value
        at = found.end()
    return options


def _bound(text: str | None) -> int | None:
    return None if text is None else time_ms(text)


def _revoked(row: str, start: int) -> int | None:
    """The earliest `revoked=` of a comment; a comment that begins as one must be one."""
    found = []
    for word in _WORD.finditer(row, start):
        first = word.start() == start and word[0].lower().startswith("revoked")
        if not (first or word[0].startswith("revoked=")):
            continue
        text = word[0].removeprefix("revoked=")
        try:
            if not text.endswith("Z"):
                raise Fault("trust", f"{word[0][:40]!r}")
            found.append(time_ms(text))
        except Fault as fault:
            why = f"{fault.why}; a revoked key's comment reads revoked=YYYYMMDDHHMMSSZ"
            raise BadLine(word.start(), why) from None
    return min(found, default=None)
