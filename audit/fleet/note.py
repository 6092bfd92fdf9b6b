"""Signed notes (C2SP signed-note): a text and Ed25519 signatures under it, by named keys.

Rules: only signature type 1, Ed25519; a key is written `NAME+ID+KEY`, its ID being the first four
bytes of SHA-256 over name, LF, 1 and the key; a signature by an unknown key is passed over, one by
a known key that does not fit refuses the whole note. Weak keys are refused. What does not hold is
a `FleetError`.
"""

import hashlib
from collections.abc import Callable, Iterable
from typing import NamedTuple

from audit import canonical, curve
from audit.errors import Fault, FleetError

_ED25519 = b"\x01"
_DASH = "\N{EM DASH} "
MOST_SIGNATURES = 64


class Verifier(NamedTuple):
    """A key that notes may be signed with: `key` is the Ed25519 public key (32 bytes)."""

    name: str
    key: bytes

    @property
    def id(self) -> bytes:
        """The four bytes that name the key beside its name."""
        data = self.name.encode("utf-8") + b"\n" + _ED25519 + self.key
        return hashlib.sha256(data).digest()[:4]

    @property
    def text(self) -> str:
        """`NAME+ID+KEY`, as it is handed to whoever checks notes."""
        return f"{self.name}+{self.id.hex()}+{canonical.base64_text(_ED25519 + self.key)}"


def parse_verifier(text: str) -> Verifier:
    """The key in `NAME+ID+KEY`; raises `FleetError` for any other thing."""
    parts = text.strip().split("+", 2)
    if len(parts) != 3:
        raise FleetError(f"{text.strip()!r} is no key of notes: NAME+ID+KEY")
    name, id_text, key_text = parts
    check_name(name)
    try:
        raw = canonical.base64_bytes(key_text, 33)
        curve.check_public_key(raw[1:])
    except Fault as fault:
        raise FleetError(f"the key of notes of {name}: {fault.why}") from None
    if raw[:1] != _ED25519:
        raise FleetError(f"the key of notes of {name} is not of type 1, Ed25519")
    verifier = Verifier(name, raw[1:])
    if id_text != verifier.id.hex():
        raise FleetError(
            f"the key of notes of {name} has the ID {verifier.id.hex()}, not {id_text}"
        )
    return verifier


def check_name(name: str) -> None:
    """Raise `FleetError` for what cannot name a key: empty, a space, a plus, a control."""
    if not name or "+" in name or any(c.isspace() or not c.isprintable() for c in name):
        raise FleetError(f"{name!r} names no key: no spaces, no plus, not empty")


def sign(text: str, verifier: Verifier, signature: Callable[[bytes], bytes]) -> str:
    """The note of a text; `signature` gives the bare Ed25519 signature (64 bytes) of its bytes."""
    _check_text(text)
    message = text.encode("utf-8")
    value = signature(message)
    if not curve.verifies(verifier.key, value, message):
        raise FleetError(f"the signature made does not fit the key of {verifier.name}")
    return f"{text}\n{_DASH}{verifier.name} {canonical.base64_text(verifier.id + value)}\n"


def split(note: str) -> tuple[str, list[tuple[str, bytes]]]:
    """The text of a note and its signatures, `(name, ID and signature)`; nothing is verified."""
    text, gap, rest = note.rpartition("\n\n")
    if not gap or not rest.endswith("\n"):
        raise FleetError("this is no signed note: a text, an empty line, signatures")
    text += "\n"
    _check_text(text)
    rows = rest[:-1].split("\n")
    if len(rows) > MOST_SIGNATURES:
        raise FleetError(f"a note with more than {MOST_SIGNATURES} signatures")
    signatures = []
    for row in rows:
        name, space, value = row.removeprefix(_DASH).partition(" ")
        if not row.startswith(_DASH) or not space:
            raise FleetError("a signature of a note reads: dash, name, base64")
        check_name(name)
        try:
            raw = canonical.base64_bytes(value)
        except Fault as fault:
            raise FleetError(f"the signature of {name}: {fault.why}") from None
        if len(raw) <= 4:
            raise FleetError(f"the signature of {name} is too short")
        signatures.append((name, raw))
    return text, signatures


def open_note(note: str, known: Iterable[Verifier]) -> tuple[str, list[str]]:
    """The text of a note and the names of the known keys that signed it, at least one."""
    text, signatures = split(note)
    keys = {(verifier.name, verifier.id): verifier for verifier in known}
    signed: list[str] = []
    for name, raw in signatures:
        verifier = keys.get((name, raw[:4]))
        if verifier is None:
            continue
        if len(raw) != 68 or not curve.verifies(verifier.key, raw[4:], text.encode("utf-8")):
            raise FleetError(f"the signature of {name} does not fit the note")
        if name not in signed:
            signed.append(name)
    if not signed:
        names = ", ".join(sorted({name for name, _ in signatures}))
        raise FleetError(f"the note is signed by no known key, but by {names}")
    return text, signed


def _check_text(text: str) -> None:
    if not text.endswith("\n") or any(c < " " and c != "\n" for c in text):
        raise FleetError("the text of a note ends with LF and has no other control character")
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        raise FleetError("the text of a note is not UTF-8") from None
